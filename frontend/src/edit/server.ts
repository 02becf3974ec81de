// What the editor asks the server; an answer is a value, also where it says no.
import type { GroundDocument, Place } from "../map/documents.ts";
import type { Conflict } from "./conflicts.ts";
import type { Operation, Value, Values } from "./operations.ts";
import type { FindingRow, Preview } from "./preview.ts";
import type { RowsDocument } from "./rows.ts";

export type Saved =
  | { readonly is: "saved"; readonly revision: string; readonly findings: readonly FindingRow[] }
  | { readonly is: "conflict"; readonly message: string; readonly conflicts: readonly Conflict[] }
  | { readonly is: "refused"; readonly message: string };

export interface SpotHead {
  readonly id: string;
  readonly label: string;
  readonly station: string | null;
  readonly distance_m: number;
  readonly share?: number | null;
  readonly rate_mm_h?: number | null;
}

export interface Spot {
  readonly heads: readonly SpotHead[];
  readonly total_mm_h?: number | null;
}

export interface PastChange {
  readonly revision: string;
  /** As the course's own clock showed it. */
  readonly time: string;
  readonly who: string;
  readonly why: string;
  readonly columns: Readonly<Record<string, readonly [Value, Value]>>;
}

/** An accepted change of the record; `undone_by` names the revision that took it back. */
export interface Revision {
  readonly revision: string;
  readonly time: string;
  readonly who: string;
  readonly why: string;
  readonly summary: string;
  readonly undone_by: string | null;
}

/** Values that follow from a row's place, by subject: hole and kind of a head. */
export type Belongings = Readonly<Record<string, Values>>;

/** What the editor needs of a server; tests give their own. */
export interface Server {
  shapes(): Promise<GroundDocument>;
  belongings(): Promise<Belongings>;
  rows(table: string): Promise<RowsDocument>;
  preview(operations: readonly Operation[]): Promise<Preview>;
  save(operations: readonly Operation[], seen: Readonly<Record<string, string>>, why: string): Promise<Saved>;
  undo(revision: string): Promise<Saved>;
  wets(place: Place): Promise<Spot>;
  revisions(): Promise<readonly Revision[]>;
  history(subject: string): Promise<readonly PastChange[]>;
}

type Answer = { readonly ok: boolean; readonly status: number; readonly body: Record<string, unknown> };

async function asked(address: string, token: string, sent?: unknown): Promise<Answer> {
  const headers: Record<string, string> = { Accept: "application/json" };
  if (sent !== undefined) Object.assign(headers, { "Content-Type": "application/json", "X-Nightwater-Token": token });
  const request: RequestInit = sent === undefined ? { headers } : { method: "POST", headers, body: JSON.stringify(sent) };
  let answer: Response;
  try {
    answer = await fetch(address, request);
  } catch {
    throw new Error("The server cannot be reached. Nothing is lost here; try again.");
  }
  const body = await answer.json().catch(() => ({}));
  return { ok: answer.ok, status: answer.status, body: body as Record<string, unknown> };
}

const messageOf = (answer: Answer): string =>
  typeof answer.body["message"] === "string" ? answer.body["message"] : `The server said no (${answer.status}). Nothing is lost here; try again.`;

function savedOf(answer: Answer): Saved {
  const { body } = answer;
  if (answer.ok) return { is: "saved", revision: String(body["revision"]), findings: (body["findings"] ?? []) as FindingRow[] };
  const conflicts = (body["conflicts"] ?? []) as Conflict[];
  if (answer.status === 409 && conflicts.length > 0) return { is: "conflict", message: messageOf(answer), conflicts };
  return { is: "refused", message: messageOf(answer) };
}

/** The server that this page came from. */
export function serverOf(token: string): Server {
  async function wanted<T>(address: string, sent?: unknown): Promise<T> {
    const answer = await asked(address, token, sent);
    if (!answer.ok) throw new Error(messageOf(answer));
    return answer.body as T;
  }
  return {
    shapes: () => wanted("/map/shapes.json"),
    belongings: () => wanted("/ground/belongings.json"),
    rows: (table) => wanted(`/ground/rows?table=${encodeURIComponent(table)}`),
    preview: (operations) => wanted("/ground/edit/preview", { operations }),
    save: async (operations, seen, why) => savedOf(await asked("/ground/edit", token, { operations, seen, why })),
    undo: async (revision) => savedOf(await asked("/ground/undo", token, { revision })),
    wets: ([x, y]) => wanted(`/ground/wets?x=${x}&y=${y}`),
    revisions: async () => (await wanted<{ revisions: Revision[] }>("/history/revisions.json")).revisions,
    history: async (subject) =>
      (await wanted<{ revisions: PastChange[] }>(`/ground/history?subject=${encodeURIComponent(subject)}`)).revisions,
  };
}
