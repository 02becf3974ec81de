// The map library behind a few plain methods; the only module that makes a map.
import type Feature from "ol/Feature.js";
import OpenLayers from "ol/Map.js";
import View from "ol/View.js";
import { defaults as defaultControls } from "ol/control/defaults.js";
import ScaleLine from "ol/control/ScaleLine.js";
import { isEmpty } from "ol/extent.js";
import { defaults as defaultInteractions } from "ol/interaction/defaults.js";
import VectorLayer from "ol/layer/Vector.js";
import Projection from "ol/proj/Projection.js";
import VectorSource from "ol/source/Vector.js";
import type { GroundDocument } from "./documents.ts";
import * as make from "./features.ts";
import type { MapStyles } from "./styles.ts";

type Layer = VectorLayer<VectorSource>;
const MARGIN_PX = 24;
const CLOSE_M_PER_PX = 0.35;
const HIT_PX = 6;

const layerOf = (features: Feature[], zIndex: number): Layer =>
  new VectorLayer({ source: new VectorSource({ features }), zIndex, updateWhileAnimating: true });

export class MapView {
  readonly #map: OpenLayers;
  readonly #layers: Readonly<Record<"area" | "reach" | "pipe" | "hole" | "point" | "head", Layer>>;
  readonly #chosen: Layer = layerOf([], 9);

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
      interactions: defaultInteractions({ onFocusOnly: true, altShiftDragRotate: false, pinchRotate: false }),
      view: new View({ projection: new Projection({ code: "course", units: "m" }), minResolution: 0.05, showFullExtent: true }),
    });
    this.showAll();
  }

  showAll(): void {
    const extent = this.#layers.area.getSource()?.getExtent();
    const heads = this.#layers.head.getSource()?.getExtent();
    const whole = extent && !isEmpty(extent) ? extent : heads;
    if (whole && !isEmpty(whole)) this.#map.getView().fit(whole, { padding: Array(4).fill(MARGIN_PX) });
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

  close(): void {
    this.#map.setTarget(undefined);
    this.#map.dispose();
  }
}
