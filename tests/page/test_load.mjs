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
    const want = of === "before" ? before[name] : of === "now" ? now[name] : now[name] - before[name];
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
const isCurve = async (label, column, want, which = () => true) => {
  const { rows } = await takeCsv(label);
  const k = rows[0].indexOf(column);
  const points = rows.slice(2).filter((row) => row[k] !== "").map((row) => [Number(row[0]), Number(row[k])]).filter(([t]) => which(t));
  assert.ok(points.length > 30, `${label}: ${points.length} points`);
  for (const [t, y] of points) assert.ok(Math.abs(y - want(t)) < 1e-9, `${label} at ${t}: ${y}, must be ${want(t)}`);
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
      ["fallen", ["ArrowRight"], "grip.fall", "0.081 s"],
      ["late begins", ["Shift+ArrowRight"], "grip.late_onset", "0.21 s"],
      ["late is full", ["ArrowRight"], "grip.late_rise", "0.061 s"],
      ["late couple", ["ArrowDown", "ArrowDown"], "grip.late", "-8.4 N m"],
      ["peak", ["Shift+ArrowUp"], "hub.peak", "216 N m"],
      ["rise", ["ArrowRight"], "hub.rise", "0.071 s"],
    ]) {
      await handle(name).focus();
      for (const key of keys) await page.keyboard.press(key);
      assert.equal((await setOf())[`player.load.${path}`], text, name);
    }
    const set = await setOf();
    await shown(set);
    await isCurve("Save load of the hands as CSV", "load", couple(set));
    for (let i = 0; i < 2; i++) await page.keyboard.press("Control+z");
    assert.equal((await setOf())["player.load.hub.peak"], undefined); // a step each
  },
  "quickness moves both rises and nothing else, and says what it means": async () => {
    await open(`#/load?setup=${FILE}`);
    assert.match(await page.locator("#quickness-says").textContent(), /^Both rise as in the player’s file/);
    await page.fill("#quickness-number", "2");
    await page.keyboard.press("Enter");
    const set = await setOf();
    assert.deepEqual(set, { "player.load.grip.rise": "0.075 s", "player.load.hub.rise": "0.035 s" }); // half of 0.15 s and 0.07 s
    await shown(set);
    assert.match(await page.locator("#quickness-says").textContent(), /^Both rise 2[.]00 times as quick as in the file [(]200 %[)]/);
    // The steepest of the formula, by differences.
    const T = couple(set);
    const steepest = Math.max(...Array.from({ length: 1500 }, (_, i) => (T((i + 1) * 5e-5) - T(i * 5e-5)) / 5e-5));
    const said = await page.$$eval(".quickness dd", (list) => list.map((dd) => dd.firstChild.textContent));
    assert.ok(Math.abs(number(said[1]) - steepest) <= 0.5 && said[1].endsWith(" N m/s"), `${said[1]}, must be ${steepest}`);
    assert.deepEqual([said[0], said[2]], ["0.0750 s", "0.0350 s"]);
    // By the slider: a step is a hundredth, keys in a row are one step of undo.
    await page.locator("#quickness").focus();
    for (let i = 0; i < 5; i++) await page.keyboard.press("ArrowLeft");
    assert.deepEqual(await setOf(), { "player.load.grip.rise": "0.076923 s", "player.load.hub.rise": "0.035897 s" }); // 1.95
    assert.equal(await page.inputValue("#quickness-number"), "1.95");
    await page.keyboard.press("Control+z");
    assert.deepEqual(await setOf(), set);
    await page.fill("#quickness-number", "1,3");
    await page.keyboard.press("Enter");
    assert.match(await page.locator("#quickness-says").textContent(), /“1,3” is not allowed: a number from 0[.]1 to 10/);
    assert.equal(await page.getAttribute("#quickness-number", "aria-invalid"), "");
    await page.click(".quickness button");
    assert.deepEqual(await setOf(), {});
  },
  "what quickness does, by swings; a link reopens it with all that is set": async () => {
    await page.fill("#quickness-number", "1.25");
    await page.keyboard.press("Enter");
    await page.click("text=Swing at 13 quicknesses");
    await ready();
    const { rows } = await takeCsv("Save peak load rate against quickness as CSV");
    assert.deepEqual(rows.slice(0, 2), [["quickness", "peak_load_rate"], ["", "N m/s"]]);
    assert.deepEqual(rows.slice(2).map((row) => Number(row[0])), [0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.25, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8]);
    for (const k of [0, 7, 13]) {
      const q = Number(rows[k + 2][0]);
      const want = printed({ "load.grip.rise": `${(0.15 / q).toPrecision(5)} s`, "load.hub.rise": `${(0.07 / q).toPrecision(5)} s` });
      assert.ok(Math.abs(rows[k + 2][1] - want.peak_load_rate_nm_s) < 1e-6 * want.peak_load_rate_nm_s, `${rows[k + 2]}, must be ${want.peak_load_rate_nm_s}`);
    }
    await setOf();
    const look = () => page.evaluate(() => [location.hash, ...[...document.querySelectorAll("output, td, dd, .says, .key")].map((e) => e.textContent), ...[...document.querySelectorAll("input")].map((e) => e.value)]);
    const here = await look();
    assert.match(here[0], /see=load[.]quickness%3D1/);
    await open(here[0]);
    assert.deepEqual(await look(), here);
  },
  "axe-core finds nothing, wide, in portrait and at 200 %; nothing overflows": () => sizes("load"),
  "files of the charts and of the table": async () => {
    assert.equal((await takeSvg("Save load of the hands as SVG")).parts, 3); // paper and two curves
    assert.equal((await takeSvg("Save load of the shoulders as SVG")).parts, 4);
    await takePng("Save moment at the handle as PNG");
    assert.match(String((await take("Save what it does as CSV")).bytes), /^load,peak_handle_moment,.*\n,N m,s,N m.s,mm,.*\nbefore,17[.]8.*\nnow,.*\ndifference,/);
  },
  "a load that the shaft does not bear is said, stays drawn and can be taken back": async () => {
    await open(`#/load?setup=${FILE}&set=load.grip.peak=400 N m`, { until: '[role="alert"] button' });
    assert.match(await page.locator('[role="alert"]').textContent(), /No swing for this.*bent further than a shaft can/s);
    assert.equal(await page.locator(".load .impact").isVisible(), false);
    assert.equal(await handle("height").getAttribute("aria-valuenow"), "400");
    await accessible("with an error");
    await handle("height").focus();
    await page.keyboard.press("Shift+ArrowDown");
    await page.waitForFunction(() => document.querySelector('.handle[aria-label="height"]').getAttribute("aria-valuenow") === "398");
    await page.click('[role="alert"] >> text=As in the file');
    await ready();
    assert.equal(await page.locator('[role="alert"]').textContent(), "");
    await shown({});
  },
  "what follows a table, a motion or nothing is drawn, with words, and has no points": async () => {
    const folder = mkdtempSync(join(tmpdir(), "caber-load-"));
    const server = spawn(CABER, ["serve", "--threads", "1", "--models", folder], { stdio: ["ignore", "pipe", "inherit"] });
    try {
      cpSync(MODELS, folder, { recursive: true });
      // The arms as they move in the smooth swing itself; the hands' couple as a table of the formula.
      const times = Array.from({ length: 36 }, (_, i) => i / 100);
      const list = (values) => `[${values.join(", ")}]`;
      const { rows } = await takeCsv("Save roll of the handle as CSV");
      const roll = rows.slice(2).filter((row, i) => i % 20 === 0 && row[1] !== "");
      const written = player
        .replace(/  grip:\n(    .*\n)+/, `  grip: {drive: torque, table: {time: ${list(times)}, value: ${list(times.map(couple({})))}}}\n`)
        .replace(/  roll: .*/, `  roll: {drive: motion, table: {time: ${list(roll.map((row) => row[0]))}, value: ${list(roll.map((row) => `${row[1]} deg`))}}}`);
      writeFileSync(join(folder, "players/smooth.yaml"), written);
      const address = await new Promise((resolve) => server.stdout.once("data", (text) => resolve(String(text).trim())));
      await page.goto(`${address}#/load?setup=${FILE}`);
      await ready();
      const charts = await page.$$eval(".load .strip", (all) => all.slice(0, 4).map((strip) => [strip.querySelector("h3").textContent, strip.querySelectorAll(".handle").length, strip.querySelector(".fine")?.textContent]));
      assert.deepEqual(charts.map(([title, points]) => [title, points]), [
        ["Couple of the hands, N m", 0], ["Moment at the handle, N m", 0], ["Torque of the shoulders, N m", 2], ["Roll of the handle, deg", 0],
      ]);
      assert.match(charts[0][2], /^A table of 36 rows in the player’s file.*nothing in it to drag/);
      assert.match(charts[3][2], /^The roll follows a measured motion, a table of \d+ rows/);
      await isCurve("Save load of the hands as CSV", "load", couple({}), (t) => Math.abs(t * 100 - Math.round(t * 100)) < 1e-9); // through its rows
      assert.match(await page.locator("#quickness-says").textContent(), /^The shoulders’ torque rises as in the file[.] The hands follow the player’s file/);
      await page.fill("#quickness-number", "1.4");
      await page.keyboard.press("Enter");
      assert.deepEqual(await setOf(), { "player.load.hub.rise": "0.05 s" });
      await page.goto(`${address}#/load?setup=${FILE}&set=load.hub.drive=locked`);
      await page.waitForSelector('[role="alert"] button');
      assert.match(await page.locator("#quickness-says").textContent(), /^Neither the hands’ couple nor the shoulders’ torque is a program/);
      assert.equal(await page.locator("#quickness").isDisabled(), true);
    } finally {
      server.kill("SIGTERM");
      rmSync(folder, { recursive: true });
    }
  },
};
await run(checks);
