// Heads at the same place, spread out so that each can be pointed at.
import type { Place } from "./documents.ts";
import { placeAt } from "./throw.ts";

const SAME_PLACE_M = 0.3;
const SAME_PLACE_MOST_M = 1.5; // from afar whole rows touch; those are told apart by zooming
const TOUCHING_PX = 6;

/** Those of the heads that stand where one of them stands, or cover each other on the map, itself included. */
export function atSamePlace<T extends { readonly x: number; readonly y: number }>(one: T, heads: readonly T[], m_per_px: number): T[] {
  const within_m = Math.min(SAME_PLACE_MOST_M, Math.max(SAME_PLACE_M, TOUCHING_PX * m_per_px));
  return heads.filter((head) => Math.hypot(head.x - one.x, head.y - one.y) <= within_m);
}

/** Places on a circle, the first to the north; wider where there are many, so that they do not touch. */
export function fannedPlaces(x: number, y: number, count: number, radius_m: number): Place[] {
  const wide = Math.max(radius_m, (radius_m * count) / 6);
  return Array.from({ length: count }, (_, place) => placeAt(x, y, wide, (360 * place) / count));
}

/** Bearing in whole degrees, 0 to below 360 clockwise from north, from one place to another. */
export function bearingTo(from: Place, to: Place): number {
  const bearing = (Math.atan2(to[0] - from[0], to[1] - from[1]) * 180) / Math.PI;
  return Math.round((bearing + 360) % 360) % 360;
}
