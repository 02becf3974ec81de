// From the server's document to features of the map library: no style, no view.
import Feature from "ol/Feature.js";
import LineString from "ol/geom/LineString.js";
import MultiLineString from "ol/geom/MultiLineString.js";
import MultiPolygon from "ol/geom/MultiPolygon.js";
import Point from "ol/geom/Point.js";
import Polygon from "ol/geom/Polygon.js";
import type { AreaShape, GroundDocument, HeadShape, LineShape } from "./documents.ts";
import { throwRing } from "./throw.ts";

const DRAWN_LAST = ["native", "rough", "grounds", "practice", "fairway", "water", "path", "approach", "tee", "bunker", "green", "building"];

const mutable = (lines: readonly (readonly (readonly [number, number])[])[]): number[][][] =>
  lines.map((line) => line.map(([x, y]) => [x, y]));

function areaFeature(area: AreaShape): Feature {
  const feature = new Feature(new MultiPolygon(area.polygons.map(mutable)));
  feature.setProperties({ subject: `areas:${area.id}`, id: area.id, kind: area.kind, label: area.label }, true);
  return feature;
}

export function areaFeatures(ground: GroundDocument): Feature[] {
  const rank = (area: AreaShape): number => DRAWN_LAST.indexOf(area.kind);
  return [...ground.areas].sort((one, other) => rank(one) - rank(other)).map(areaFeature);
}

export function throwFeatures(ground: GroundDocument): Feature[] {
  return ground.heads.flatMap((head) => {
    const ring = throwRing(head.x, head.y, head.throw_m, head.arc_deg, head.bearing_deg);
    if (ring.length === 0) return [];
    const feature = new Feature(new Polygon([ring.map(([x, y]) => [x, y])]));
    feature.setProperties({ station: head.station, whole: (head.arc_deg ?? 360) >= 360 }, true);
    return [feature];
  });
}

function headFeature(head: HeadShape): Feature {
  const feature = new Feature(new Point([head.x, head.y]));
  feature.setProperties({ subject: `heads:${head.id}`, id: head.id, station: head.station, label: head.label, label_now: head.label_now }, true);
  return feature;
}

export const headFeatures = (ground: GroundDocument): Feature[] => ground.heads.map(headFeature);

function lineFeature(table: string, line: LineShape): Feature {
  const feature = new Feature(new MultiLineString(mutable(line.lines)));
  const width_mm = line.width_mm ?? null;
  feature.setProperties({ subject: `${table}:${line.id}`, label: line.label, width_mm }, true);
  return feature;
}

export const pipeFeatures = (ground: GroundDocument): Feature[] =>
  ground.pipes.map((pipe) => lineFeature("pipes", pipe));

export const holeFeatures = (ground: GroundDocument): Feature[] =>
  ground.holes.flatMap((hole) => {
    const line = lineFeature("holes", hole);
    const first = hole.lines[0]?.map(([x, y]) => [x, y]) ?? [];
    if (first.length < 2) return [line];
    const number = new Feature(new Point(new LineString(first).getCoordinateAt(0)));
    number.setProperties({ number: hole.label, subject: `holes:${hole.id}` }, true);
    return [line, number];
  });

export const pointFeatures = (ground: GroundDocument): Feature[] =>
  ground.points.map((point) => {
    const feature = new Feature(new Point([point.x, point.y]));
    const subject = `${point.table}:${point.id}`;
    feature.setProperties({ subject, table: point.table, label: point.label }, true);
    return feature;
  });
