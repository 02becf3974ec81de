// An edit session: what was done since the last save, undone and done again. Values only.
import { subjectsOf, withoutSubjects, type Operation } from "./operations.ts";

export interface Session {
  readonly done: readonly Operation[];
  readonly undone: readonly Operation[];
  /** Digest of every touched row as it was when first touched, by subject. */
  readonly seen: Readonly<Record<string, string>>;
}

export type DigestOf = (subject: string) => string | undefined;

export const NOTHING_DONE: Session = { done: [], undone: [], seen: {} };

export const isDirty = (session: Session): boolean => session.done.length > 0;

const sameRows = (one: readonly string[], other: readonly string[]): boolean =>
  one.length === other.length && one.every((id, place) => id === other[place]);

/** Two operations as one where the second only goes on with the first; else null. */
export function joined(before: Operation | undefined, next: Operation): Operation | null {
  if (before?.op === "move" && next.op === "move" && before.table === next.table && sameRows(before.ids, next.ids)) {
    return { ...next, dx_m: before.dx_m + next.dx_m, dy_m: before.dy_m + next.dy_m };
  }
  if (before?.op === "turn" && next.op === "turn" && sameRows(before.ids, next.ids)) return next;
  return null;
}

function seenToo(session: Session, operation: Operation, digestOf: DigestOf): Session["seen"] {
  const seen: Record<string, string> = { ...session.seen };
  for (const subject of subjectsOf(operation)) {
    const digest = digestOf(subject);
    if (digest !== undefined && !(subject in seen)) seen[subject] = digest;
  }
  return seen;
}

/** One more operation; what was undone is gone then. */
export function applied(session: Session, operation: Operation, digestOf: DigestOf): Session {
  const one = joined(session.done.at(-1), operation);
  const done = one ? [...session.done.slice(0, -1), one] : [...session.done, operation];
  return { done, undone: [], seen: seenToo(session, operation, digestOf) };
}

/** Take the last operation back; the same session where there is none. */
export function undone(session: Session): Session {
  const last = session.done.at(-1);
  if (!last) return session;
  return { ...session, done: session.done.slice(0, -1), undone: [...session.undone, last] };
}

/** Do again what was taken back last. */
export function redone(session: Session): Session {
  const last = session.undone.at(-1);
  if (!last) return session;
  return { ...session, done: [...session.done, last], undone: session.undone.slice(0, -1) };
}

/** Rows touched by what is done, each once, in the order of their first touch. */
export function touched(session: Session): string[] {
  return [...new Set(session.done.flatMap(subjectsOf))];
}

/** The digests to send: of rows that what is done still touches. */
export function seenNow(session: Session): Record<string, string> {
  const known = touched(session).filter((subject) => subject in session.seen);
  return Object.fromEntries(known.map((subject) => [subject, session.seen[subject] as string]));
}

/** Keep mine for some rows (now seen as they are) and give up mine for others. */
export function settled(session: Session, mine: Readonly<Record<string, string>>, theirs: readonly string[]): Session {
  const left = new Set(theirs);
  const done = session.done.map((operation) => withoutSubjects(operation, left)).filter((operation) => operation !== null);
  return { done, undone: [], seen: { ...session.seen, ...mine } };
}
