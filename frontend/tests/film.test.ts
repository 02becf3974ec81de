import assert from "node:assert/strict";
import { test } from "node:test";
import { nextFrame } from "../src/film.ts";

test("the film begins again after its last frame", () => {
  assert.equal(nextFrame(0, 97), 1);
  assert.equal(nextFrame(96, 97), 0);
  assert.equal(nextFrame(0, 0), 0);
});
