import assert from "node:assert/strict";
import { test } from "node:test";
import { outlineText } from "../src/map/outline.ts";

test("a ring is told in centimetres without its closing corner", () => {
  const ring = [[1.005, 2], [10.25, 2.333], [5, 9], [1.005, 2]] as const;
  assert.equal(outlineText(ring), "1.00 2.00, 10.25 2.33, 5.00 9.00");
});

test("a ring of nothing is no text", () => {
  assert.equal(outlineText([]), "");
});
