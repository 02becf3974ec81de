// Spots in attributes and addresses, and areas that let the turf show: no map library.
import { NOTHING_SHOWN, type GroundDocument, type Place, type Shown } from "./documents.ts";

/** Areas as outlines alone, so that the picture beneath shows. */
export function outlined(ground: GroundDocument): Shown {
  return { ...NOTHING_SHOWN, areas: Object.fromEntries(ground.areas.map((area) => [area.id, "bare"])) };
}

/** The place in an attribute "x,y", or null. */
export function placeFrom(text: string | null): Place | null {
  const parts = (text ?? "").split(",");
  const [x = NaN, y = NaN] = parts.map((part) => (part.trim() === "" ? NaN : Number(part)));
  return Number.isFinite(x) && Number.isFinite(y) ? [x, y] : null;
}

/** The page's address that asks about a place, to the tenth of a metre. */
export function askedAt(address: string, base: string, [x, y]: Place): string {
  const asked = new URL(address, base);
  asked.searchParams.set("x", x.toFixed(1));
  asked.searchParams.set("y", y.toFixed(1));
  return asked.href;
}
