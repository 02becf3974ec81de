import assert from "node:assert/strict";
import { test } from "node:test";
import { withParameter } from "../src/addresses.ts";
import { chartConfig } from "../src/chart/config.ts";
import { lighter } from "../src/map/palette.ts";

test("a choice is kept in the address, beside the others", () => {
  const address = withParameter("http://course.test/tonight?night=2026-07-14&colour=need", "colour", "minutes");
  assert.equal(address, "http://course.test/tonight?night=2026-07-14&colour=minutes");
});

test("a colour can be let through", () => {
  assert.equal(lighter("#102030", 0.5), "#10203080");
  assert.equal(lighter("#102030", 0), "#10203000");
  assert.equal(lighter("#102030", 7), "#102030ff");
});

test("charts take the page's colours, one for each series in its order", () => {
  const config = chartConfig(["tee", "green"], (name) => `<${name}>`) as {
    range: { category: string[] };
    axis: { labelColor: string };
  };
  assert.deepEqual(config.range.category, ["<kind-tee>", "<kind-green>"]);
  assert.equal(config.axis.labelColor, "<muted>");
});
