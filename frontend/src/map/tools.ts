// The editing tools as interactions of the map library. Each tells what was done in plain values.
import Feature from "ol/Feature.js";
import type MapBrowserEvent from "ol/MapBrowserEvent.js";
import { altKeyOnly, never, primaryAction, singleClick, touchOnly } from "ol/events/condition.js";
import GeoJSON from "ol/format/GeoJSON.js";
import type Geometry from "ol/geom/Geometry.js";
import LineString from "ol/geom/LineString.js";
import Point from "ol/geom/Point.js";
import Polygon from "ol/geom/Polygon.js";
import DragBox from "ol/interaction/DragBox.js";
import Draw from "ol/interaction/Draw.js";
import type Interaction from "ol/interaction/Interaction.js";
import Modify from "ol/interaction/Modify.js";
import PointerInteraction from "ol/interaction/Pointer.js";
import Snap from "ol/interaction/Snap.js";
import Collection from "ol/Collection.js";
import type VectorSource from "ol/source/Vector.js";
import type Style from "ol/style/Style.js";
import type { Geometry as Drawn } from "../edit/operations.ts";
import { parted } from "../edit/operations.ts";
import type { Place } from "./documents.ts";
import { bearingTo } from "./fan.ts";
import { placeAt, throwRing } from "./throw.ts";
import { STILL_PX, type LayerName, type MapView } from "./view.ts";

export type Done =
  | { readonly is: "chosen"; readonly subjects: readonly string[]; readonly more: boolean }
  | { readonly is: "moved"; readonly subjects: readonly string[]; readonly dx_m: number; readonly dy_m: number }
  | { readonly is: "turned"; readonly bearing_deg: number }
  | { readonly is: "reshaped"; readonly subject: string; readonly geometry: Drawn }
  | { readonly is: "drawn"; readonly geometry: Drawn };

/** What a tool is given: the map, what is chosen, a place to draw on, and whom to tell. */
export interface Around {
  readonly view: MapView;
  readonly selection: readonly string[];
  readonly sketch: VectorSource;
  /** What was done stays in sight here until the server has answered. */
  readonly ghosts: VectorSource;
  readonly style: Style | undefined;
  readonly tell: (done: Done) => void;
}

const SNAP_PX = 12;
const TAP_PX = STILL_PX + SNAP_PX; // a finger that shook a little, and a corner that caught it
const GRAB_PX = 22;
const HANDLE_M = 12; // where the throw is unknown
const format = new GeoJSON();
const plain = (geometry: Geometry): Drawn => format.writeGeometryObject(geometry) as unknown as Drawn;

const drawnIn = ({ style }: Around): { style?: Style } => (style ? { style } : {});

/** Snaps only what no other layer has caught, or a corner would hop from one layer's shape to the next. */
class LayerSnap extends Snap {
  readonly #caught: WeakSet<object>;
  #idle = false;

  constructor(source: VectorSource, caught: WeakSet<object>) {
    super({ source, pixelTolerance: SNAP_PX });
    this.#caught = caught;
  }

  override handleEvent(event: MapBrowserEvent): boolean {
    this.#idle = this.#caught.has(event);
    const before = event.pixel;
    const goes = super.handleEvent(event);
    if (event.pixel !== before) this.#caught.add(event);
    return goes;
  }

  override snapTo(...given: Parameters<Snap["snapTo"]>): ReturnType<Snap["snapTo"]> {
    return this.#idle ? null : super.snapTo(...given);
  }
}

/** Corners and edges that draw the pointer to them; the last layer has the first choice. */
export function snaps(view: MapView, layers: readonly LayerName[]): Interaction[] {
  const caught = new WeakSet<object>();
  return layers.map((layer) => new LayerSnap(view.source(layer), caught));
}

/** Everything that touches a shape, of the layers where single things are chosen. */
function within(view: MapView, shape: Polygon): string[] {
  const found = (["head", "pipe", "point", "area"] as const).map((layer) => {
    const near = view.source(layer).getFeaturesInExtent(shape.getExtent());
    return near.filter((feature) => isIn(shape, feature.getGeometry())).map((feature) => String(feature.get("subject")));
  });
  return found.find((subjects) => subjects.length > 0) ?? []; // heads first: a box over a green means its heads
}

function isIn(shape: Polygon, geometry: Geometry | undefined): boolean {
  if (geometry instanceof Point) return shape.intersectsCoordinate(geometry.getCoordinates());
  const extent = geometry?.getExtent();
  const corners = extent ? [[extent[0], extent[1]], [extent[2], extent[1]], [extent[2], extent[3]], [extent[0], extent[3]]] : [];
  return corners.length > 0 && corners.every((corner) => shape.intersectsCoordinate(corner as number[]));
}

export function boxTool(around: Around): Interaction[] {
  const box = new DragBox({ className: "choice-box", condition: primaryAction });
  box.on("boxend", (event) => {
    around.tell({ is: "chosen", subjects: within(around.view, box.getGeometry()), more: event.mapBrowserEvent?.originalEvent.shiftKey ?? false });
  });
  return [box];
}

export function lassoTool(around: Around): Interaction[] {
  const draw = new Draw({ type: "Polygon", freehand: true, ...drawnIn(around) });
  draw.on("drawend", (event) => {
    around.tell({ is: "chosen", subjects: within(around.view, event.feature.getGeometry() as Polygon), more: false });
  });
  return [draw];
}

/** Draws a line, area or point, snapping to what is there. */
export function drawTool(around: Around, type: "LineString" | "Polygon" | "Point"): Interaction[] {
  const draw = new Draw({ type, stopClick: true, clickTolerance: TAP_PX, freehandCondition: never, ...drawnIn(around) });
  draw.on("drawend", ({ feature }) => {
    around.ghosts.addFeature(feature);
    around.tell({ is: "drawn", geometry: plain(feature.getGeometry() as Geometry) });
  });
  return [draw, ...snaps(around.view, ["area", "pipe", "hole", "head"])];
}

class MoveDrag extends PointerInteraction {
  readonly #around: Around;
  #ghosts: Feature[] = [];
  #subjects: readonly string[] = [];
  #from: number[] = [];
  #last: number[] = [];

  constructor(around: Around) {
    super();
    this.#around = around;
  }

  override handleDownEvent(event: MapBrowserEvent): boolean {
    const { view, selection, ghosts } = this.#around;
    const hit = view.featureAt(event.pixel);
    const subject = hit?.get("subject") as string | undefined;
    if (!hit || !subject) return false;
    this.#subjects = selection.includes(subject) ? selection : [subject];
    this.#ghosts = this.#subjects.flatMap((one) => view.features(one).map((feature) => new Feature(feature.getGeometry()?.clone())));
    ghosts.addFeatures(this.#ghosts);
    const at = hit.getGeometry();
    this.#from = at instanceof Point ? at.getCoordinates() : event.coordinate;
    this.#last = this.#from;
    return true;
  }

  override handleDragEvent(event: MapBrowserEvent): void {
    const [dx, dy] = [event.coordinate[0]! - this.#last[0]!, event.coordinate[1]! - this.#last[1]!];
    for (const ghost of this.#ghosts) ghost.getGeometry()?.translate(dx, dy);
    this.#last = event.coordinate;
  }

  override handleUpEvent(): boolean {
    const [dx_m, dy_m] = [this.#last[0]! - this.#from[0]!, this.#last[1]! - this.#from[1]!];
    const resolution = this.getMap()?.getView().getResolution() ?? 1;
    const { tell } = this.#around;
    if (Math.hypot(dx_m, dy_m) < 2 * resolution) {
      this.#around.ghosts.removeFeatures(this.#ghosts);
      tell({ is: "chosen", subjects: this.#subjects, more: false });
    } else tell({ is: "moved", subjects: this.#subjects, dx_m: rounded(dx_m), dy_m: rounded(dy_m) });
    return false;
  }
}

const rounded = (length_m: number): number => Math.round(length_m * 1000) / 1000;

/** Drags what is chosen, or the thing under the pointer; a single point snaps to edges. */
export function moveTool(around: Around): Interaction[] {
  return [new MoveDrag(around), ...snaps(around.view, ["area", "pipe", "hole"])];
}

class TurnDrag extends PointerInteraction {
  readonly #around: Around;
  #bearing_deg: number;

  constructor(around: Around) {
    super();
    this.#around = around;
    this.#bearing_deg = this.#head?.bearing_deg ?? 0;
    this.#show();
  }

  get #head() {
    const [, id] = parted(this.#around.selection[0] ?? "");
    return this.#around.view.ground.heads.find((head) => head.id === id);
  }

  get #handle(): Place {
    const head = this.#head;
    return head ? placeAt(head.x, head.y, head.throw_m ?? HANDLE_M, this.#bearing_deg) : [0, 0];
  }

  #show(): void {
    const [head, { sketch }] = [this.#head, this.#around];
    sketch.clear();
    if (!head) return;
    const ring = throwRing(head.x, head.y, head.throw_m ?? HANDLE_M, head.arc_deg, this.#bearing_deg);
    const [handle, middle] = [[...this.#handle], [head.x, head.y]];
    sketch.addFeatures([new Polygon([ring.map((one) => [...one])]), new LineString([middle, handle]), new Point(handle)].map((one) => new Feature(one)));
  }

  override handleDownEvent(event: MapBrowserEvent): boolean {
    const [x, y] = this.getMap()?.getPixelFromCoordinate([...this.#handle]) ?? [0, 0];
    return Math.hypot(event.pixel[0]! - x!, event.pixel[1]! - y!) <= GRAB_PX;
  }

  override handleDragEvent(event: MapBrowserEvent): void {
    const head = this.#head;
    if (!head) return;
    this.#bearing_deg = bearingTo([head.x, head.y], event.coordinate as unknown as Place);
    this.#show();
  }

  override handleUpEvent(): boolean {
    this.#around.tell({ is: "turned", bearing_deg: this.#bearing_deg });
    return false;
  }
}

/** A handle at the middle of the chosen head's sector. */
export function turnTool(around: Around): Interaction[] {
  return [new TurnDrag(around)];
}

/** Corners of one chosen shape; on a touch screen a tap on a corner takes it away. */
export function reshapeTool(around: Around): Interaction[] {
  const [subject = ""] = around.selection;
  const [feature] = around.view.features(subject);
  const shape = feature?.getGeometry()?.clone();
  if (!shape) return [];
  const sketched = new Feature(shape);
  around.sketch.addFeature(sketched);
  const modify = new Modify({
    features: new Collection([sketched]),
    pixelTolerance: SNAP_PX,
    ...drawnIn(around),
    deleteCondition: (event) => singleClick(event) && (altKeyOnly(event) || touchOnly(event)),
  });
  modify.on("modifyend", () => around.tell({ is: "reshaped", subject, geometry: plain(shape) }));
  return [modify, ...snaps(around.view, ["area", "pipe", "hole"])];
}
