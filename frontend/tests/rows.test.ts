import assert from "node:assert/strict";
import { test } from "node:test";
import type { Preview } from "../src/edit/preview.ts";
import { PAGE_ROWS, paged, shownRows, shownValue, sorted, type RowsDocument, type ShownRow } from "../src/edit/rows.ts";

const HEADS: RowsDocument = {
  columns: [],
  rows: [
    { id: "H1", digest: "1", label: "7-2", arc_deg: 360 },
    { id: "H2", digest: "2", label: "7-10", arc_deg: null },
    { id: "H3", digest: "3", label: "7-1", arc_deg: 90 },
  ],
};
const PREVIEW: Preview = {
  changed: { heads: { features: [
    { id: "H1", geometry: null, properties: { arc_deg: 180 } },
    { id: "H9", geometry: null, properties: { label: "new", arc_deg: 45 } },
  ] } },
  removed: ["heads:H3", "areas:H2"], findings: [], impossible: [],
};
const ids = (rows: readonly ShownRow[]): string[] => rows.map((row) => row.id);

test("without operations rows are as the server has them", () => {
  assert.deepEqual(shownRows("heads", HEADS, null).map((row) => row.state), ["", "", ""]);
});

test("a row shows what it will be, a new one comes first, a removed one stays in sight", () => {
  const rows = shownRows("heads", HEADS, PREVIEW);
  assert.deepEqual(rows.map((row) => [row.id, row.state]), [["H9", "new"], ["H1", "changed"], ["H2", ""], ["H3", "removed"]]);
  assert.equal(rows[1]!.values["arc_deg"], 180);
  assert.equal(rows[1]!.values["label"], "7-2");
  assert.equal(rows[0]!.values["id"], "H9");
});

test("labels sort as people count, what is missing comes last both ways", () => {
  const rows = shownRows("heads", HEADS, null);
  assert.deepEqual(ids(sorted(rows, "label", false)), ["H3", "H1", "H2"]);
  assert.deepEqual(ids(sorted(rows, "label", true)), ["H2", "H1", "H3"]);
  assert.deepEqual(ids(sorted(rows, "arc_deg", false)), ["H3", "H1", "H2"]);
  assert.deepEqual(ids(sorted(rows, "arc_deg", true)), ["H1", "H3", "H2"]);
});

test("two thousand rows come in pages, and no page is past the end", () => {
  const rows = Array.from({ length: 2000 }, (_, place) => place);
  assert.equal(paged(rows, 0).pages, 2000 / PAGE_ROWS);
  assert.equal(paged(rows, 3).rows[0], 3 * PAGE_ROWS);
  assert.equal(paged(rows, 99).page, 2000 / PAGE_ROWS - 1);
  assert.equal(paged(rows, -1).page, 0);
  assert.deepEqual(paged([], 4), { page: 0, pages: 1, rows: [] });
});

test("values are shown short, and missing is a dash", () => {
  assert.equal(shownValue(null), "–");
  assert.equal(shownValue(undefined), "–");
  assert.equal(shownValue(19.81234), "19.812");
  assert.equal(shownValue(0), "0");
  assert.equal(shownValue(true), "yes");
  assert.equal(shownValue("PVC"), "PVC");
  assert.equal(shownValue({ type: "Point", coordinates: [1, 2] }), "a place or shape");
});
