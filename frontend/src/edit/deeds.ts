// From what a tool did on the map to operations on the record.
import type { Place } from "../map/documents.ts";
import type { Done } from "../map/tools.ts";
import { idsByTable, parted, type Geometry, type Operation, type Value, type Values } from "./operations.ts";
import type { Preview } from "./preview.ts";
import type { ToolName } from "./tools.ts";

/** What a tool is told beside the map: the fields of its bar, and what is chosen. */
export interface Wanted {
  readonly selection: readonly string[];
  readonly kind: string;
  readonly spacing_m: number;
  readonly like: Values;
  readonly newId: (table: string) => string;
}

/** What is chosen after a choice: with `more` beside what was, and one that was chosen already is let go. */
export function chosenWith(before: readonly string[], subjects: readonly string[], more: boolean): readonly string[] {
  const [one] = subjects;
  if (!more) return subjects;
  if (subjects.length === 1 && one && before.includes(one)) return before.filter((other) => other !== one);
  return [...new Set([...before, ...subjects])];
}

/** Moving, table by table, since an operation holds one table. */
export function moveOperations(subjects: readonly string[], dx_m: number, dy_m: number): Operation[] {
  return [...idsByTable(subjects)].map(([table, ids]) => ({ op: "move", table, ids, dx_m, dy_m }));
}

export function removeOperations(subjects: readonly string[]): Operation[] {
  return [...idsByTable(subjects)].map(([table, ids]) => ({ op: "remove", table, ids }));
}

type Renumber = Extract<Operation, { op: "renumber" }>;

/** Renumbering of every hole that the chosen things are of, each once; of those things alone where `only` says so. */
export function renumberOperations(subjects: readonly string[], holeOf: (subject: string) => Value | undefined, only: boolean): Renumber[] {
  const holes = new Map<string, string[]>();
  for (const subject of subjects) {
    const hole = holeOf(subject);
    if (hole !== null && hole !== undefined) holes.set(String(hole), [...(holes.get(String(hole)) ?? []), subject]);
  }
  return [...holes].map(([hole, of]): Renumber => {
    const ids = idsByTable(of);
    return only ? { op: "renumber", hole, heads: ids.get("heads") ?? [], stations: ids.get("stations") ?? [] } : { op: "renumber", hole };
  });
}

/** The same renumbering, naming the rows whose label it changes; null where it changes none. */
export function renumberNaming(operation: Renumber, preview: Preview, labelOf: (subject: string) => Value | undefined): Renumber | null {
  const changed = (table: string): string[] => (preview.changed[table]?.features ?? [])
    .filter((row) => row.properties["label"] !== (labelOf(`${table}:${row.id}`) ?? null)).map((row) => row.id);
  const { heads = changed("heads"), stations = changed("stations") } = operation;
  const named = { ...operation, heads: heads.filter((id) => changed("heads").includes(id)), stations: stations.filter((id) => changed("stations").includes(id)) };
  return named.heads.length + named.stations.length === 0 ? null : named;
}

/** One area or pipe of several. */
export function mergeOperation(subjects: readonly string[]): Operation {
  const [table, ids] = [...idsByTable(subjects)][0] as [string, string[]];
  return { op: "merge", table, ids };
}

const headIds = (subjects: readonly string[]): string[] => idsByTable(subjects).get("heads") ?? [];

export const turnOperation = (subjects: readonly string[], bearing_deg: number): Operation =>
  ({ op: "turn", ids: headIds(subjects), bearing_deg });

export const assignOperation = (subjects: readonly string[], station: string | null): Operation =>
  ({ op: "assign", ids: headIds(subjects), station });

/** The pointed head's arc for the others; null where nobody else is chosen. */
export function copyArcOperation(subjects: readonly string[], from: string): Operation | null {
  const ids = headIds(subjects).filter((id) => id !== from);
  return ids.length > 0 ? { op: "copy_arc", from, ids } : null;
}

/** What pointing at a head does for those that are chosen; null where it has nothing to give. */
export function pointedOperation(
  tool: ToolName, subjects: readonly string[], id: string, heads: readonly { readonly id: string; readonly station: string | null }[],
): Operation | null {
  if (tool === "copy-arc") return copyArcOperation(subjects, id);
  const station = heads.find((head) => head.id === id)?.station ?? null;
  return station === null ? null : assignOperation(subjects, station);
}

/** What a drawn shape is for. */
export function drawnOperation(tool: ToolName, geometry: Geometry, wanted: Wanted): Operation | null {
  const line = geometry.coordinates as readonly Place[];
  const [table, id] = parted(wanted.selection[0] ?? "");
  switch (tool) {
    case "draw-area": return { op: "add", table: "areas", id: wanted.newId("areas"), values: { kind: wanted.kind }, geometry };
    case "draw-head": return { op: "add", table: "heads", id: wanted.newId("heads"), values: wanted.like, geometry };
    case "split": return { op: "split", table, id, line };
    case "place-along": return { op: "place_along", line, spacing_m: wanted.spacing_m, like: id };
    default: return null;
  }
}

/** What was done on the map, as operations. */
export function doneOperations(tool: ToolName, done: Exclude<Done, { is: "chosen" }>, wanted: Wanted): (Operation | null)[] {
  if (done.is === "moved") return moveOperations(done.subjects, done.dx_m, done.dy_m);
  if (done.is === "turned") return [turnOperation(wanted.selection, done.bearing_deg)];
  if (done.is === "drawn") return [drawnOperation(tool, done.geometry, wanted)];
  const [table, id] = parted(done.subject);
  return [{ op: "reshape", table, id, geometry: done.geometry }];
}

/** The next free id in the manner of those that are there: H0042 after H0041. */
export function nextId(ids: readonly string[], first: string): string {
  const numbered = ids.map((id) => /^(.*?)(\d+)$/.exec(id)).filter((found) => found !== null);
  const counts = new Map<string, number>();
  for (const [, stem = ""] of numbered) counts.set(stem, (counts.get(stem) ?? 0) + 1);
  const [stem = first] = [...counts].sort((one, other) => other[1] - one[1])[0] ?? [];
  const mine = numbered.filter((found) => found[1] === stem);
  const highest = Math.max(0, ...mine.map((found) => Number(found[2])));
  const width = Math.max(1, ...mine.map((found) => (found[2] as string).length));
  return `${stem}${String(highest + 1).padStart(width, "0")}`;
}
