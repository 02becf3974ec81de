// A ring as the form takes it: "x y, x y, x y" in metres, without the closing corner.
export type Ring = readonly (readonly [x: number, y: number])[];

const CENTIMETRES = 2;

export function outlineText(ring: Ring): string {
  return ring
    .slice(0, -1)
    .map(([x, y]) => `${x.toFixed(CENTIMETRES)} ${y.toFixed(CENTIMETRES)}`)
    .join(", ");
}
