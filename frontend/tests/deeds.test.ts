import assert from "node:assert/strict";
import { test } from "node:test";
import * as deeds from "../src/edit/deeds.ts";

const WANTED: deeds.Wanted = { selection: ["heads:H1"], kind: "tee", spacing_m: 19.8, like: { arc_deg: 90 }, newId: (table) => `new ${table}` };
const LINE = { type: "LineString", coordinates: [[0, 0], [9, 9]] };

test("moving and deleting go table by table", () => {
  assert.deepEqual(deeds.moveOperations(["heads:H1", "valves:V1", "heads:H2"], 1, 2), [
    { op: "move", table: "heads", ids: ["H1", "H2"], dx_m: 1, dy_m: 2 },
    { op: "move", table: "valves", ids: ["V1"], dx_m: 1, dy_m: 2 },
  ]);
  assert.deepEqual(deeds.removeOperations(["areas:A1"]), [{ op: "remove", table: "areas", ids: ["A1"] }]);
  assert.deepEqual(deeds.removeOperations([]), []);
});

test("a hole is renumbered once, however many of its heads are chosen", () => {
  const holes: Record<string, string | null> = { "heads:H1": "7", "heads:H2": "7", "heads:H3": null, "holes:8": "8" };
  const holeOf = (subject: string): string | null | undefined => holes[subject];
  assert.deepEqual(deeds.renumberOperations(Object.keys(holes), holeOf, false), [{ op: "renumber", hole: "7" }, { op: "renumber", hole: "8" }]);
});

test("of a chosen few each hole is told its own", () => {
  const holes: Record<string, string> = { "heads:H1": "7", "heads:H2": "8", "stations:S1": "7" };
  assert.deepEqual(deeds.renumberOperations(Object.keys(holes), (subject) => holes[subject], true), [
    { op: "renumber", hole: "7", heads: ["H1"], stations: ["S1"] },
    { op: "renumber", hole: "8", heads: ["H2"], stations: [] },
  ]);
});

test("a renumbering names the rows whose label it changes, so that others may have them meanwhile", () => {
  const row = (id: string, label: string | null) => ({ id, geometry: null, properties: { label } });
  const preview = { changed: { heads: { features: [row("H1", "7-1"), row("H2", "7-2"), row("H3", null)] }, stations: { features: [row("S1", "7-1")] } }, removed: [], findings: [], impossible: [] };
  const labels: Record<string, string | null> = { "heads:H1": "7-1", "heads:H2": "wrong", "stations:S1": null };
  const labelOf = (subject: string): string | null | undefined => labels[subject];
  assert.deepEqual(deeds.renumberNaming({ op: "renumber", hole: "7" }, preview, labelOf), { op: "renumber", hole: "7", heads: ["H2"], stations: ["S1"] });
  assert.deepEqual(deeds.renumberNaming({ op: "renumber", hole: "7", heads: ["H1", "H2"], stations: [] }, preview, labelOf), { op: "renumber", hole: "7", heads: ["H2"], stations: [] });
  assert.equal(deeds.renumberNaming({ op: "renumber", hole: "7", heads: ["H1"], stations: [] }, preview, labelOf), null);
});

test("a head does not copy its arc from itself", () => {
  assert.deepEqual(deeds.copyArcOperation(["heads:H1", "heads:H2"], "H1"), { op: "copy_arc", from: "H1", ids: ["H2"] });
  assert.equal(deeds.copyArcOperation(["heads:H1"], "H1"), null);
});

test("turning and assigning take the chosen heads", () => {
  assert.deepEqual(deeds.turnOperation(["heads:H1"], 45), { op: "turn", ids: ["H1"], bearing_deg: 45 });
  assert.deepEqual(deeds.assignOperation(["heads:H1", "heads:H2"], null), { op: "assign", ids: ["H1", "H2"], station: null });
  assert.deepEqual(deeds.mergeOperation(["areas:A2", "areas:A1"]), { op: "merge", table: "areas", ids: ["A2", "A1"] });
});

test("what is drawn becomes what the tool is for", () => {
  assert.deepEqual(deeds.drawnOperation("place-along", LINE, WANTED), { op: "place_along", line: LINE.coordinates, spacing_m: 19.8, like: "H1" });
  assert.deepEqual(deeds.drawnOperation("split", LINE, { ...WANTED, selection: ["areas:A1"] }), { op: "split", table: "areas", id: "A1", line: LINE.coordinates });
  const point = { type: "Point", coordinates: [1, 2] };
  assert.deepEqual(deeds.drawnOperation("draw-head", point, WANTED), { op: "add", table: "heads", id: "new heads", values: { arc_deg: 90 }, geometry: point });
  const area = { type: "Polygon", coordinates: [] };
  assert.deepEqual(deeds.drawnOperation("draw-area", area, WANTED), { op: "add", table: "areas", id: "new areas", values: { kind: "tee" }, geometry: area });
  assert.equal(deeds.drawnOperation("select", LINE, WANTED), null);
});

test("a new id goes on counting in the manner of most", () => {
  assert.equal(deeds.nextId(["H0001", "H0041", "X9"], "H"), "H0042");
  assert.equal(deeds.nextId(["07-F-1", "07-F-2", "9"], "A"), "07-F-3");
  assert.equal(deeds.nextId([], "A"), "A1");
  assert.equal(deeds.nextId(["north", "south"], "A"), "A1");
  assert.equal(deeds.nextId(["H99"], "H"), "H100");
});

test("choosing one more adds it, or lets it go where it was chosen; a box only adds", () => {
  assert.deepEqual(deeds.chosenWith(["a"], ["b"], false), ["b"]);
  assert.deepEqual(deeds.chosenWith(["a"], [], false), []);
  assert.deepEqual(deeds.chosenWith(["a"], ["b"], true), ["a", "b"]);
  assert.deepEqual(deeds.chosenWith(["a", "b"], ["b"], true), ["a"]);
  assert.deepEqual(deeds.chosenWith(["a"], ["a", "b"], true), ["a", "b"]);
});

test("pointing at a head assigns its station, or copies its arc; a head without gives nothing", () => {
  const heads = [{ id: "H1", station: "S1" }, { id: "H2", station: null }];
  assert.deepEqual(deeds.pointedOperation("assign", ["heads:H3"], "H1", heads), { op: "assign", ids: ["H3"], station: "S1" });
  assert.equal(deeds.pointedOperation("assign", ["heads:H3"], "H2", heads), null);
  assert.deepEqual(deeds.pointedOperation("copy-arc", ["heads:H3"], "H2", heads), { op: "copy_arc", from: "H2", ids: ["H3"] });
});

test("what was done on the map becomes operations", () => {
  const geometry = { type: "Polygon", coordinates: [] };
  assert.deepEqual(deeds.doneOperations("move", { is: "moved", subjects: ["heads:H1"], dx_m: 1, dy_m: 0 }, WANTED), [{ op: "move", table: "heads", ids: ["H1"], dx_m: 1, dy_m: 0 }]);
  assert.deepEqual(deeds.doneOperations("turn", { is: "turned", bearing_deg: 7 }, WANTED), [{ op: "turn", ids: ["H1"], bearing_deg: 7 }]);
  assert.deepEqual(deeds.doneOperations("reshape", { is: "reshaped", subject: "areas:A1", geometry }, WANTED), [{ op: "reshape", table: "areas", id: "A1", geometry }]);
  assert.equal(deeds.doneOperations("draw-area", { is: "drawn", geometry }, WANTED)[0]?.op, "add");
});
