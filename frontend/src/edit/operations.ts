// What a person does to the record, as the server takes it.
import type { Place } from "../map/documents.ts";

export type Value = string | number | boolean | null;
export type Values = Readonly<Record<string, Value>>;
export interface Geometry {
  readonly type: string;
  readonly coordinates: unknown;
}

export type Operation =
  | { readonly op: "add"; readonly table: string; readonly id: string | null; readonly values: Values; readonly geometry: Geometry }
  | { readonly op: "set"; readonly table: string; readonly ids: readonly string[]; readonly values: Values }
  | { readonly op: "move"; readonly table: string; readonly ids: readonly string[]; readonly dx_m: number; readonly dy_m: number }
  | { readonly op: "reshape"; readonly table: string; readonly id: string; readonly geometry: Geometry }
  | { readonly op: "remove"; readonly table: string; readonly ids: readonly string[] }
  | { readonly op: "split"; readonly table: string; readonly id: string; readonly line: readonly Place[] }
  | { readonly op: "merge"; readonly table: string; readonly ids: readonly string[] }
  | { readonly op: "copy_arc"; readonly from: string; readonly ids: readonly string[] }
  | { readonly op: "turn"; readonly ids: readonly string[]; readonly bearing_deg: number }
  | { readonly op: "assign"; readonly ids: readonly string[]; readonly station: string | null }
  | { readonly op: "place_along"; readonly line: readonly Place[]; readonly spacing_m: number; readonly like: string }
  | { readonly op: "renumber"; readonly hole: string; readonly heads?: readonly string[]; readonly stations?: readonly string[] };

/** Rows that an operation changes and that were there before it, as `table:id`. */
export function subjectsOf(operation: Operation): string[] {
  const table = "table" in operation ? operation.table : "heads";
  if (operation.op === "add" || operation.op === "place_along") return [];
  if (operation.op === "renumber") {
    const { heads = [], stations = [] } = operation;
    return [...heads.map((id) => `heads:${id}`), ...stations.map((id) => `stations:${id}`)];
  }
  const ids = "ids" in operation ? operation.ids : [operation.id];
  return ids.map((id) => `${table}:${id}`);
}

/** The operation without some rows; null where nothing is left of it. */
export function withoutSubjects(operation: Operation, left: ReadonlySet<string>): Operation | null {
  if (operation.op === "renumber") {
    const kept = idsByTable(subjectsOf(operation).filter((subject) => !left.has(subject)));
    return kept.size === 0 ? null : { ...operation, heads: kept.get("heads") ?? [], stations: kept.get("stations") ?? [] };
  }
  const stays = subjectsOf(operation).map((subject) => !left.has(subject));
  if (!("ids" in operation)) return stays.includes(false) ? null : operation;
  const ids = operation.ids.filter((_id, place) => stays[place]);
  const needed = operation.op === "merge" ? 2 : 1;
  return ids.length < needed ? null : { ...operation, ids };
}

/** Rows by their table, from subjects. */
export function idsByTable(subjects: readonly string[]): Map<string, string[]> {
  const found = new Map<string, string[]>();
  for (const subject of subjects) {
    const [table, id] = parted(subject);
    found.set(table, [...(found.get(table) ?? []), id]);
  }
  return found;
}

/** Table and id of a subject; an id may hold a colon itself. */
export function parted(subject: string): [table: string, id: string] {
  const at = subject.indexOf(":");
  return [subject.slice(0, at), subject.slice(at + 1)];
}
