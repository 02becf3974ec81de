import assert from "node:assert/strict";
import { test } from "node:test";
import { idsByTable, parted, subjectsOf, withoutSubjects, type Operation } from "../src/edit/operations.ts";
import { applied, isDirty, NOTHING_DONE, redone, seenNow, settled, touched, undone, type Session } from "../src/edit/session.ts";

const move = (ids: string[], dx_m: number, dy_m = 0): Operation => ({ op: "move", table: "heads", ids, dx_m, dy_m });
const set = (ids: string[]): Operation => ({ op: "set", table: "heads", ids, values: { arc_deg: 90 } });
const digests = (subject: string): string => `digest of ${subject}`;
const after = (...operations: Operation[]): Session =>
  operations.reduce((session, one) => applied(session, one, digests), NOTHING_DONE);

test("a fresh session has nothing to save, undo or do again", () => {
  assert.equal(isDirty(NOTHING_DONE), false);
  assert.equal(undone(NOTHING_DONE), NOTHING_DONE);
  assert.equal(redone(NOTHING_DONE), NOTHING_DONE);
});

test("moves of the same rows one after another are one move", () => {
  const session = after(move(["H1", "H2"], 1, 2), move(["H1", "H2"], 0.5, -3));
  assert.deepEqual(session.done, [move(["H1", "H2"], 1.5, -1)]);
});

test("moves of other rows, or with something between, stay apart", () => {
  assert.equal(after(move(["H1"], 1), move(["H2"], 1)).done.length, 2);
  assert.equal(after(move(["H1"], 1), set(["H1"]), move(["H1"], 1)).done.length, 3);
  const pipe: Operation = { op: "move", table: "pipes", ids: ["H1"], dx_m: 1, dy_m: 0 };
  assert.equal(after(move(["H1"], 1), pipe).done.length, 2);
});

test("of several turns of the same heads the last one holds", () => {
  const turn = (bearing_deg: number): Operation => ({ op: "turn", ids: ["H1"], bearing_deg });
  assert.deepEqual(after(turn(10), turn(20)).done, [turn(20)]);
});

test("a hundred operations can be undone and done again, in order", () => {
  const many = Array.from({ length: 100 }, (_, place) => set([`H${place}`]));
  let session = after(...many);
  for (let count = 0; count < 100; count += 1) session = undone(session);
  assert.deepEqual(session.done, []);
  assert.equal(isDirty(session), false);
  for (let count = 0; count < 100; count += 1) session = redone(session);
  assert.deepEqual(session.done, many);
});

test("doing something new forgets what was undone", () => {
  const session = applied(undone(after(set(["H1"]), set(["H2"]))), set(["H3"]), digests);
  assert.deepEqual(session.undone, []);
  assert.deepEqual(session.done, [set(["H1"]), set(["H3"])]);
});

test("sessions are values: what was before stays as it was", () => {
  const before = after(set(["H1"]));
  applied(before, set(["H2"]), digests);
  undone(before);
  assert.deepEqual(before.done, [set(["H1"])]);
});

test("a row is seen as it was when first touched, even if it is read again later", () => {
  const session = applied(after(set(["H1"])), move(["H1"], 1), () => "newer");
  assert.deepEqual(seenNow(session), { "heads:H1": "digest of heads:H1" });
});

test("only rows that are still touched are sent, and new rows have no digest", () => {
  const session = undone(after(set(["H1"]), set(["H2"])));
  assert.deepEqual(touched(session), ["heads:H1"]);
  assert.deepEqual(seenNow(session), { "heads:H1": "digest of heads:H1" });
  assert.deepEqual(seenNow(applied(NOTHING_DONE, set(["H-new"]), () => undefined)), {});
});

test("after a conflict: mine is kept over what is there now, theirs gives up my change", () => {
  const session = settled(after(set(["H1", "H2"]), move(["H2"], 1)), { "heads:H1": "now" }, ["heads:H2"]);
  assert.deepEqual(session.done, [set(["H1"])]);
  assert.deepEqual(seenNow(session), { "heads:H1": "now" });
});

test("an operation knows the rows it changes", () => {
  assert.deepEqual(subjectsOf({ op: "assign", ids: ["H1", "H2"], station: null }), ["heads:H1", "heads:H2"]);
  assert.deepEqual(subjectsOf({ op: "copy_arc", from: "H1", ids: ["H2"] }), ["heads:H2"]);
  assert.deepEqual(subjectsOf({ op: "split", table: "areas", id: "A1", line: [] }), ["areas:A1"]);
  assert.deepEqual(subjectsOf({ op: "place_along", line: [], spacing_m: 20, like: "H1" }), []);
  assert.deepEqual(subjectsOf({ op: "add", table: "heads", id: "H9", values: {}, geometry: { type: "Point", coordinates: [0, 0] } }), []);
});

test("an operation without its rows is gone; a merge needs two", () => {
  const merge: Operation = { op: "merge", table: "areas", ids: ["A1", "A2"] };
  assert.equal(withoutSubjects(merge, new Set(["areas:A2"])), null);
  assert.equal(withoutSubjects(merge, new Set(["areas:A3"]))?.op, "merge");
  const reshape: Operation = { op: "reshape", table: "areas", id: "A1", geometry: { type: "Polygon", coordinates: [] } };
  assert.equal(withoutSubjects(reshape, new Set(["areas:A1"])), null);
  assert.equal(withoutSubjects(reshape, new Set(["areas:A2"])), reshape);
});

test("subjects are parted at the first colon", () => {
  assert.deepEqual(parted("heads:7:14"), ["heads", "7:14"]);
  assert.deepEqual([...idsByTable(["heads:H1", "areas:A1", "heads:H2"])], [["heads", ["H1", "H2"]], ["areas", ["A1"]]]);
});

test("theirs of a renumbered row leaves the other labels; of the last, nothing", () => {
  const renumber: Operation = { op: "renumber", hole: "7", heads: ["H1", "H2"], stations: ["S1"] };
  assert.deepEqual(subjectsOf(renumber), ["heads:H1", "heads:H2", "stations:S1"]);
  assert.deepEqual(withoutSubjects(renumber, new Set(["heads:H2"])), { op: "renumber", hole: "7", heads: ["H1"], stations: ["S1"] });
  assert.equal(withoutSubjects(renumber, new Set(subjectsOf(renumber))), null);
});
