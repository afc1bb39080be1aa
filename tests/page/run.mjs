// SPDX-License-Identifier: GPL-3.0-or-later
// Runs one test of the live page: finds the browser, and makes the folder for the pictures it keeps.
// Usage: node run.mjs TEST.mjs [required]. Without a browser the status is 77, which ctest takes as skipped, or 1
// where one is required. CABER_CHROMIUM names a browser in place of the one on PATH, CABER_PICTURES the folder.
import { accessSync, constants, mkdirSync } from "node:fs";
import { delimiter, join } from "node:path";
import { pathToFileURL } from "node:url";

const [test, required] = process.argv.splice(2); // what is left would choose among the test's checks

function runs(file) {
  try {
    accessSync(file, constants.X_OK);
    return true;
  } catch {
    return false;
  }
}

/** Refuses or leaves out the test, with a reason. */
function without(reason) {
  console.log(`${required ? "FAILED" : "skipped"}: ${reason}`);
  process.exit(required ? 1 : 77);
}

const places = process.env.PATH.split(delimiter);
const found =
  process.env.CABER_CHROMIUM || ["chromium-headless-shell", "chromium"].flatMap((name) => places.map((place) => join(place, name))).find(runs);
if (!found || !runs(found))
  without(`the tests of the page need chromium, and ${found ?? "it"} is not there: scripts/setup check installs it`);
process.env.CABER_CHROMIUM = found;
if (process.env.CABER_PICTURES) mkdirSync(process.env.CABER_PICTURES, { recursive: true });
process.argv.splice(1, process.argv.length, test); // as the test would be run by itself: all of its checks
await import(pathToFileURL(test).href);
