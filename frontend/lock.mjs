// Take the funding notes out of the lock, the only part of it that holds addresses.
import { readFileSync, writeFileSync } from "node:fs";

const lock = JSON.parse(readFileSync("package-lock.json", "utf8"));
for (const entry of Object.values(lock.packages)) {
  delete entry.funding;
  delete entry.resolved;
}
writeFileSync("package-lock.json", `${JSON.stringify(lock, null, 2)}\n`);
