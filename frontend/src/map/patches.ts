// Patches of turf that somebody drew for a trim.
import Feature from "ol/Feature.js";
import MultiPolygon from "ol/geom/MultiPolygon.js";
import VectorLayer from "ol/layer/Vector.js";
import VectorSource from "ol/source/Vector.js";
import type { Ring } from "./outline.ts";

export interface Patch {
  readonly polygons: readonly (readonly Ring[])[];
  readonly words?: string;
}

export interface PatchesDocument {
  readonly patches: readonly Patch[];
}

export function patchFeature(patch: Patch): Feature {
  const rings = patch.polygons.map((polygon) => polygon.map((ring) => ring.map(([x, y]) => [x, y])));
  const feature = new Feature(new MultiPolygon(rings));
  feature.set("label", patch.words ?? "", true);
  return feature;
}

export function patchLayer(zIndex: number): VectorLayer<VectorSource> {
  return new VectorLayer({ source: new VectorSource(), zIndex });
}
