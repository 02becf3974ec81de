// Two people changed the same row: both versions side by side, and one choice a row.
import type { Value, Values } from "./operations.ts";

export interface Conflict {
  readonly subject: string;
  readonly yours: Values | null;
  readonly theirs: Values | null;
  readonly by: string;
  /** Empty where another program changed it. */
  readonly revision: string;
  /** Mark of the row as `theirs` shows it. */
  readonly digest?: string | null;
}

/** Whose version the other one is. */
export const whose = ({ by, revision }: Conflict): string => (revision ? `${by}, revision ${revision}` : by);

export type Choice = "mine" | "theirs";

export interface ConflictLine {
  readonly column: string;
  readonly yours: Value | undefined;
  readonly theirs: Value | undefined;
  readonly differs: boolean;
}

/** Every column that either version has, those that differ first. */
export function conflictLines(conflict: Conflict): ConflictLine[] {
  const { yours, theirs } = conflict;
  const columns = [...new Set([...Object.keys(yours ?? {}), ...Object.keys(theirs ?? {})])];
  const lines = columns.map((column) => {
    const [mine, other] = [yours?.[column], theirs?.[column]];
    return { column, yours: mine, theirs: other, differs: JSON.stringify(mine) !== JSON.stringify(other) };
  });
  return [...lines.filter((line) => line.differs), ...lines.filter((line) => !line.differs)];
}

/** Subjects by choice; null while a row has none. */
export function chosenRows(
  conflicts: readonly Conflict[], choices: Readonly<Record<string, Choice>>,
): { mine: string[]; theirs: string[] } | null {
  const subjects = conflicts.map((conflict) => conflict.subject);
  if (subjects.some((subject) => !(subject in choices))) return null;
  return {
    mine: subjects.filter((subject) => choices[subject] === "mine"),
    theirs: subjects.filter((subject) => choices[subject] === "theirs"),
  };
}
