// The turf's map as a layer, and the mark of a spot on it.
import Feature from "ol/Feature.js";
import Point from "ol/geom/Point.js";
import ImageLayer from "ol/layer/Image.js";
import VectorLayer from "ol/layer/Vector.js";
import ImageStatic from "ol/source/ImageStatic.js";
import VectorSource from "ol/source/Vector.js";
import CircleStyle from "ol/style/Circle.js";
import Stroke from "ol/style/Stroke.js";
import Style from "ol/style/Style.js";
import type { Place } from "./documents.ts";
import type { Palette } from "./palette.ts";

/** Where the turf's picture lies; no address where there is no turf. */
export interface TurfPicture {
  readonly address: string | null;
  readonly extent_m: readonly [left: number, bottom: number, right: number, top: number];
}

/** One pixel a cell, never blurred: a cell has the colour that the legend names. */
export function turfLayer(address: string, extent_m: TurfPicture["extent_m"]): ImageLayer<ImageStatic> {
  const source = new ImageStatic({ url: address, imageExtent: [...extent_m], interpolate: false });
  return new ImageLayer({ source, zIndex: 0 });
}

/** A ring with a light and a dark line, seen on every colour; `at` moves it. */
export class SpotMark {
  readonly layer: VectorLayer;
  readonly #source = new VectorSource();

  constructor(colour: Palette) {
    const ring = (width: number, name: string): Style => new Style({ image: new CircleStyle({ radius: 9, stroke: new Stroke({ color: colour(name), width }) }) });
    this.layer = new VectorLayer({ source: this.#source, style: [ring(6, "halo"), ring(2.5, "ink")], zIndex: 12 });
  }

  at(place: Place): void {
    this.#source.clear(true);
    this.#source.addFeature(new Feature(new Point([...place])));
  }
}
