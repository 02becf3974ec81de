// The map library behind a few plain methods; the only module that makes a map.
import type Feature from "ol/Feature.js";
import OpenLayers, { type MapOptions } from "ol/Map.js";
import View from "ol/View.js";
import { defaults as defaultControls } from "ol/control/defaults.js";
import ScaleLine from "ol/control/ScaleLine.js";
import { isEmpty } from "ol/extent.js";
import { defaults as defaultInteractions } from "ol/interaction/defaults.js";
import type BaseLayer from "ol/layer/Base.js";
import type TileLayer from "ol/layer/Tile.js";
import VectorLayer from "ol/layer/Vector.js";
import Projection from "ol/proj/Projection.js";
import VectorSource from "ol/source/Vector.js";
import type { GroundDocument, PictureDocument, Place } from "./documents.ts";
import * as make from "./features.ts";
import { pictureLayer, plainLayer, type PlainPicture } from "./pictures.ts";
import type { MapStyles } from "./styles.ts";

type Layer = VectorLayer<VectorSource>;
const MARGIN_PX = 24;
const CLOSE_M_PER_PX = 0.35;
const HIT_PX = 6;
const AREAS_OVER_A_PICTURE = 0.45;
const MARGIN = Array<number>(4).fill(MARGIN_PX);
const interactions = (): MapOptions["interactions"] & object =>
  defaultInteractions({ onFocusOnly: true, altShiftDragRotate: false, pinchRotate: false });

function onPlace(map: OpenLayers, told: (place: Place) => void): void {
  map.on("singleclick", ({ coordinate: [x = 0, y = 0] }) => told([x, y]));
}

const layerOf = (features: Feature[], zIndex: number): Layer =>
  new VectorLayer({ source: new VectorSource({ features }), zIndex, updateWhileAnimating: true });

export class MapView {
  readonly #map: OpenLayers;
  readonly #layers: Readonly<Record<"area" | "reach" | "pipe" | "hole" | "point" | "head", Layer>>;
  readonly #chosen: Layer = layerOf([], 9);
  readonly #projection = new Projection({ code: "course", units: "m" });
  readonly #pictures = new Map<string, TileLayer>();

  constructor(target: HTMLElement, ground: GroundDocument, units: "us" | "metric") {
    this.#layers = {
      area: layerOf(make.areaFeatures(ground), 1),
      reach: layerOf(make.throwFeatures(ground), 2),
      pipe: layerOf(make.pipeFeatures(ground), 3),
      hole: layerOf(make.holeFeatures(ground), 7),
      point: layerOf(make.pointFeatures(ground), 5),
      head: layerOf(make.headFeatures(ground), 6),
    };
    this.#map = new OpenLayers({
      target,
      layers: [...Object.values(this.#layers), this.#chosen],
      controls: defaultControls({ attribution: false, rotate: false }).extend([new ScaleLine({ units })]),
      interactions: interactions(),
      view: new View({ projection: this.#projection, minResolution: 0.05, showFullExtent: true }),
    });
    this.showAll();
  }

  showAll(): void {
    const extent = this.#layers.area.getSource()?.getExtent();
    const heads = this.#layers.head.getSource()?.getExtent();
    const whole = extent && !isEmpty(extent) ? extent : heads;
    if (whole && !isEmpty(whole)) this.#map.getView().fit(whole, { padding: MARGIN });
  }

  restyle(styles: MapStyles): void {
    for (const name of ["area", "reach", "pipe", "hole", "point", "head"] as const) {
      this.#layers[name].setStyle(styles[name]);
    }
    this.#chosen.setStyle(styles.chosen());
  }

  withPipes(visible: boolean): void {
    this.#layers.pipe.setVisible(visible);
    this.#layers.point.setVisible(visible);
  }

  #found(subject: string): Feature[] {
    const [table, id] = subject.split(":", 2);
    const by = table === "stations" ? "station" : "subject";
    const wanted = table === "stations" ? id : subject;
    const layers = table === "stations" ? [this.#layers.head] : Object.values(this.#layers);
    return layers.flatMap((layer) => layer.getSource()?.getFeatures().filter((feature) => feature.get(by) === wanted) ?? []);
  }

  /** Mark a subject and bring it into sight; whether the map knows it. */
  choose(subject: string): boolean {
    const source = this.#chosen.getSource();
    source?.clear();
    const found = this.#found(subject);
    source?.addFeatures(found.map((feature) => feature.clone()));
    const extent = source?.getExtent();
    if (!extent || isEmpty(extent)) return false;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.#map.getView().fit(extent, { padding: Array(4).fill(4 * MARGIN_PX), minResolution: CLOSE_M_PER_PX, duration: still ? 0 : 350 });
    return true;
  }

  /** Call with the subject under the pointer, or null; what stands on top comes first. */
  onPoint(kind: "pointermove" | "singleclick", told: (subject: string | null, station: string | null) => void): void {
    this.#map.on(kind, (event) => {
      if (kind === "pointermove" && event.dragging) return;
      const hit = this.#map.forEachFeatureAtPixel(event.pixel, (feature) => feature, {
        hitTolerance: HIT_PX,
        layerFilter: (layer) => layer !== this.#layers.reach && layer !== this.#chosen,
      });
      told((hit?.get("subject") as string) ?? null, (hit?.get("station") as string) ?? null);
    });
  }

  /** Lay pictures beneath the areas: those named, the others not. */
  showPictures(known: readonly PictureDocument[], wanted: readonly string[], opacity: number): void {
    for (const picture of known) {
      const layer = this.#pictures.get(picture.id) ?? pictureLayer(picture, this.#projection);
      layer.setVisible(wanted.includes(picture.id));
      layer.setOpacity(opacity);
      if (layer.getVisible() && !this.#pictures.has(picture.id)) {
        this.#pictures.set(picture.id, layer);
        this.#map.addLayer(layer);
        if (!this.#map.getView().getCenter()) this.#map.getView().fit([...picture.extent_m], { padding: MARGIN });
      }
    }
    const covered = [...this.#pictures.values()].some((layer) => layer.getVisible()) && opacity > 0;
    this.#layers.area.setOpacity(covered ? AREAS_OVER_A_PICTURE : 1);
  }

  add(layer: BaseLayer): void {
    this.#map.addLayer(layer);
  }

  onPlace(told: (place: Place) => void): void {
    onPlace(this.#map, told);
  }

  close(): void {
    this.#map.setTarget(undefined);
    this.#map.dispose();
  }
}

/** A picture by itself, in its own pixels. */
export class PictureView {
  readonly #map: OpenLayers;

  constructor(target: HTMLElement, picture: PlainPicture) {
    const projection = new Projection({ code: "picture", units: "pixels" });
    const view = new View({ projection, minResolution: 0.1, maxResolution: 2 ** picture.levels, showFullExtent: true });
    const controls = defaultControls({ attribution: false, rotate: false });
    this.#map = new OpenLayers({ target, layers: [plainLayer(picture, projection)], controls, interactions: interactions(), view });
    view.fit([0, -picture.height, picture.width, 0], { padding: MARGIN });
  }

  add(layer: BaseLayer): void {
    this.#map.addLayer(layer);
  }

  onPlace(told: (place: Place) => void): void {
    onPlace(this.#map, told);
  }

  close(): void {
    this.#map.setTarget(undefined);
    this.#map.dispose();
  }
}
