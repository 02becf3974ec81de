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
import { NOTHING_GROUND, type GroundDocument, type PictureDocument, type Place } from "./documents.ts";
import * as make from "./features.ts";
import { pictureLayer, plainLayer, type PlainPicture } from "./pictures.ts";
import type { MapStyles } from "./styles.ts";

type Layer = VectorLayer<VectorSource>;
export type LayerName = "area" | "reach" | "pipe" | "point" | "head" | "hole";
const MARGIN_PX = 24;
const CLOSE_M_PER_PX = 0.35;
const HIT_PX = 6;
const LABELS = "labels"; // what shares this name gives way to each other, the higher layer first
const AREAS_OVER_A_PICTURE = 0.45;
const MARGIN = Array<number>(4).fill(MARGIN_PX);
const interactions = (): MapOptions["interactions"] & object =>
  defaultInteractions({ onFocusOnly: true, altShiftDragRotate: false, pinchRotate: false });

function onPlace(map: OpenLayers, told: (place: Place) => void): void {
  map.on("singleclick", ({ coordinate: [x = 0, y = 0] }) => told([x, y]));
}

const layerOf = (zIndex: number, source = new VectorSource(), declutter?: string): Layer =>
  new VectorLayer({ source, zIndex, updateWhileAnimating: true, ...(declutter ? { declutter } : {}) });

const MADE_FROM: readonly (readonly [LayerName, keyof GroundDocument, (ground: GroundDocument) => Feature[]])[] = [
  ["area", "areas", make.areaFeatures],
  ["reach", "heads", make.throwFeatures],
  ["pipe", "pipes", make.pipeFeatures],
  ["point", "points", make.pointFeatures],
  ["head", "heads", make.headFeatures],
  ["hole", "holes", make.holeFeatures],
];

export class MapView {
  readonly map: OpenLayers;
  readonly #layers: Readonly<Record<LayerName, Layer>> = {
    area: layerOf(1),
    reach: layerOf(2),
    pipe: layerOf(3),
    point: layerOf(5),
    head: layerOf(6),
    hole: layerOf(9, undefined, LABELS),
  };
  readonly #areaLabels = layerOf(8, this.source("area"), LABELS);
  readonly #headLabels = layerOf(7, this.source("head"), LABELS);
  readonly #chosen = layerOf(10);
  #ground: GroundDocument = NOTHING_GROUND;
  #bySubject = new Map<string, Feature[]>();
  readonly #projection = new Projection({ code: "course", units: "m" });
  readonly #pictures = new Map<string, TileLayer>();

  constructor(target: HTMLElement, ground: GroundDocument, units: "us" | "metric") {
    this.map = new OpenLayers({
      target,
      layers: [...Object.values(this.#layers), this.#areaLabels, this.#headLabels, this.#chosen],
      controls: defaultControls({ attribution: false, rotate: false }).extend([new ScaleLine({ units })]),
      interactions: interactions(),
      view: new View({ projection: this.#projection, minResolution: 0.05, showFullExtent: true }),
    });
    this.redraw(ground);
    this.showAll();
  }

  source(name: LayerName): VectorSource {
    return this.#layers[name].getSource() as VectorSource;
  }

  get ground(): GroundDocument {
    return this.#ground;
  }

  /** Draw another state of the ground; tables whose list is the same one are left alone. */
  redraw(ground: GroundDocument): void {
    for (const [name, table, featuresOf] of MADE_FROM) {
      if (ground[table] === this.#ground[table]) continue;
      this.source(name).clear(); // tells those that snap to it
      this.source(name).addFeatures(featuresOf(ground));
    }
    this.#ground = ground;
    this.#bySubject = new Map();
    for (const name of Object.keys(this.#layers) as LayerName[]) for (const feature of this.source(name).getFeatures()) this.#index(feature);
  }

  #index(feature: Feature): void {
    const station = feature.get("station") as string | null | undefined;
    const isHead = feature.get("subject") !== undefined;
    const keys = [feature.get("subject") as string | undefined, isHead && station ? `stations:${station}` : undefined];
    for (const key of keys) if (key) this.#bySubject.set(key, [...(this.#bySubject.get(key) ?? []), feature]);
  }

  showAll(): void {
    const [areas, heads] = [this.source("area").getExtent(), this.source("head").getExtent()];
    const whole = areas && !isEmpty(areas) ? areas : heads;
    if (whole && !isEmpty(whole)) this.map.getView().fit(whole, { padding: MARGIN });
  }

  restyle(styles: MapStyles): void {
    for (const [name] of MADE_FROM) this.#layers[name].setStyle(styles[name]);
    this.#areaLabels.setStyle(styles.areaLabel);
    this.#headLabels.setStyle(styles.headLabel);
    this.#chosen.setStyle(styles.chosen());
  }

  withPipes(visible: boolean): void {
    this.#layers.pipe.setVisible(visible);
    this.#layers.point.setVisible(visible);
  }

  withThrows(visible: boolean): void {
    this.#layers.reach.setVisible(visible);
  }

  /** Bring a place into sight, near enough to tell its heads apart. */
  goTo([x, y]: Place): void {
    this.map.getView().setCenter([x, y]);
    this.map.getView().setResolution(CLOSE_M_PER_PX);
  }

  features(subject: string): readonly Feature[] {
    return this.#bySubject.get(subject) ?? [];
  }

  /** Mark subjects; whether the map knows any of them. */
  mark(subjects: readonly string[]): boolean {
    const source = this.#chosen.getSource() as VectorSource;
    source.clear(true);
    source.addFeatures(subjects.flatMap((subject) => this.features(subject).map((feature) => feature.clone())));
    return source.getFeatures().length > 0;
  }

  /** Mark a subject and bring it into sight; whether the map knows it. */
  choose(subject: string): boolean {
    return this.mark([subject]) && this.showMarked();
  }

  showMarked(): boolean {
    const extent = this.#chosen.getSource()?.getExtent();
    if (!extent || isEmpty(extent)) return false;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.map.getView().fit(extent, { padding: Array(4).fill(4 * MARGIN_PX), minResolution: CLOSE_M_PER_PX, duration: still ? 0 : 350 });
    return true;
  }

  /** What stands on top at a pixel, of the things that have a subject. */
  featureAt(pixel: number[]): Feature | undefined {
    const found = this.map.forEachFeatureAtPixel(pixel, (feature) => (feature.get("subject") ? feature : undefined), {
      hitTolerance: HIT_PX,
      layerFilter: (layer) => ![this.#layers.reach, this.#chosen, this.#areaLabels, this.#headLabels].includes(layer as Layer),
    });
    return found as Feature | undefined;
  }

  /** Call with the subject under the pointer, or null; what stands on top comes first. */
  onPoint(kind: "pointermove" | "singleclick", told: (subject: string | null, station: string | null) => void): void {
    this.map.on(kind, (event) => {
      if (kind === "pointermove" && event.dragging) return;
      const hit = this.featureAt(event.pixel);
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
        this.map.addLayer(layer);
        if (!this.map.getView().getCenter()) this.map.getView().fit([...picture.extent_m], { padding: MARGIN });
      }
    }
    const covered = [...this.#pictures.values()].some((layer) => layer.getVisible()) && opacity > 0;
    this.#layers.area.setOpacity(covered ? AREAS_OVER_A_PICTURE : 1);
  }

  add(layer: BaseLayer): void {
    this.map.addLayer(layer);
  }

  onPlace(told: (place: Place) => void): void {
    onPlace(this.map, told);
  }

  close(): void {
    this.map.setTarget(undefined);
    this.map.dispose();
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
