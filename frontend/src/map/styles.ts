// How things look on the map. Colours come from the page, marks are our own.
import type { FeatureLike } from "ol/Feature.js";
import CircleStyle from "ol/style/Circle.js";
import Fill from "ol/style/Fill.js";
import RegularShape from "ol/style/RegularShape.js";
import Stroke from "ol/style/Stroke.js";
import Style from "ol/style/Style.js";
import Text from "ol/style/Text.js";
import type { Shown } from "./documents.ts";
import { lighter, type Palette } from "./palette.ts";

type Styler = (feature: FeatureLike, resolution: number) => Style | Style[] | undefined;
const GROUND_KINDS = new Set(["water", "bunker", "native", "path", "building"]);
const HEADS_OVER_COLOURED_AREAS_M_PER_PX = 1.2;
const PIPES_FROM_M_PER_PX = 3;
const THROW_FROM_M_PER_PX = 0.9;
const AREA_LABELS_FROM_M_PER_PX = 1.2;
const HEAD_LABELS_FROM_M_PER_PX = 0.35;
const CHANGED_LABELS_FROM_M_PER_PX = 0.9;

/** Styles of one theme and one choice of what is shown; made anew when either changes. */
export class MapStyles {
  readonly #colour: Palette;
  readonly #shown: Shown;
  readonly #kept = new Map<string, Style>();
  readonly #heads_m_per_px: number;

  constructor(colour: Palette, shown: Shown) {
    // Where only the heads tell something they show from afar, else they would hide the areas.
    this.#heads_m_per_px = Object.keys(shown.areas).length > 0 ? HEADS_OVER_COLOURED_AREAS_M_PER_PX : Infinity;
    this.#colour = colour;
    this.#shown = shown;
  }

  #keep(key: string, make: () => Style): Style {
    let style = this.#kept.get(key);
    if (style === undefined) this.#kept.set(key, (style = make()));
    return style;
  }

  readonly area: Styler = (feature) => {
    const kind = String(feature.get("kind"));
    const name = GROUND_KINDS.has(kind) ? kind : (this.#shown.areas[String(feature.get("id"))] ?? "plain");
    const width = kind === "green" ? 1.8 : 0.8;
    return this.#keep(`area ${name} ${width}`, () => {
      const fill = new Fill({ color: this.#colour(name) });
      return new Style({ fill, stroke: new Stroke({ color: this.#colour("edge"), width }) });
    });
  };

  readonly reach: Styler = (feature, resolution) => {
    if (resolution > THROW_FROM_M_PER_PX) return undefined;
    const name = this.#stationClass(feature);
    return this.#keep(`throw ${name}`, () => {
      const colour = this.#colour(name);
      const fill = new Fill({ color: lighter(colour, 0.3) });
      return new Style({ fill, stroke: new Stroke({ color: lighter(this.#colour("ink"), 0.35), width: 0.7 }) });
    });
  };

  readonly head: Styler = (feature, resolution) => {
    const name = this.#stationClass(feature);
    if (name === "open") return this.#keep("head open", () => this.#ring());
    if (name === "short") return this.#keep("head short", () => this.#peak());
    if (resolution > this.#heads_m_per_px) return undefined;
    const near = resolution < THROW_FROM_M_PER_PX;
    return this.#keep(`head ${name} ${near}`, () => this.#dot(name, near ? 4.5 : resolution > 3 ? 1.6 : 2.4));
  };

  /** A head that runs: told by its ring, from afar too. */
  #ring(): Style {
    const stroke = new Stroke({ color: this.#colour("open"), width: 2.2 });
    const image = new CircleStyle({ radius: 5.5, fill: new Fill({ color: lighter(this.#colour("halo"), 0.85) }), stroke });
    return new Style({ image, zIndex: 4 });
  }

  /** A head that runs and lacks pressure: told by its shape too. */
  #peak(): Style {
    const stroke = new Stroke({ color: this.#colour("short"), width: 2.4 });
    const image = new RegularShape({ points: 3, radius: 8.5, fill: new Fill({ color: lighter(this.#colour("halo"), 0.85) }), stroke });
    return new Style({ image, zIndex: 5 });
  }

  #dot(name: string, radius: number): Style {
    const fill = new Fill({ color: this.#colour(name) });
    const stroke = new Stroke({ color: this.#colour("ink"), width: radius > 3 ? 1.2 : 0.6 });
    const square = new RegularShape({ points: 4, radius: radius * 1.7, angle: Math.PI / 4, fill, stroke });
    const triangle = new RegularShape({ points: 3, radius: radius * 1.6, fill, stroke });
    const marks: Record<string, RegularShape> = { red: square, amber: triangle };
    const order: Record<string, number> = { red: 3, amber: 2 };
    return new Style({ image: marks[name] ?? new CircleStyle({ radius, fill, stroke }), zIndex: order[name] ?? 1 });
  }

  #stationClass(feature: FeatureLike): string {
    const station = feature.get("station") as string | null;
    return station === null ? "missing" : (this.#shown.stations[station] ?? "plain");
  }

  readonly hole: Styler = (feature) => {
    const number = feature.get("number") as string | undefined;
    if (number === undefined) {
      const stroke = new Stroke({ color: lighter(this.#colour("ink"), 0.4), width: 1, lineDash: [1, 5] });
      return this.#keep("line", () => new Style({ stroke }));
    }
    return this.#keep(`number ${number}`, () => this.#label(number));
  };

  #label(text: string, font = "600 13px system-ui, sans-serif", offsetY = 0): Style {
    const fill = new Fill({ color: this.#colour("ink") });
    const stroke = new Stroke({ color: this.#colour("halo"), width: 4 });
    return new Style({ text: new Text({ text, font, offsetY, fill, stroke, padding: [2, 3, 2, 3] }), zIndex: 5 });
  }

  readonly areaLabel: Styler = (feature, resolution) => {
    if (resolution > AREA_LABELS_FROM_M_PER_PX) return undefined;
    const text = String(feature.get("label"));
    return this.#keep(`area label ${text}`, () => this.#label(text, "italic 12px system-ui, sans-serif"));
  };

  /** The label now and the one that it would be, in a frame. */
  #changed(now: string, then: string): Style {
    const text = [now, "11px system-ui, sans-serif", ` → ${then}`, "700 12px system-ui, sans-serif"];
    const backgroundStroke = new Stroke({ color: this.#colour("chosen"), width: 1.5 });
    const [fill, backgroundFill] = [new Fill({ color: this.#colour("ink") }), new Fill({ color: this.#colour("halo") })];
    return new Style({ text: new Text({ text, offsetY: -17, fill, backgroundFill, backgroundStroke, padding: [2, 4, 1, 4] }), zIndex: 6 });
  }

  readonly headLabel: Styler = (feature, resolution) => {
    const now = feature.get("label_now") as string | undefined;
    if (now !== undefined && resolution <= CHANGED_LABELS_FROM_M_PER_PX) {
      const then = String(feature.get("label"));
      return this.#keep(`changed label ${now} ${then}`, () => this.#changed(now, then));
    }
    if (resolution > HEAD_LABELS_FROM_M_PER_PX) return undefined;
    const text = String(feature.get("label"));
    return this.#keep(`head label ${text}`, () => this.#label(text, "11px system-ui, sans-serif", -13));
  };

  /** What a tool draws while it works: lines, corners, ghosts. */
  sketch(): Style {
    const stroke = new Stroke({ color: this.#colour("chosen"), width: 2, lineDash: [6, 4] });
    const fill = new Fill({ color: lighter(this.#colour("chosen"), 0.15) });
    const image = new CircleStyle({ radius: 7, fill: new Fill({ color: this.#colour("halo") }), stroke: new Stroke({ color: this.#colour("chosen"), width: 2.5 }) });
    return new Style({ stroke, fill, image, zIndex: 12 });
  }

  /** A patch of turf that a trim changes. */
  readonly patch = (): Styler => (feature) => {
    const style = this.#label((feature.get("label") as string | undefined) ?? "", "600 12px system-ui, sans-serif");
    style.setStroke(new Stroke({ color: this.#colour("ink"), width: 2, lineDash: [2, 4] }));
    style.setFill(new Fill({ color: lighter(this.#colour("ink"), 0.12) }));
    return style;
  };

  /** One of several heads at the same place, spread out. */
  readonly fanned: Styler = (feature) => {
    const text = feature.get("label") as string | undefined;
    if (text === undefined) return this.#keep("fan line", () => new Style({ stroke: new Stroke({ color: this.#colour("ink"), width: 1 }) }));
    return this.#keep(`fan ${text}`, () => {
      const style = this.#label(text, "600 11px system-ui, sans-serif", -16);
      style.setImage(new CircleStyle({ radius: 8, fill: new Fill({ color: this.#colour("halo") }), stroke: new Stroke({ color: this.#colour("ink"), width: 2 }) }));
      return style;
    });
  };

  readonly pipe: Styler = (feature, resolution) => {
    const width_mm = feature.get("width_mm") as number | null;
    const width = Math.max(0.6, Math.min(4, (width_mm ?? 50) / 60));
    if (width < 1 && resolution > PIPES_FROM_M_PER_PX) return undefined;
    return this.#keep(`pipe ${width}`, () => new Style({ stroke: new Stroke({ color: this.#colour("pipe"), width }) }));
  };

  readonly point: Styler = (feature, resolution) => {
    const table = String(feature.get("table"));
    if (table === "valves" && resolution > PIPES_FROM_M_PER_PX / 2) return undefined;
    return this.#keep(`point ${table}`, () => {
      const fill = new Fill({ color: this.#colour("halo") });
      const stroke = new Stroke({ color: this.#colour("pipe"), width: 2 });
      const points = table === "valves" ? 4 : 6;
      return new Style({ image: new RegularShape({ points, radius: table === "valves" ? 5 : 8, fill, stroke }) });
    });
  };

  chosen(): Style {
    const stroke = new Stroke({ color: this.#colour("chosen"), width: 3.5 });
    const image = new CircleStyle({ radius: 11, stroke });
    return new Style({ stroke, image, zIndex: 10 });
  }
}
