// The table beside the map: rows as they will be, in order, a page at a time.
import type { Value, Values } from "./operations.ts";
import type { Preview } from "./preview.ts";

export interface Column {
  readonly name: string;
  readonly title: string;
  readonly unit?: string | null;
  readonly kind: string;
  readonly choices?: readonly string[] | null;
  readonly meaning?: string;
}

export interface Row {
  readonly id: string;
  readonly digest: string;
  readonly [column: string]: Value;
}

export interface RowsDocument {
  readonly columns: readonly Column[];
  readonly rows: readonly Row[];
}

/** A row as it will be after what was done: `state` says whether that differs. */
export interface ShownRow {
  readonly id: string;
  readonly values: Values;
  readonly state: "" | "changed" | "new" | "removed";
}

export const PAGE_ROWS = 100;

/** Rows of one table with what the operations make of them. */
export function shownRows(table: string, document: RowsDocument, preview: Preview | null): ShownRow[] {
  const changed = new Map((preview?.changed[table]?.features ?? []).map((one) => [String(one.id), one.properties]));
  const removed = new Set(preview?.removed ?? []);
  const known = document.rows.map((row): ShownRow => {
    const values = changed.get(row.id);
    changed.delete(row.id);
    if (removed.has(`${table}:${row.id}`)) return { id: row.id, values: row, state: "removed" };
    return values ? { id: row.id, values: { ...row, ...values }, state: "changed" } : { id: row.id, values: row, state: "" };
  });
  const added = [...changed].map(([id, values]): ShownRow => ({ id, values: { ...values, id }, state: "new" }));
  return [...added, ...known];
}

const order = new Intl.Collator("en", { numeric: true, sensitivity: "base" });

const compared = (one: Value, other: Value): number =>
  typeof one === "number" && typeof other === "number" ? one - other : order.compare(String(one), String(other));

/** Sorted by one column; what is missing comes last either way, equal rows keep their order. */
export function sorted(rows: readonly ShownRow[], column: string, down: boolean): ShownRow[] {
  const missing = (row: ShownRow): boolean => (row.values[column] ?? "") === "";
  return [...rows].sort((one, other) => {
    if (missing(one) || missing(other)) return Number(missing(one)) - Number(missing(other));
    return compared(one.values[column] as Value, other.values[column] as Value) * (down ? -1 : 1);
  });
}

/** One page of rows; a page past the end is the last one. */
export function paged<T>(rows: readonly T[], page: number): { page: number; pages: number; rows: readonly T[] } {
  const pages = Math.max(1, Math.ceil(rows.length / PAGE_ROWS));
  const here = Math.min(Math.max(0, page), pages - 1);
  return { page: here, pages, rows: rows.slice(here * PAGE_ROWS, (here + 1) * PAGE_ROWS) };
}

/** A value for people: missing is a dash, long fractions are cut, a shape is called so. */
export function shownValue(value: Value | object | undefined): string {
  if (value === null || value === undefined || value === "") return "–";
  if (typeof value === "number") return String(Math.round(value * 1000) / 1000);
  if (typeof value === "object") return "a place or shape";
  return typeof value === "boolean" ? (value ? "yes" : "no") : value;
}
