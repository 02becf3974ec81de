// "kind=fairway hole=7 arc<360 worn": terms that must all fit a row.
import type { Value, Values } from "./operations.ts";

export type Fits = (values: Values) => boolean;
export type Filter = { readonly fits: Fits; readonly fault: null } | { readonly fits: null; readonly fault: string };

const TERM = /(?:([\p{L}_][\p{L}\d_]*)(<=|>=|!=|=|<|>))?(?:"([^"]*)"|(\S*))/gu;
const MISSING = "";

const textOf = (value: Value | undefined): string => String(value ?? MISSING).toLowerCase();

/** Letters that must be changed to make one word of the other. */
export function distance(one: string, other: string): number {
  let row = Array.from({ length: other.length + 1 }, (_, place) => place);
  for (let i = 1; i <= one.length; i += 1) {
    const next = [i];
    for (let j = 1; j <= other.length; j += 1) {
      const change = (row[j - 1] as number) + (one[i - 1] === other[j - 1] ? 0 : 1);
      next.push(Math.min(change, (row[j] as number) + 1, (next[j - 1] as number) + 1));
    }
    row = next;
  }
  return row[other.length] as number;
}

/** The column that a word means: its name, or its name without the unit. */
function columnOf(word: string, columns: readonly string[]): string | undefined {
  const wanted = word.toLowerCase();
  return columns.find((name) => name === wanted) ?? columns.find((name) => name.startsWith(`${wanted}_`));
}

function unknown(word: string, columns: readonly string[]): string {
  const near = [...columns].sort((one, other) => distance(word, one) - distance(word, other))[0];
  return `There is no column “${word}”${near ? `; did you mean “${near}”?` : "."}`;
}

function equals(value: Value | undefined, wanted: string): boolean {
  if (wanted === MISSING || textOf(value) === MISSING) return textOf(value) === wanted;
  return typeof value === "number" ? value === Number(wanted) : textOf(value) === wanted;
}

function compares(column: string, sign: string, text: string): Fits | string {
  const wanted = text.toLowerCase().split(",");
  if (sign === "=") return (values) => wanted.some((one) => equals(values[column], one));
  if (sign === "!=") return (values) => !wanted.some((one) => equals(values[column], one));
  const limit = Number(text);
  if (text === MISSING || Number.isNaN(limit)) return `“${column}${sign}” needs a number after it.`;
  const holds: Record<string, (value: number) => boolean> = {
    "<": (value) => value < limit, ">": (value) => value > limit,
    "<=": (value) => value <= limit, ">=": (value) => value >= limit,
  };
  return (values) => {
    const value = values[column];
    return value !== null && value !== undefined && value !== MISSING && (holds[sign] as (v: number) => boolean)(Number(value));
  };
}

const holdsWord = (word: string): Fits => (values) =>
  Object.entries(values).some(([name, value]) => name !== "digest" && textOf(value).includes(word.toLowerCase()));

/** What a text asks for; or a sentence that says what is wrong with it. */
export function filterOf(text: string, columns: readonly string[]): Filter {
  const all: Fits[] = [];
  for (const [, name, sign, quoted, bare] of text.trim().matchAll(TERM)) {
    const wanted = quoted ?? bare ?? "";
    if (name === undefined || sign === undefined) {
      if (wanted) all.push(holdsWord(wanted));
      continue;
    }
    const column = columnOf(name, columns);
    if (column === undefined) return { fits: null, fault: unknown(name, columns) };
    const term = compares(column, sign, wanted);
    if (typeof term === "string") return { fits: null, fault: term };
    all.push(term);
  }
  return { fits: (values) => all.every((fits) => fits(values)), fault: null };
}
