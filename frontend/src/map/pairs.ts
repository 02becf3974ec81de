// Control points as values: pairs of a pixel and a place, picked one side at a time.
import type { Place } from "./documents.ts";

export interface Pair {
  readonly pixel: Place;
  readonly place: Place;
}

export interface Picked {
  readonly pairs: readonly Pair[];
  /** What was chosen last and lacks its other half. */
  readonly pixel: Place | null;
  readonly place: Place | null;
}

const joined = (picked: Picked): Picked =>
  picked.pixel && picked.place
    ? { pairs: [...picked.pairs, { pixel: picked.pixel, place: picked.place }], pixel: null, place: null }
    : picked;

/** Choosing the same side again moves that half. */
export const withPixel = (picked: Picked, pixel: Place): Picked => joined({ ...picked, pixel });
export const withPlace = (picked: Picked, place: Place): Picked => joined({ ...picked, place });

/** "column,row,x,y;…" as the page's address has it; what is no pair is left out. */
export function pairsFrom(text: string): Pair[] {
  return text
    .split(";")
    .map((part) => part.split(",").map(Number))
    .filter((numbers) => numbers.length === 4 && numbers.every(Number.isFinite))
    .map(([column, row, x, y]) => ({ pixel: [column ?? 0, row ?? 0], place: [x ?? 0, y ?? 0] }));
}

export function pairsText(pairs: readonly Pair[]): string {
  return pairs.map(({ pixel, place }) => [...pixel, ...place].map((value) => value.toFixed(2)).join(",")).join(";");
}

/** What to do next, in words. */
export function nextStep(picked: Picked): string {
  const number = picked.pairs.length + 1;
  if (picked.pixel) return `Point ${number}: now the same spot on the map.`;
  if (picked.place) return `Point ${number}: now the same spot in the picture.`;
  return `Point ${number}: choose a spot in the picture, then the same spot on the map.`;
}
