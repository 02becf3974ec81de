import assert from "node:assert/strict";
import { test } from "node:test";
import { movedDomain } from "../src/chart/domain.ts";

test("zooming keeps the middle and never leaves the night", () => {
  assert.deepEqual(movedDomain([0, 480], [0, 480], 0.5, 0), [120, 360]);
  assert.deepEqual(movedDomain([0, 480], [120, 360], 2, 0), [0, 480]);
  assert.deepEqual(movedDomain([0, 480], [0, 480], 2, 0), [0, 480]);
  assert.deepEqual(movedDomain([0, 480], [100, 112], 0.5, 0), [101, 111]);
});

test("moving stops at the ends", () => {
  assert.deepEqual(movedDomain([0, 480], [0, 100], 1, 0.5), [50, 150]);
  assert.deepEqual(movedDomain([0, 480], [0, 100], 1, -0.5), [0, 100]);
  assert.deepEqual(movedDomain([0, 480], [400, 480], 1, 0.5), [400, 480]);
});
