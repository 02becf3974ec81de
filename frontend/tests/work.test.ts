import assert from "node:assert/strict";
import { test } from "node:test";
import { withBelongings } from "../src/edit/belongings.ts";
import type { Operation } from "../src/edit/operations.ts";
import type { Preview } from "../src/edit/preview.ts";
import type { Saved, Server } from "../src/edit/server.ts";
import { Work } from "../src/edit/work.ts";
import { NOTHING_GROUND } from "../src/map/documents.ts";

const move = (id: string, dx_m = 1): Operation => ({ op: "move", table: "heads", ids: [id], dx_m, dy_m: 0 });
const NOTHING: Preview = { changed: {}, removed: [], findings: [], impossible: [] };

/** A server that keeps what it was asked, and answers as told. */
function serverWith(more: Partial<Server> = {}): Server & { sent: unknown[][] } {
  const sent: unknown[][] = [];
  return {
    sent,
    shapes: async () => NOTHING_GROUND,
    belongings: async () => ({ "heads:H1": { hole: "7", kind: "green" } }),
    rows: async () => ({ columns: [], rows: [{ id: "H1", digest: `d${sent.length}`, arc_deg: 90, label: "7-1" }, { id: "H2", digest: "d" }] }),
    preview: async () => NOTHING,
    save: async (...asked) => { sent.push(asked); return { is: "saved", revision: "15", findings: [] }; },
    undo: async (revision) => { sent.push([revision]); return { is: "saved", revision: "16", findings: [] }; },
    wets: async () => ({ heads: [] }),
    history: async () => [],
    revisions: async () => [],
    ...more,
  };
}

async function ready(server: Server): Promise<Work> {
  const work = new Work(server, "metric");
  await work.load();
  return work;
}

test("what was done is saved with the digests first seen and the reason, and then nothing is left", async () => {
  const server = serverWith();
  const work = await ready(server);
  await work.apply(move("H1"));
  await work.save("surveyed again");
  assert.deepEqual(server.sent, [[[move("H1")], { "heads:H1": "d0" }, "surveyed again"]]);
  assert.deepEqual(work.session.done, []);
  assert.equal(work.revision, "15");
  assert.equal(work.message, "Saved as revision 15.");
  assert.equal(work.busy, false);
});

test("what the server calls impossible is not kept, and it says why", async () => {
  const impossible = [{ at: 1, message: "H2 is not there." }];
  const server = serverWith({ preview: async (asked) => ({ ...NOTHING, impossible: asked.length > 1 ? impossible : [] }) });
  const work = await ready(server);
  await work.apply(move("H1"));
  await work.apply({ op: "remove", table: "heads", ids: ["H2"] });
  assert.deepEqual(work.session.done, [move("H1")]);
  assert.equal(work.message, "H2 is not there.");
});

test("a conflict loses nothing, and mine is saved over what is there now", async () => {
  const conflict: Saved = { is: "conflict", message: "Tomas was first.", conflicts: [
    { subject: "heads:H1", yours: {}, theirs: {}, by: "Tomas", revision: "14" },
    { subject: "heads:H2", yours: {}, theirs: {}, by: "Tomas", revision: "14" },
  ] };
  const server = serverWith();
  const first = server.save;
  server.save = async (...asked) => { await first(...asked); return server.sent.length === 1 ? conflict : { is: "saved", revision: "16", findings: [] }; };
  const work = await ready(server);
  await work.apply(move("H1"));
  await work.apply(move("H2"));
  await work.save("why");
  assert.equal(work.message, "Tomas was first.");
  assert.equal(work.session.done.length, 2);
  await work.resolve({ "heads:H1": "mine" }, "why");
  assert.equal(work.message, "Choose yours or theirs for every row.");
  await work.resolve({ "heads:H1": "mine", "heads:H2": "theirs" }, "why");
  assert.deepEqual(server.sent[1], [[move("H1")], { "heads:H1": "d1" }, "why"]);
  assert.equal(work.revision, "16");
  assert.deepEqual(work.conflicts, []);
});

test("choosing theirs for all leaves nothing to save", async () => {
  const server = serverWith({ save: async () => ({ is: "conflict", message: "no", conflicts: [{ subject: "heads:H1", yours: {}, theirs: {}, by: "T", revision: "1" }] }) });
  const work = await ready(server);
  await work.apply(move("H1"));
  await work.save("why");
  await work.resolve({ "heads:H1": "theirs" }, "why");
  assert.equal(work.message, "Nothing of yours is left to save.");
  assert.equal(work.session.done.length, 0);
});

test("a refusal keeps the work and says why", async () => {
  const work = await ready(serverWith({ save: async () => ({ is: "refused", message: "Say why." }) }));
  await work.apply(move("H1"));
  await work.save("");
  assert.equal(work.message, "Say why.");
  assert.equal(work.session.done.length, 1);
  assert.equal(work.busy, false);
});

test("a revision saved here can be taken back once", async () => {
  const server = serverWith();
  const work = await ready(server);
  await work.apply(move("H1"));
  await work.save("why");
  await work.takeBack("15");
  assert.equal(work.message, "Revision 15 is undone.");
  assert.equal(work.revision, null);
});

test("a late answer does not overtake a newer one", async () => {
  const waiting: ((preview: Preview) => void)[] = [];
  const work = await ready(serverWith({ preview: () => new Promise((answer) => waiting.push(answer)) }));
  const one = work.apply(move("H1"));
  await Promise.resolve();
  const two = work.apply(move("H2"));
  await Promise.resolve();
  assert.equal(waiting.length, 2);
  const newer: Preview = { ...NOTHING, removed: ["heads:H9"] };
  waiting[1]!(newer);
  waiting[0]!(NOTHING);
  await Promise.all([one, two]);
  assert.equal(work.preview, newer);
  assert.equal(work.session.done.length, 2);
});

test("a tool gives way when the choice no longer fits it", async () => {
  const work = await ready(serverWith());
  work.use("turn");
  assert.equal(work.tool, "select");
  assert.equal(work.message, "Choose one head first.");
  work.select(["heads:H1", "heads:H1"]);
  assert.deepEqual(work.selection, ["heads:H1"]);
  work.use("turn");
  assert.equal(work.tool, "turn");
  work.select([]);
  assert.equal(work.tool, "select");
});

test("a new head is like another in what it is, not in what it is called", async () => {
  const work = await ready(serverWith());
  assert.deepEqual(work.like("heads:H1"), { arc_deg: 90 });
  assert.deepEqual(work.like(undefined), {});
});

test("hole and kind are added where a table has no such columns", () => {
  const rows = { columns: [], rows: [{ id: "H1", digest: "d" }, { id: "H2", digest: "e" }] };
  const made = withBelongings("heads", rows, { "heads:H1": { hole: "7", kind: "green" } });
  assert.deepEqual(made.columns.map((column) => column.name), ["hole", "kind"]);
  assert.equal(made.rows[0]!["hole"], "7");
  assert.equal(made.rows[1]!["hole"], undefined);
  assert.equal(withBelongings("areas", rows, {}), rows);
});

test("what is gone is not chosen any longer; what nobody has looked at stays chosen", async () => {
  const work = await ready(serverWith({ preview: async () => ({ ...NOTHING, removed: ["heads:H1"] }) }));
  work.select(["heads:H1", "heads:H2", "heads:never saved", "pipes:P1"]);
  await work.apply({ op: "remove", table: "heads", ids: ["H1"] });
  assert.deepEqual(work.selection, ["heads:H2", "pipes:P1"]);
});

const relabelled = (label: string): Preview =>
  ({ ...NOTHING, changed: { heads: { features: [{ id: "H1", geometry: null, properties: { label } }] } } });

test("a renumbered row is saved with the digest it was seen with", async () => {
  const server = serverWith({ preview: async () => relabelled("7-2") });
  const work = await ready(server);
  work.select(["heads:H1"]);
  await work.renumber(false);
  assert.deepEqual(work.session.done, [{ op: "renumber", hole: "7", heads: ["H1"], stations: [] }]);
  await work.save("why");
  assert.deepEqual(server.sent[0]?.[1], { "heads:H1": "d0" });
});

test("where every label is right already nothing is done, and that is said", async () => {
  const work = await ready(serverWith({ preview: async () => relabelled("7-1") }));
  work.select(["heads:H1"]);
  await work.renumber(true);
  assert.deepEqual(work.session.done, []);
  assert.match(work.message, /already/);
  work.select(["heads:H2"]);
  await work.renumber(false);
  assert.equal(work.message, "What is chosen is of no hole.");
});

test("a renumbering that cannot be done says why", async () => {
  const impossible = [{ at: 0, message: "Two would be called 7-1." }];
  const work = await ready(serverWith({ preview: async () => ({ ...NOTHING, impossible }) }));
  work.select(["heads:H1"]);
  await work.renumber(false);
  assert.deepEqual(work.session.done, []);
  assert.equal(work.message, "Two would be called 7-1.");
});
