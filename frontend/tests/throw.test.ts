import assert from "node:assert/strict";
import { test } from "node:test";
import { boxAround, placeAt, throwRing } from "../src/map/throw.ts";

const near = (found: number, wanted: number): void =>
  assert.ok(Math.abs(found - wanted) < 1e-9, `${found} is not ${wanted}`);

function area(ring: readonly (readonly [number, number])[]): number {
  let twice = 0;
  for (let step = 1; step < ring.length; step += 1) {
    const [x0, y0] = ring[step - 1]!;
    const [x1, y1] = ring[step]!;
    twice += x0 * y1 - x1 * y0;
  }
  return Math.abs(twice) / 2;
}

test("bearings run clockwise from north", () => {
  const [eastX, eastY] = placeAt(100, 200, 10, 90);
  near(eastX, 110);
  near(eastY, 200);
  const [, southY] = placeAt(0, 0, 5, 180);
  near(southY, -5);
});

test("a full circle is closed and has nearly the area of a circle", () => {
  const ring = throwRing(0, 0, 20, 360, null);
  assert.deepEqual(ring[0], ring.at(-1));
  const share = area(ring) / (Math.PI * 400);
  assert.ok(share > 0.99 && share < 1, String(share));
});

test("an unknown arc is drawn as a full circle", () => {
  assert.deepEqual(throwRing(1, 2, 20, null, null), throwRing(1, 2, 20, 360, null));
});

test("a quarter wedge starts and ends at the head, and covers a quarter", () => {
  const ring = throwRing(50, 60, 20, 90, 45);
  assert.deepEqual(ring[0], [50, 60]);
  assert.deepEqual(ring.at(-1), [50, 60]);
  const share = area(ring) / ((Math.PI * 400) / 4);
  assert.ok(share > 0.99 && share < 1, String(share));
  for (const [x, y] of ring) assert.ok(x >= 50 - 1e-9 && y >= 60 - 1e-9, "north-east of the head");
});

test("a wedge around north reaches both sides of it", () => {
  const box = boxAround(throwRing(0, 0, 10, 180, 0))!;
  near(box[0], -10);
  near(box[2], 10);
  near(box[1], 0);
  near(box[3], 10);
});

test("what is not known is not drawn", () => {
  assert.deepEqual(throwRing(0, 0, null, 360, null), []);
  assert.deepEqual(throwRing(0, 0, 0, 360, null), []);
  assert.deepEqual(throwRing(0, 0, 20, 180, null), []);
  assert.equal(boxAround([]), null);
});
