import assert from "node:assert/strict";
import { test } from "node:test";
import { chosenRows, conflictLines, whose, type Conflict } from "../src/edit/conflicts.ts";
import { DEEDS, ofKey, TOOLS, whyNot, type Circumstances } from "../src/edit/tools.ts";
import { counted, inUnits, lengthWords, metresOf, operationWords } from "../src/edit/words.ts";
import { atSamePlace, bearingTo, fannedPlaces } from "../src/map/fan.ts";

const now = (selection: string[], more: Partial<Circumstances> = {}): Circumstances =>
  ({ selection, done: 0, undone: 0, impossible: false, busy: false, ...more });

test("every tool has words and a key of its own", () => {
  const all = [...TOOLS, ...DEEDS];
  const keys = all.map((one) => one.key).filter(Boolean);
  assert.equal(new Set(keys).size, keys.length);
  for (const one of all) assert.ok(one.words.length > 2 && one.hint.endsWith("."), one.name);
});

test("a tool that cannot be used says what to do first", () => {
  assert.equal(whyNot("turn", now([])), "Choose one head first.");
  assert.equal(whyNot("turn", now(["heads:H1", "heads:H2"])), "Choose one head only.");
  assert.equal(whyNot("turn", now(["heads:H1"])), null);
  assert.equal(whyNot("assign", now(["heads:H1", "areas:A1"])), "Choose heads only.");
  assert.equal(whyNot("assign", now(["heads:H1", "heads:H2"])), null);
  assert.equal(whyNot("reshape", now(["heads:H1"])), "Choose one area or pipe or hole first.");
  assert.equal(whyNot("split", now(["areas:A1"])), null);
  assert.equal(whyNot("merge", now(["areas:A1"])), "Choose two or more areas, or two or more pipes, first.");
  assert.equal(whyNot("merge", now(["areas:A1", "pipes:P1"])), "Choose two or more areas, or two or more pipes, first.");
  assert.equal(whyNot("merge", now(["areas:A1", "areas:A2"])), null);
  assert.equal(whyNot("delete", now([])), "Choose something first.");
  assert.equal(whyNot("select", now([])), null);
});

test("saving waits for something to save that can be made", () => {
  assert.equal(whyNot("save", now([])), "Nothing has changed.");
  assert.equal(whyNot("save", now([], { done: 1 })), null);
  assert.equal(whyNot("save", now([], { done: 1, impossible: true })), "A change cannot be made; undo it first.");
  assert.equal(whyNot("save", now([], { done: 1, busy: true })), "Wait until the server has answered.");
  assert.equal(whyNot("redo", now([], { done: 1 })), "Nothing was undone.");
  assert.equal(whyNot("discard", now([], { undone: 1 })), null);
  assert.equal(whyNot("undo", now([])), "There is nothing to undo.");
});

test("keys lead to tools, whether or not capitals are locked", () => {
  assert.equal(ofKey("m", false), "move");
  assert.equal(ofKey("M", false), "move");
  assert.equal(ofKey("z", true), "undo");
  assert.equal(ofKey("Delete", false), "delete");
  assert.equal(ofKey("z", false), null);
  assert.equal(ofKey("", false), null);
});

test("operations are told in words and in the reader's unit", () => {
  const move = { op: "move", table: "heads", ids: ["H1", "H2"], dx_m: 3, dy_m: 4 } as const;
  assert.equal(operationWords(move, "metric"), "Move 2 heads by 5.0 m");
  assert.equal(operationWords(move, "us"), "Move 2 heads by 16.4 ft");
  assert.equal(operationWords({ op: "assign", ids: ["H1"], station: null }, "us"), "Take 1 head off their station");
  assert.equal(operationWords({ op: "set", table: "areas", ids: ["A"], values: { soil: "loam" } }, "us"), "Set soil of 1 area");
  assert.equal(counted(1, "valves"), "1 valve");
});

test("feet and metres there and back", () => {
  assert.equal(metresOf(65, "us"), 65 * 0.3048);
  assert.equal(metresOf(65, "metric"), 65);
  assert.ok(Math.abs(inUnits(metresOf(65, "us"), "us") - 65) < 1e-12);
  assert.equal(lengthWords(19.812, "us"), "65.0 ft");
});

const CONFLICT: Conflict = { subject: "heads:H1", yours: { arc_deg: 90, label: "1" }, theirs: { arc_deg: 180, label: "1", station: "S1" }, by: "Tomas", revision: "14" };

test("of a conflict the columns that differ come first", () => {
  assert.deepEqual(conflictLines(CONFLICT).map((line) => [line.column, line.differs]), [["arc_deg", true], ["station", true], ["label", false]]);
  assert.equal(conflictLines({ ...CONFLICT, theirs: null }).every((line) => line.differs), true);
});

test("it says whose the other version is", () => {
  assert.equal(whose(CONFLICT), "Tomas, revision 14");
  assert.equal(whose({ ...CONFLICT, by: "another program", revision: "" }), "another program");
});

test("every row of a conflict needs a choice", () => {
  const other = { ...CONFLICT, subject: "heads:H2" };
  assert.equal(chosenRows([CONFLICT, other], { "heads:H1": "mine" }), null);
  assert.deepEqual(chosenRows([CONFLICT, other], { "heads:H1": "mine", "heads:H2": "theirs" }), { mine: ["heads:H1"], theirs: ["heads:H2"] });
});

test("heads at the same place are found together and fan out to places apart", () => {
  const heads = [{ x: 0, y: 0 }, { x: 0.1, y: 0 }, { x: 2, y: 0 }];
  assert.equal(atSamePlace(heads[0]!, heads, 0.01).length, 2);
  assert.equal(atSamePlace(heads[2]!, heads, 0.01).length, 1);
  const near = [{ x: 0, y: 0 }, { x: 0.8, y: 0 }, { x: 2, y: 0 }];
  assert.equal(atSamePlace(near[0]!, near, 0.05).length, 1);
  assert.equal(atSamePlace(near[0]!, near, 0.2).length, 2);
  assert.equal(atSamePlace(near[0]!, near, 9).length, 2);
  const places = fannedPlaces(10, 20, 4, 3);
  assert.ok(Math.abs(places[0]![0] - 10) < 1e-9 && Math.abs(places[0]![1] - 23) < 1e-9);
  for (const [x, y] of places) assert.ok(Math.abs(Math.hypot(x - 10, y - 20) - 3) < 1e-9);
  const many = fannedPlaces(0, 0, 24, 3);
  const apart = Math.hypot(many[0]![0] - many[1]![0], many[0]![1] - many[1]![1]);
  assert.ok(apart > 2.9, String(apart));
});

test("a bearing runs clockwise from north, in whole degrees below 360", () => {
  assert.equal(bearingTo([0, 0], [0, 5]), 0);
  assert.equal(bearingTo([0, 0], [5, 0]), 90);
  assert.equal(bearingTo([0, 0], [-5, 0]), 270);
  assert.equal(bearingTo([0, 0], [-0.001, 50]), 0);
});

test("renumbering wants things that have a hole, and says how many labels change", () => {
  assert.equal(whyNot("renumber", now([])), "Choose heads, stations or holes first.");
  assert.equal(whyNot("renumber", now(["holes:7"])), null);
  assert.equal(whyNot("renumber-chosen", now(["holes:7"])), "Choose heads or stations first.");
  assert.equal(whyNot("renumber-chosen", now(["heads:H1", "stations:S1"])), null);
  assert.equal(operationWords({ op: "renumber", hole: "7", heads: ["H1"], stations: ["S1", "S2"] }, "us"), "Renumber hole 7: 1 head, 2 stations");
  assert.equal(operationWords({ op: "renumber", hole: "7", heads: [], stations: ["S1"] }, "us"), "Renumber hole 7: 1 station");
});
