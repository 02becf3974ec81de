// Columns that follow from where a row is, added to a table so that it can be filtered by them.
import type { Belongings } from "./server.ts";
import type { Column, RowsDocument } from "./rows.ts";

/** Kind of a column that nobody can set. */
export const FOLLOWS = "follows";

/** The table with the hole and kind of each row, where it has no such columns itself. */
export function withBelongings(table: string, document: RowsDocument, belongings: Belongings): RowsDocument {
  const known = new Set(document.columns.map((column) => column.name));
  const some = document.rows.map((row) => belongings[`${table}:${row.id}`]).find((values) => values !== undefined);
  const names = Object.keys(some ?? {}).filter((name) => !known.has(name));
  if (names.length === 0) return document;
  const columns = names.map((name): Column => ({ name, title: name, kind: FOLLOWS, meaning: "Follows from where it is." }));
  const rows = document.rows.map((row) => ({ ...belongings[`${table}:${row.id}`], ...row }));
  return { columns: [...document.columns, ...columns], rows };
}
