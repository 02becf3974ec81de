import assert from "node:assert/strict";
import { test } from "node:test";
import { clampedStart, clockAfter } from "../src/pins.ts";

test("a start stays in the night", () => {
  assert.equal(clampedStart(-5, 400), 0);
  assert.equal(clampedStart(12.4, 400), 12);
  assert.equal(clampedStart(450, 400), 400);
  assert.equal(clampedStart(3, -10), 0);
});

test("the clock goes around midnight both ways", () => {
  assert.equal(clockAfter("23:50", 15), "00:05");
  assert.equal(clockAfter("00:05", -15), "23:50");
  assert.equal(clockAfter("02:10", 0), "02:10");
  assert.equal(clockAfter("21:00", 481), "05:01");
});
