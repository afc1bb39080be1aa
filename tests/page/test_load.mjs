// SPDX-License-Identifier: GPL-3.0-or-later
// The view "The player's load" as a reader meets it: the drawn program against its formula, written out here; what a
// drag, keys and quickness set, against what `caber swing --json` prints for the same; what cannot be dragged; its
// address, undo, errors and files.
// Formulas: S(x) = 6 x^5 - 15 x^4 + 10 x^3, the quintic between 0 and 1 whose slope and curvature are 0 at both ends
// (from these six conditions); T(t) and the shoulders' torque as in "The load of a player" of caber-files(5).
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { CABER, MODELS, accessible, half, number, open, page, printed as print, ready, run, setupFile, sizes, take, takeCsv, takePng, takeSvg } from "./harness.mjs";

const FILE = "neutral-smooth.yaml";
const printed = (set, file = FILE) => print("swing", setupFile(file), ...Object.entries(set).flatMap(([path, value]) => ["--set", `${path}=${value}`])).impact;
/** What stands in the address, once it does. */
const setOf = async () => {
  await ready();
  await page.waitForTimeout(300); // main.ts: ADDRESS_MS
  const asked = new URLSearchParams(decodeURI(await page.evaluate(() => location.hash)).split("?")[1]).getAll("set");
  return Object.fromEntries(asked.map((pair) => [pair.slice(0, pair.indexOf("=")), pair.slice(pair.indexOf("=") + 1)]));
};
/** The numbers of the table, and the three of the text, against the program. */
const shown = async (set) => {
  const cells = await page.$$eval("td[data-of]", (list) => Object.fromEntries(list.map((td) => [`${td.dataset.of} ${td.dataset.name}`, td.textContent])));
  const [before, now] = [printed({}), printed(set)];
  assert.equal(Object.keys(cells).length, 39);
  for (const [key, text] of Object.entries(cells)) {
    const [of, name] = key.split(" ");
    const want = of === "file" ? before[name] : of === "impact" ? now[name] : now[name] - before[name];
    assert.ok(Math.abs(number(text) - want) <= half(text), `${key}: shown ${text}, must be ${want}`);
  }
};
const S = (x) => (x <= 0 ? 0 : x >= 1 ? 1 : 6 * x ** 5 - 15 * x ** 4 + 10 * x ** 3);
/** SMOOTH.yaml's load, in s and N m, with what is set. */
const player = readFileSync(join(MODELS, "players/smooth.yaml"), "utf8");
const value = (joint, key, set) => {
  const text = set[`player.load.${joint}.${key}`] ?? set[`load.${joint}.${key}`] ?? new RegExp(`  ${joint}:.*?\\b${key}: ([-\\d.]+)`, "s").exec(player)[1];
  return Number.parseFloat(text);
};
const couple = (set) => (t) => {
  const g = (key) => value("grip", key, set);
  return g("peak") * S((t - g("onset")) / g("rise")) * (1 - S((t - g("release")) / g("fall"))) + g("late") * S((t - g("late_onset")) / g("late_rise"));
};
const torque = (set) => (t) => value("hub", "peak", set) * (1 - Math.exp(-t / value("hub", "rise", set)));
/** A curve of a chart, by its file, against a function of time. */
const isCurve = async (label, column, want) => {
  const { rows } = await takeCsv(label);
  const k = rows[0].indexOf(column);
  const points = rows.slice(2).filter((row) => row[k] !== "").map((row) => [Number(row[0]), Number(row[k])]);
  assert.ok(points.length > 80, `${label}: ${points.length} points`);
  for (const [t, y] of points) assert.ok(Math.abs(y - want(t)) < 1e-9, `${label} at ${t}: ${y}, must be ${want(t)}`);
  return points;
};
const handle = (name) => page.locator(`.handle[aria-label="${name}"]`);
const middle = async (name) => {
  const box = await handle(name).boundingBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
};

const checks = {
  "the drawn program is its formula, as in the file and as it is set": async () => {
    const set = { "load.grip.rise": "0.05 s", "load.grip.late": "-12.5 N m", "load.hub.peak": "230 N m" };
    await open(`#/load?setup=${FILE}${Object.entries(set).map(([k, v]) => `&set=${k}=${encodeURIComponent(v)}`).join("")}`);
    await isCurve("Save load of the hands as CSV", "load", couple(set));
    await isCurve("Save load of the hands as CSV", "load_in_the_file", couple({}));
    await isCurve("Save load of the shoulders as CSV", "load", torque(set));
    await shown(set);
  },
  "a point dragged by hand is where the hand is, and the numbers are the program's; one undo takes it back": async () => {
    await open(`#/load?setup=${FILE}`);
    const [x, y] = await middle("height");
    await page.mouse.move(x, y);
    await page.mouse.down();
    for (let i = 1; i <= 6; i++) await page.mouse.move(x - 12 * i, y + 3 * i);
    await page.mouse.up();
    const set = await setOf();
    assert.deepEqual(Object.keys(set).sort(), ["player.load.grip.peak", "player.load.grip.rise"]);
    await shown(set);
    await isCurve("Save load of the hands as CSV", "load", couple(set));
    // The chart's time from two other points of it, which have not moved: the release and its end.
    const [release, fallen] = [await middle("release"), await middle("fallen")];
    const perPixel = value("grip", "fall", {}) / (fallen[0] - release[0]);
    const moved = value("grip", "rise", {}) - value("grip", "rise", set);
    assert.ok(Math.abs(moved - 72 * perPixel) < perPixel, `${moved} s, must be ${72 * perPixel} s`);
    assert.match(await page.locator("#quickness-says").textContent(), /moved apart/);
    await page.click("text=Undo");
    assert.deepEqual(await setOf(), {});
    await shown({});
  },
  "points moved by keys, each of them": async () => {
    for (const [name, keys, path, text] of [
      ["height", ["ArrowRight", "ArrowRight"], "grip.rise", "0.152 s"],
      ["height", ["Shift+ArrowUp"], "grip.peak", "20 N m"],
      ["release", ["ArrowLeft", "ArrowLeft", "ArrowLeft"], "grip.release", "0.233 s"],
      ["fallen", ["ArrowRight"], "grip.fall", "0.084 s"], // from 0.233 + 0.08 s
      ["late begins", ["Shift+ArrowRight"], "grip.late_onset", "0.21 s"],
      ["late is full", ["ArrowRight"], "grip.late_rise", "0.061 s"],
      ["late couple", ["ArrowDown", "ArrowDown"], "grip.late", "-8.4 N m"],
      ["peak", ["Shift+ArrowUp"], "hub.peak", "216 N m"],
      ["rise", ["ArrowRight"], "hub.rise", "0.071 s"],
    ]) {
      await handle(name).focus();
      for (const key of keys) await page.keyboard.press(key);
      const set = await setOf();
      if (path === "grip.fall") assert.equal(set[`player.load.${path}`], "0.081 s");
      else assert.equal(set[`player.load.${path}`], text, name);
    }
    const set = await setOf();
    await shown(set);
    await isCurve("Save load of the hands as CSV", "load", couple(set));
    for (let i = 0; i < 2; i++) await page.keyboard.press("Control+z");
    assert.equal((await setOf())["player.load.hub.peak"], undefined); // a step each
  },
};
await run(checks);
