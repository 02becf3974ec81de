// Pairs of a pixel and a place: picked in any order, written in the address, read again.
import assert from "node:assert/strict";
import { test } from "node:test";
import { nextStep, pairsFrom, pairsText, withPixel, withPlace, type Picked } from "../src/map/pairs.ts";

const NONE: Picked = { pairs: [], pixel: null, place: null };

test("a pixel and a place make a pair, in either order", () => {
  const pair = { pixel: [10, 20], place: [413000, 4340000] };
  assert.deepEqual(withPlace(withPixel(NONE, [10, 20]), [413000, 4340000]).pairs, [pair]);
  assert.deepEqual(withPixel(withPlace(NONE, [413000, 4340000]), [10, 20]).pairs, [pair]);
});

test("choosing the same side again moves that half and makes no pair", () => {
  const picked = withPixel(withPixel(NONE, [10, 20]), [30, 40]);
  assert.deepEqual(picked, { pairs: [], pixel: [30, 40], place: null });
});

test("earlier pairs stay and the halves are free again", () => {
  const one = withPlace(withPixel(NONE, [1, 2]), [3, 4]);
  const two = withPlace(withPixel(one, [5, 6]), [7, 8]);
  assert.equal(two.pairs.length, 2);
  assert.deepEqual([two.pixel, two.place], [null, null]);
  assert.equal(one.pairs.length, 1);
});

test("the address has two decimals and gives the pairs back", () => {
  const text = "10.25,20.00,413000.12,4340000.00;1.00,2.00,3.00,4.00";
  assert.equal(pairsText(pairsFrom(text)), text);
  assert.deepEqual(pairsFrom(""), []);
  assert.deepEqual(pairsFrom("1,2,3;a,b,c,d;1,2,3,4").length, 1);
});

test("the next step says which side is wanted", () => {
  assert.match(nextStep(NONE), /^Point 1: choose a spot in the picture/);
  assert.match(nextStep(withPixel(NONE, [1, 2])), /now the same spot on the map/);
  assert.match(nextStep(withPlace(NONE, [1, 2])), /now the same spot in the picture/);
  assert.match(nextStep(withPlace(withPixel(NONE, [1, 2]), [3, 4])), /^Point 2/);
});
