// What is drawn over the course to shut a break off: dry pipe, valves, heads, the break itself.
import Feature from "ol/Feature.js";
import LineString from "ol/geom/LineString.js";
import Point from "ol/geom/Point.js";
import VectorLayer from "ol/layer/Vector.js";
import VectorSource from "ol/source/Vector.js";
import CircleStyle from "ol/style/Circle.js";
import Fill from "ol/style/Fill.js";
import RegularShape from "ol/style/RegularShape.js";
import Stroke from "ol/style/Stroke.js";
import Style from "ol/style/Style.js";
import Text from "ol/style/Text.js";
import type { Place } from "./documents.ts";
import type { Palette } from "./palette.ts";

export type Role = "dry" | "broken" | "dry-head" | "drain" | "holds" | "close" | "break";

export interface Mark {
  readonly role: Role;
  readonly label?: string;
  readonly subject?: string;
  readonly line?: readonly Place[];
  readonly point?: Place;
}

export interface MarksDocument {
  readonly marks: readonly Mark[];
}

const OVER: Record<Role, number> = { "dry": 1, "broken": 2, "dry-head": 3, "drain": 4, "holds": 5, "close": 6, "break": 7 };

function markFeature(mark: Mark): Feature {
  const shape = mark.line ? new LineString(mark.line.map(([x, y]) => [x, y])) : new Point([...(mark.point ?? [0, 0])]);
  const feature = new Feature(shape);
  feature.setProperties({ role: mark.role, label: mark.label ?? "" }, true);
  return feature;
}

/** A layer over all others; `restyle` after the page's colours have changed. */
export class MarkLayer {
  readonly layer: VectorLayer;
  readonly source = new VectorSource();

  constructor(marks: readonly Mark[]) {
    this.source.addFeatures(marks.map(markFeature));
    this.layer = new VectorLayer({ source: this.source, zIndex: 15 });
  }

  restyle(colour: Palette): void {
    const kept = new Map<string, Style[]>();
    this.layer.setStyle((feature) => {
      const [role, label] = [feature.get("role") as Role, String(feature.get("label"))];
      const key = `${role} ${label}`;
      if (!kept.has(key)) kept.set(key, styles(role, label, colour));
      return kept.get(key);
    });
  }
}

function styles(role: Role, label: string, colour: Palette): Style[] {
  const line = (name: string, width: number, lineDash?: number[]): Stroke => new Stroke({ color: colour(name), width, ...(lineDash ? { lineDash } : {}) });
  const zIndex = OVER[role];
  if (role === "dry") return [new Style({ stroke: line("halo", 5), zIndex }), new Style({ stroke: line("ink", 2.5, [2, 5]), zIndex })];
  if (role === "broken") return [new Style({ stroke: line("halo", 8), zIndex }), new Style({ stroke: line("chosen", 5), zIndex })];
  const halo = new Fill({ color: colour("halo") });
  if (role === "dry-head") return [new Style({ image: new CircleStyle({ radius: 3, fill: halo, stroke: line("ink", 1.4) }), zIndex })];
  if (role === "break") return [new Style({ image: new CircleStyle({ radius: 11, stroke: line("chosen", 3.5) }), zIndex }), new Style({ image: new CircleStyle({ radius: 3.5, fill: new Fill({ color: colour("chosen") }) }), zIndex })];
  const text = new Text({ text: label, font: "700 13px system-ui, sans-serif", offsetY: -19, fill: new Fill({ color: colour("ink") }), stroke: line("halo", 4) });
  if (role === "drain") return [new Style({ image: new RegularShape({ points: 3, radius: 7, rotation: Math.PI, fill: halo, stroke: line("ink", 2) }), zIndex })];
  const square = (fill: Fill): RegularShape => new RegularShape({ points: 4, radius: 11, angle: Math.PI / 4, fill, stroke: line("ink", 2.5) });
  if (role === "holds") return [new Style({ image: square(halo), text, zIndex })];
  const cross = new RegularShape({ points: 4, radius: 8, radius2: 0, angle: Math.PI / 4, stroke: line("halo", 2.5) });
  return [new Style({ image: square(new Fill({ color: colour("chosen") })), text, zIndex }), new Style({ image: cross, zIndex })];
}
