import assert from "node:assert/strict";
import { test } from "node:test";
import { distance, filterOf } from "../src/edit/filter.ts";
import type { Values } from "../src/edit/operations.ts";

const COLUMNS = ["id", "label", "kind", "hole", "arc_deg", "station"];
const HEADS: Values[] = [
  { id: "H1", label: "7-1", kind: "fairway", hole: "7", arc_deg: 360, station: "S7", digest: "abc" },
  { id: "H2", label: "7-2", kind: "fairway", hole: "7", arc_deg: 180, station: null, digest: "abd" },
  { id: "H3", label: "17-2", kind: "green", hole: 17, arc_deg: null, station: "S17 west", digest: "abe" },
];

function found(text: string): string[] {
  const filter = filterOf(text, COLUMNS);
  assert.equal(filter.fault, null);
  return HEADS.filter(filter.fits as (values: Values) => boolean).map((head) => String(head["id"]));
}

test("all terms must fit, and a column may go without its unit", () => {
  assert.deepEqual(found("kind=fairway hole=7 arc<360"), ["H2"]);
  assert.deepEqual(found(""), ["H1", "H2", "H3"]);
});

test("numbers are compared as numbers, whole values only", () => {
  assert.deepEqual(found("hole=7"), ["H1", "H2"]);
  assert.deepEqual(found("hole=17"), ["H3"]);
  assert.deepEqual(found("arc>=180"), ["H1", "H2"]);
  assert.deepEqual(found("arc_deg<=180"), ["H2"]);
});

test("what is missing is found by an empty value and never by a limit", () => {
  assert.deepEqual(found("station="), ["H2"]);
  assert.deepEqual(found("station!="), ["H1", "H3"]);
  assert.deepEqual(found("arc<9999"), ["H1", "H2"]);
  assert.deepEqual(found("arc="), ["H3"]);
});

test("a comma means any of them, quotes hold blanks together, case does not matter", () => {
  assert.deepEqual(found("kind=GREEN,tee"), ["H3"]);
  assert.deepEqual(found("kind!=green,tee"), ["H1", "H2"]);
  assert.deepEqual(found('station="s17 west"'), ["H3"]);
});

test("a bare word is looked for in every column, but not in the digest", () => {
  assert.deepEqual(found("17"), ["H3"]);
  assert.deepEqual(found("ab"), []);
  assert.deepEqual(found("7-"), ["H1", "H2", "H3"]);
});

test("an unknown column is refused with the nearest known one", () => {
  assert.equal(filterOf("hloe=7", COLUMNS).fault, "There is no column “hloe”; did you mean “hole”?");
  assert.equal(filterOf("x=7", []).fault, "There is no column “x”.");
});

test("a limit needs a number", () => {
  assert.equal(filterOf("arc<", COLUMNS).fault, "“arc_deg<” needs a number after it.");
  assert.equal(filterOf("arc>wide", COLUMNS).fault, "“arc_deg>” needs a number after it.");
});

test("distance counts letters to change", () => {
  assert.equal(distance("kind", "kind"), 0);
  assert.equal(distance("kin", "kind"), 1);
  assert.equal(distance("hloe", "hole"), 2);
  assert.equal(distance("", "hole"), 4);
});
