// What the server says the operations would make of the record, laid over the map's document.
import type { AreaShape, GroundDocument, HeadShape, LineShape, Place, PointShape } from "../map/documents.ts";
import type { Geometry, Value, Values } from "./operations.ts";

export interface ChangedRow {
  readonly id: string;
  readonly geometry: Geometry | null;
  readonly properties: Values;
}

export interface FindingRow {
  readonly severity: string;
  readonly code: string;
  readonly subject: string;
  readonly message: string;
  readonly fix: string;
}

export interface Preview {
  readonly changed: Readonly<Record<string, { readonly features: readonly ChangedRow[] }>>;
  readonly removed: readonly string[];
  readonly findings: readonly FindingRow[];
  readonly impossible: readonly { readonly at: number; readonly message: string }[];
}

type Lines = readonly (readonly Place[])[];
const numberOf = (value: Value | undefined): number | null => (typeof value === "number" ? value : null);
const textOf = (value: Value | undefined): string | null => (value === null || value === undefined ? null : String(value));

function polygonsOf(geometry: Geometry): readonly Lines[] {
  return (geometry.type === "Polygon" ? [geometry.coordinates] : geometry.coordinates) as readonly Lines[];
}

function linesOf(geometry: Geometry): Lines {
  return (geometry.type === "LineString" ? [geometry.coordinates] : geometry.coordinates) as Lines;
}

function headOf(row: ChangedRow, before: HeadShape | undefined): HeadShape {
  const [x, y] = (row.geometry as Geometry).coordinates as Place;
  const { properties: values } = row;
  const label = textOf(values["label"]) ?? row.id;
  return {
    id: row.id, x, y, label,
    ...(before && before.label !== label ? { label_now: before.label } : {}),
    throw_m: numberOf(values["throw_m"]) ?? before?.throw_m ?? null,
    arc_deg: numberOf(values["arc_deg"]),
    bearing_deg: numberOf(values["bearing_deg"]),
    station: textOf(values["station"]),
  };
}

function areaOf(row: ChangedRow): AreaShape {
  const label = textOf(row.properties["label"]) ?? row.id;
  return { id: row.id, label, kind: String(row.properties["kind"]), polygons: polygonsOf(row.geometry as Geometry) };
}

function lineOf(row: ChangedRow): LineShape {
  const label = textOf(row.properties["number"]) ?? textOf(row.properties["label"]) ?? row.id;
  return { id: row.id, label, lines: linesOf(row.geometry as Geometry), width_mm: numberOf(row.properties["diameter_mm"]) };
}

function laid<T extends { readonly id: string }>(
  table: string, before: readonly T[], preview: Preview, make: (row: ChangedRow, old: T | undefined) => T,
): readonly T[] {
  const rows = (preview.changed[table]?.features ?? []).filter((row) => row.geometry !== null);
  const gone = new Set(preview.removed.filter((one) => one.startsWith(`${table}:`)).map((one) => one.slice(table.length + 1)));
  if (rows.length === 0 && gone.size === 0) return before;
  const known = new Map(before.map((one) => [one.id, one]));
  const changed = new Map(rows.map((row) => [row.id, make(row, known.get(row.id))]));
  const kept = before.filter((one) => !gone.has(one.id)).map((one) => changed.get(one.id) ?? one);
  return [...kept, ...[...changed.values()].filter((one) => !known.has(one.id))];
}

function pointsOver(before: readonly PointShape[], preview: Preview): readonly PointShape[] {
  const tables = [...new Set(before.map((one) => one.table))];
  const over = tables.map((table) => {
    const mine = before.filter((one) => one.table === table);
    return laid(table, mine, preview, (row) => {
      const [x, y] = (row.geometry as Geometry).coordinates as Place;
      return { id: row.id, table, label: textOf(row.properties["label"]) ?? row.id, x, y };
    });
  });
  const same = over.flat().length === before.length && over.flat().every((one) => before.includes(one));
  return same ? before : over.flat();
}

/** The map's document as it would be; a table without changes keeps its very list. */
export function overlaid(ground: GroundDocument, preview: Preview | null): GroundDocument {
  if (preview === null) return ground;
  return {
    areas: laid("areas", ground.areas, preview, areaOf),
    holes: laid("holes", ground.holes, preview, lineOf),
    pipes: laid("pipes", ground.pipes, preview, lineOf),
    heads: laid("heads", ground.heads, preview, headOf),
    points: pointsOver(ground.points, preview),
  };
}
