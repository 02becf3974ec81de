// Pictures as layers of the map library: beneath the areas, and by themselves for picking.
import Feature from "ol/Feature.js";
import Point from "ol/geom/Point.js";
import TileLayer from "ol/layer/Tile.js";
import VectorLayer from "ol/layer/Vector.js";
import type Projection from "ol/proj/Projection.js";
import VectorSource from "ol/source/Vector.js";
import XYZ from "ol/source/XYZ.js";
import CircleStyle from "ol/style/Circle.js";
import Fill from "ol/style/Fill.js";
import Stroke from "ol/style/Stroke.js";
import Style from "ol/style/Style.js";
import Text from "ol/style/Text.js";
import TileGrid from "ol/tilegrid/TileGrid.js";
import type { Place, PictureDocument } from "./documents.ts";
import type { Palette } from "./palette.ts";

function filled(address: string, parts: Readonly<Record<string, number>>): string {
  return address.replace(/\{(\w+)\}/g, (whole, name: string) => String(parts[name] ?? whole));
}

/** A placed picture as a layer; the server has drawn it in the course's metres. */
export function pictureLayer(picture: PictureDocument, projection: Projection): TileLayer {
  const tileGrid = new TileGrid({
    extent: [...picture.extent_m],
    origin: [...picture.origin_m],
    resolutions: [...picture.resolutions_m],
    tileSize: picture.tile_px,
  });
  const source = new XYZ({
    projection,
    tileGrid,
    wrapX: false,
    tileUrlFunction: ([z = 0, x = 0, y = 0]) => filled(picture.address, { z, x, y }),
  });
  return new TileLayer({ source, extent: [...picture.extent_m], zIndex: 0 });
}

/** What a picture is by itself: its rows grow downwards, so y is minus the row. */
export interface PlainPicture {
  readonly address: string;
  readonly width: number;
  readonly height: number;
  readonly levels: number;
  readonly tile: number;
}

export function plainLayer(picture: PlainPicture, projection: Projection): TileLayer {
  const extent = [0, -picture.height, picture.width, 0];
  const resolutions = Array.from({ length: picture.levels }, (_, z) => 2 ** (picture.levels - 1 - z));
  const sizes = resolutions.map((each) => [Math.ceil(picture.width / (each * picture.tile)), Math.ceil(picture.height / (each * picture.tile))]);
  const source = new XYZ({
    projection,
    tileGrid: new TileGrid({ origin: [0, 0], resolutions, tileSize: picture.tile, sizes }),
    wrapX: false,
    tileUrlFunction: ([z = 0, x = 0, y = 0]) => filled(picture.address, { level: picture.levels - 1 - z, x, y }),
  });
  return new TileLayer({ source, extent });
}

const marked = (place: Place, index: number): Feature => {
  const feature = new Feature(new Point([...place]));
  feature.set("number", String(index + 1), true);
  return feature;
};

/** Numbered marks; `show` exchanges them. */
export function marksLayer(colour: Palette): { layer: VectorLayer; show: (places: readonly Place[]) => void } {
  const source = new VectorSource();
  const style = (feature: { get: (name: string) => unknown }): Style =>
    new Style({
      image: new CircleStyle({ radius: 5, fill: new Fill({ color: colour("chosen") }), stroke: new Stroke({ color: colour("halo"), width: 2 }) }),
      text: new Text({
        text: String(feature.get("number")),
        offsetY: -15,
        font: "bold 15px system-ui, sans-serif",
        fill: new Fill({ color: colour("ink") }),
        stroke: new Stroke({ color: colour("halo"), width: 4 }),
      }),
    });
  const layer = new VectorLayer({ source, style: (feature) => style(feature), zIndex: 10 });
  const show = (places: readonly Place[]): void => {
    source.clear();
    source.addFeatures(places.map(marked));
  };
  return { layer, show };
}
