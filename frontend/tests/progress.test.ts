// What the page says while a file goes out.
import assert from "node:assert/strict";
import { test } from "node:test";
import { sentWords } from "../src/upload_words.ts";

test("a part is told in megabytes of the whole", () => {
  assert.equal(sentWords(1_572_864, 10_485_760), "1.5 of 10.0 MB sent");
  assert.equal(sentWords(0, 1_048_576), "0.0 of 1.0 MB sent");
});

test("when all is sent, the wait is the server's", () => {
  assert.equal(sentWords(2_097_152, 2_097_152), "All 2.0 MB sent; the server reads it.");
});
