import assert from "node:assert/strict";
import { test } from "node:test";
import { overlaid, type Preview } from "../src/edit/preview.ts";
import { relabelled, type GroundDocument } from "../src/map/documents.ts";

const GROUND: GroundDocument = {
  areas: [{ id: "A1", label: "green 1", kind: "green", polygons: [[[[0, 0], [1, 0], [1, 1], [0, 0]]]] }],
  holes: [],
  pipes: [{ id: "P1", label: "P1", lines: [[[0, 0], [9, 0]]], width_mm: 50 }],
  heads: [
    { id: "H1", label: "1-1", x: 0, y: 0, throw_m: 19.8, arc_deg: 360, bearing_deg: null, station: "S1" },
    { id: "H2", label: "1-2", x: 5, y: 5, throw_m: null, arc_deg: null, bearing_deg: null, station: null },
  ],
  points: [{ id: "V1", table: "valves", label: "V1", x: 1, y: 1 }, { id: "U1", table: "pumps", label: "U1", x: 2, y: 2 }],
};
const preview = (changed: Preview["changed"], removed: string[] = []): Preview => ({ changed, removed, findings: [], impossible: [] });
const row = (id: string, type: string, coordinates: unknown, properties = {}) => ({ id, geometry: { type, coordinates }, properties });

test("nothing changed is the very same document, table by table", () => {
  assert.equal(overlaid(GROUND, null), GROUND);
  const same = overlaid(GROUND, preview({}));
  for (const table of ["areas", "holes", "pipes", "heads", "points"] as const) assert.equal(same[table], GROUND[table], table);
});

test("a moved head stands elsewhere and keeps the throw that the map knew", () => {
  const made = overlaid(GROUND, preview({ heads: { features: [row("H1", "Point", [3, 4], { arc_deg: 90, bearing_deg: 45, station: "S2", label: "1-1" })] } }));
  assert.deepEqual(made.heads[0], { id: "H1", label: "1-1", x: 3, y: 4, throw_m: 19.8, arc_deg: 90, bearing_deg: 45, station: "S2" });
  assert.equal(made.heads[1], GROUND.heads[1]);
  assert.equal(made.areas, GROUND.areas);
  assert.equal(made.points, GROUND.points);
});

test("a new head comes with the throw that the server tells, a removed one is gone", () => {
  const made = overlaid(GROUND, preview({ heads: { features: [row("H3", "Point", [7, 7], { throw_m: 12 })] } }, ["heads:H1", "areas:H2"]));
  assert.deepEqual(made.heads.map((head) => head.id), ["H2", "H3"]);
  assert.equal(made.heads[1]!.throw_m, 12);
  assert.equal(made.heads[1]!.label, "H3");
});

test("single and multiple shapes are drawn alike", () => {
  const ring = [[0, 0], [2, 0], [2, 2], [0, 0]];
  const one = overlaid(GROUND, preview({ areas: { features: [row("A1", "Polygon", [ring], { kind: "tee" })] } })).areas[0]!;
  const many = overlaid(GROUND, preview({ areas: { features: [row("A1", "MultiPolygon", [[ring]], { kind: "tee" })] } })).areas[0]!;
  assert.deepEqual(one, many);
  assert.equal(one.kind, "tee");
  const pipe = overlaid(GROUND, preview({ pipes: { features: [row("P1", "LineString", [[0, 0], [4, 4]], { diameter_mm: 80 })] } })).pipes[0]!;
  assert.deepEqual(pipe.lines, [[[0, 0], [4, 4]]]);
  assert.equal(pipe.width_mm, 80);
});

test("points of one table change without the others", () => {
  const made = overlaid(GROUND, preview({ valves: { features: [row("V1", "Point", [8, 8], {})] } }, ["pumps:U1"])).points;
  assert.deepEqual(made, [{ id: "V1", table: "valves", label: "V1", x: 8, y: 8 }]);
});

test("a row without a shape is not drawn", () => {
  const made = overlaid(GROUND, preview({ heads: { features: [{ id: "H9", geometry: null, properties: {} }] } }));
  assert.equal(made.heads, GROUND.heads);
});

test("a label that would be another stands beside the one now; the same label does not", () => {
  const made = overlaid(GROUND, preview({ heads: { features: [row("H1", "Point", [0, 0], { label: "1-9" }), row("H2", "Point", [5, 6], { label: "1-2" })] } }));
  assert.deepEqual(made.heads.map((head) => [head.label, head.label_now]), [["1-9", "1-1"], ["1-2", undefined]]);
});

test("proposed labels are laid over the heads that bear another", () => {
  const made = relabelled(GROUND, { H1: "1-9", H2: "1-2" });
  assert.deepEqual(made.heads.map((head) => [head.label, head.label_now]), [["1-9", "1-1"], ["1-2", undefined]]);
  assert.equal(made.heads[1], GROUND.heads[1]);
  assert.equal(made.areas, GROUND.areas);
});
