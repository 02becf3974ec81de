// Spots in attributes and addresses of the coverage map.
import assert from "node:assert/strict";
import { test } from "node:test";
import { NOTHING_GROUND } from "../src/map/documents.ts";
import { askedAt, outlined, placeFrom } from "../src/map/spots.ts";

test("a spot is two numbers, and anything else is none", () => {
  assert.deepEqual(placeFrom("413000.5,4340000"), [413000.5, 4340000]);
  for (const text of [null, "", "413000", "a,b", "1,", ",2", "NaN,3"]) assert.equal(placeFrom(text), null, String(text));
});

test("the address asks about a spot to the tenth of a metre and keeps the rest", () => {
  const asked = new URL(askedAt("/coverage?night=2025-07-10&show=depth", "http://course.test/coverage?x=1", [413000.123, 4340000.96]));
  assert.equal(asked.pathname, "/coverage");
  assert.deepEqual([...asked.searchParams], [["night", "2025-07-10"], ["show", "depth"], ["x", "413000.1"], ["y", "4340001.0"]]);
});

test("another spot takes the place of the one before", () => {
  const asked = askedAt("/coverage?x=1&y=2", "http://course.test/", [3, 4]);
  assert.equal(asked, "http://course.test/coverage?x=3.0&y=4.0");
});

test("every area becomes an outline and nothing else changes", () => {
  const area = { id: "A-F", label: "Fairway", kind: "fairway", polygons: [] };
  assert.deepEqual(outlined({ ...NOTHING_GROUND, areas: [area] }), { areas: { "A-F": "bare" }, stations: {} });
});
