// What is seen of an axis.

type Domain = [from: number, to: number];
const LEAST = 10;

/** A stretch of an axis zoomed about its middle and moved by a share of itself, kept within the whole. */
export function movedDomain(whole: Domain, seen: Domain, zoom: number, move: number): Domain {
  const all = whole[1] - whole[0];
  const width = Math.min(all, Math.max(Math.min(LEAST, all), (seen[1] - seen[0]) * zoom));
  const middle = (seen[0] + seen[1]) / 2 + move * (seen[1] - seen[0]);
  const from = Math.min(Math.max(whole[0], middle - width / 2), whole[1] - width);
  return [from, from + width];
}
