// One tool at work on the map: starts it, stops it, and passes on what was done.
import Feature from "ol/Feature.js";
import type MapBrowserEvent from "ol/MapBrowserEvent.js";
import LineString from "ol/geom/LineString.js";
import Point from "ol/geom/Point.js";
import Draw from "ol/interaction/Draw.js";
import type Interaction from "ol/interaction/Interaction.js";
import VectorLayer from "ol/layer/Vector.js";
import VectorSource from "ol/source/Vector.js";
import type Style from "ol/style/Style.js";
import { parted } from "../edit/operations.ts";
import type { ToolName } from "../edit/tools.ts";
import type { Place } from "./documents.ts";
import { atSamePlace, fannedPlaces } from "./fan.ts";
import type { MapStyles } from "./styles.ts";
import * as tools from "./tools.ts";
import type { MapView } from "./view.ts";

const FAN_PX = 34;

/** A click: on what, where, and whether more should be chosen. */
export interface Click {
  readonly subject: string | null;
  readonly place: Place;
  readonly more: boolean;
}

const STARTED: Partial<Record<ToolName, (around: tools.Around) => Interaction[]>> = {
  "box": tools.boxTool,
  "lasso": tools.lassoTool,
  "move": tools.moveTool,
  "turn": tools.turnTool,
  "reshape": tools.reshapeTool,
  "split": (around) => tools.drawTool(around, "LineString"),
  "place-along": (around) => tools.drawTool(around, "LineString"),
  "draw-area": (around) => tools.drawTool(around, "Polygon"),
  "draw-head": (around) => tools.drawTool(around, "Point"),
};
const CLICKED: ReadonlySet<ToolName> = new Set(["select", "spot", "assign", "copy-arc"]);

export class Editing {
  readonly #view: MapView;
  readonly #sketch = new VectorSource();
  readonly #ghosts = new VectorSource();
  readonly #fan = new VectorSource();
  readonly #layers: VectorLayer<VectorSource>[];
  #running: Interaction[] = [];
  #tool: ToolName = "select";
  #style: Style | undefined;

  constructor(view: MapView, clicked: (click: Click) => void) {
    this.#view = view;
    this.#layers = [this.#sketch, this.#ghosts, this.#fan].map((source, place) => new VectorLayer({ source, zIndex: 20 + place }));
    for (const layer of this.#layers) view.map.addLayer(layer);
    view.map.on("click", (event) => this.#clicked(event, clicked));
    view.map.getView().on("change:resolution", () => this.#fan.clear());
  }

  restyle(styles: MapStyles): void {
    this.#style = styles.sketch();
    for (const layer of this.#layers.slice(0, 2)) layer.setStyle(this.#style);
    this.#layers[2]?.setStyle(styles.fanned);
  }

  /** Start a tool anew; what it was drawing is given up. */
  use(tool: ToolName, selection: readonly string[], tell: (done: tools.Done) => void): void {
    for (const one of this.#running) this.#view.map.removeInteraction(one);
    this.#sketch.clear();
    if (tool !== this.#tool) this.#fan.clear();
    this.#tool = tool;
    this.#running = STARTED[tool]?.({ view: this.#view, selection, sketch: this.#sketch, ghosts: this.#ghosts, style: this.#style, tell }) ?? [];
    for (const one of this.#running) this.#view.map.addInteraction(one);
  }

  /** The server has answered: the map itself shows what was done, or it was not done. */
  answered(): void {
    this.#ghosts.clear();
  }

  get #draw(): Draw | undefined {
    return this.#running.find((one) => one instanceof Draw);
  }

  finish(): void {
    this.#draw?.finishDrawing();
  }

  takeLastPointBack(): void {
    this.#draw?.removeLastPoint();
  }

  abort(): void {
    this.#draw?.abortDrawing();
    this.#fan.clear();
  }

  #clicked(event: MapBrowserEvent, told: (click: Click) => void): void {
    if (!CLICKED.has(this.#tool)) return;
    const place = event.coordinate as unknown as Place;
    const hit = this.#tool === "spot" ? undefined : this.#view.featureAt(event.pixel);
    const subject = (hit?.get("subject") as string | undefined) ?? null;
    if (subject && !hit?.get("fanned") && this.#fanOut(subject)) return;
    this.#fan.clear();
    told({ subject, place, more: event.originalEvent.shiftKey || event.originalEvent.ctrlKey });
  }

  /** Spread heads that stand at one place; whether there were several. */
  #fanOut(subject: string): boolean {
    const [table, id] = parted(subject);
    const head = table === "heads" ? this.#view.ground.heads.find((one) => one.id === id) : undefined;
    const resolution = this.#view.map.getView().getResolution() ?? 1;
    const heads = head ? atSamePlace(head, this.#view.ground.heads, resolution) : [];
    if (!head || heads.length < 2) return false;
    const places = fannedPlaces(head.x, head.y, heads.length, FAN_PX * resolution);
    this.#fan.clear();
    heads.forEach((one, at) => this.#addToFan(one, places[at] as Place));
    return true;
  }

  #addToFan(head: { id: string; label: string; x: number; y: number }, place: Place): void {
    const dot = new Feature(new Point([...place]));
    dot.setProperties({ subject: `heads:${head.id}`, label: head.label, fanned: true });
    this.#fan.addFeatures([new Feature(new LineString([[head.x, head.y], [...place]])), dot]);
  }
}
