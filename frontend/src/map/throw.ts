// The ground a head wets, as a ring of places.
import type { Place } from "./documents.ts";

const FULL_CIRCLE_DEG = 360;
const STEP_DEG = 10;

/** A place at a distance and a bearing (degrees clockwise from north) from another. */
export function placeAt(x: number, y: number, distance_m: number, bearing_deg: number): Place {
  const bearing = (bearing_deg * Math.PI) / 180;
  return [x + distance_m * Math.sin(bearing), y + distance_m * Math.cos(bearing)];
}

/**
 * Closed ring of a head's throw: a circle, or a wedge around its bearing.
 *
 * Unknown arc counts as a full circle; a part circle without a bearing cannot be drawn
 * and gives an empty ring, like an unknown throw.
 */
export function throwRing(
  x: number,
  y: number,
  throw_m: number | null,
  arc_deg: number | null,
  bearing_deg: number | null,
): Place[] {
  const arc = arc_deg ?? FULL_CIRCLE_DEG;
  if (throw_m === null || throw_m <= 0) return [];
  if (arc < FULL_CIRCLE_DEG && bearing_deg === null) return [];
  const steps = Math.max(2, Math.ceil(arc / STEP_DEG));
  const first = (bearing_deg ?? 0) - arc / 2;
  const rim = Array.from({ length: steps + 1 }, (_, step) =>
    placeAt(x, y, throw_m, first + (arc * step) / steps),
  );
  const start = rim[0] as Place;
  if (arc >= FULL_CIRCLE_DEG) return [...rim.slice(0, -1), start];
  return [[x, y], ...rim, [x, y]];
}

/** Smallest box around places, as [left, bottom, right, top]; null for none. */
export function boxAround(places: readonly Place[]): [number, number, number, number] | null {
  if (places.length === 0) return null;
  const xs = places.map(([x]) => x);
  const ys = places.map(([, y]) => y);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}
