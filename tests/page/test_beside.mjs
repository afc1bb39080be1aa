// SPDX-License-Identifier: GPL-3.0-or-later
// The view "Side by side" as a reader meets it: its numbers against what `caber compare` prints, as JSON, as CSV and in
// words; setups taken in, changed and taken out; what is shown before the spread has come in; its address, errors, files.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { CABER, MODELS, accessible, number, open, page, picture, ready, run, setupFile, shows, sizes, take, takeCsv, takePng, takeSvg } from "./harness.mjs";

const DRAWN = ["--swings", "100", "--seed", "3"];
const ASKED = "ask=beside.swings%3D100&ask=beside.seed%3D3";
const scratch = mkdtempSync(join(tmpdir(), "caber-beside-"));

/** What the command prints: as text, and with --json. */
const command = (files, ...words) => execFileSync(CABER, ["compare", ...files, ...DRAWN, ...words], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] });
const compared = (files, ...words) => JSON.parse(command(files, "--json", ...words));

/** The neutral setup with the changes that the page makes, as a file of its own. */
function changed() {
  const file = join(scratch, "changed.yaml");
  const text = readFileSync(setupFile("neutral-smooth.yaml"), "utf8").replace("tip_trim: 12 mm", "tip_trim: 40 mm");
  const section = text.replace(/^shaft: (.*)$/m, "shaft: {file: $1, sections: [{from: 0 mm, to: 389 mm, ei_scale: 1.25}]}");
  writeFileSync(file, section.replaceAll("../", `${MODELS}/`));
  return file;
}

const SMOOTH = ["neutral-smooth.yaml", "firm-tip-smooth.yaml", "soft-tip-smooth.yaml"].map(setupFile);
/** All cells of the table at once: {"sd head_speed_mps": "0.217"}. */
const cells = () => page.$$eval("td[data-of]", (list) => Object.fromEntries(list.map((td) => [`${td.dataset.of} ${td.dataset.name}`, td.textContent])));
const texts = (selector) => page.$$eval(selector, (list) => list.map((e) => e.textContent));
const settled = async (change) => {
  const before = await page.getAttribute("main", "data-answer");
  await change();
  await page.waitForFunction((n) => document.querySelector("main").dataset.answer !== n && !document.querySelector("[aria-busy]"), before, { timeout: 30000 });
};
const input = async (path, text) => {
  await page.locator(`[id="in-${path}"]`).fill(text);
  await page.locator(`[id="in-${path}"]`).press("Enter");
};

/** Every number of the table and of the picture against a comparison. */
async function same(want) {
  const shown = await cells();
  const is = (of, value, name) => (value === null ? assert.equal(shown[`${of} ${name}`], "") : shows(shown[`${of} ${name}`], value, `${of} ${name}`));
  for (const { name, sd, values, differences } of want.outputs) {
    is("sd", sd, name);
    values.forEach((value, k) => is(`value${k + 1}`, value, name));
    differences.slice(1).forEach((value, k) => is(`difference${k + 2}`, value, name));
  }
  const marks = await page.$$eval(".drawn g", (list) => list.map((g) => [g.dataset.name, Number(g.dataset.setup), Number(g.dataset.length)]));
  assert.ok(marks.length >= 6, `${marks.length} marks`);
  for (const [name, setup, length] of marks) assert.equal(length, want.outputs.find((o) => o.name === name).times[setup - 1], name);
}

const checks = {
  "nothing beside it: what goes well with it is offered; values stand there before the spread": async () => {
    await open(`#/beside?setup=neutral-smooth.yaml&${ASKED}`, { until: ".beside-empty .main" });
    assert.deepEqual(await texts(".beside-empty [data-file]"), ["Firm tip, smooth", "Soft tip, smooth", "Neutral, late", "Neutral, quick"]);
    await accessible("with nothing beside it");
    await picture("beside-empty");
    let go;
    const held = new Promise((resolve) => (go = resolve));
    await page.route("**/api/v1/jobs", (route) => held.then(() => route.continue()));
    await page.click(".beside-empty .main");
    await page.waitForFunction(() => document.querySelector('td[data-of="times3"]')?.textContent === "…");
    const [early, want] = [await cells(), compared(SMOOTH)];
    for (const { name, values, differences } of want.outputs) {
      shows(early[`value3 ${name}`], values[2], name);
      shows(early[`difference2 ${name}`], differences[1], name);
    }
    assert.match(await page.locator(".waits").textContent(), /As soon as the swings/);
    await settled(go);
    await page.unroute("**/api/v1/jobs");
    assert.deepEqual(await texts(".card strong"), ["1 Neutral, smooth", "2 Firm tip, smooth", "3 Soft tip, smooth"]);
    await same(want);
  },
  "in short, and beside the sd, in the words of the command": async () => {
    const short = command(SMOOTH).split("In short: ").slice(1).map((part) => part.split("\n\n")[0].split("\n").slice(1));
    assert.equal(short.length, 2);
    for (const [k, lines] of short.entries())
      for (const line of lines.filter((l) => !/than a tenth/.test(l))) {
        const [, name, change, unit, words] = /^ {2}(.{19})\s*(\S+) (\S+)\s+(.*)$/.exec(line);
        const said = (await texts(`.short li[data-setup="${k + 2}"]`)).map((t) => t.replaceAll("’", "'").replace("−", "-"));
        assert.ok(said.includes(`${name.trim()} ${change} ${unit}, ${words}`), `${line} in ${said.join(" | ")}`);
      }
    // The table of two setups has the words of every output.
    await settled(() => page.click("#beside-remove-3"));
    const shown = await cells();
    const rows = command(SMOOTH.slice(0, 2)).split("beside the sd\n")[1].trimEnd().split("\n");
    assert.equal(rows.length, 59);
    const many = (list) => list.sort().join("; ");
    assert.equal(many(Object.keys(shown).filter((key) => /^times2/.test(key)).map((key) => shown[key])), many(rows.map((row) => row.slice(78))));
  },
  "another setup with changes of its own; units by their definitions; CSV as the command's": async () => {
    await settled(() => page.click("#beside-copy-1"));
    assert.match((await texts(".short .of")).at(-1), /no difference/);
    await settled(() => input("build.tip_trim", "40"));
    assert.match((await texts(".short h3")).at(-1), /^3 Neutral, smooth, cut from the tip 40 mm$/);
    await page.click("#beside-section");
    await settled(() => input("shaft.sections[0].ei_scale", "1.25"));
    const files = [SMOOTH[0], SMOOTH[1], changed()];
    await same(compared(files));
    const csv = join(scratch, "compare.csv");
    command(files, "--csv", csv);
    const want = readFileSync(csv, "utf8").trim().split("\n").map((row) => row.split(",").slice(-6));
    const kept = (await takeCsv("Save the comparison as CSV")).rows.map((row) => row.slice(-6));
    assert.equal(kept.length, want.length);
    for (const [i, row] of want.entries())
      row.forEach((cell, c) => assert.ok(cell === kept[i][c] || Math.abs(cell - kept[i][c]) <= 1e-9 * Math.abs(cell), `row ${i}: ${row}, kept ${kept[i]}`));
    const speed = number((await cells())["difference3 head_speed_mps"]);
    await page.selectOption("#units", "trade");
    assert.ok(Math.abs(number((await cells())["difference3 head_speed_mps"]) - speed / (1609.344 / 3600)) < 0.07);
    await page.selectOption("#units", "metric");
  },
  "the player re-tunes: the command's numbers, and the strips are of those swings": async () => {
    await page.click("#beside-change-3");
    await settled(() => page.selectOption("#beside-keep", "delivery"));
    const want = compared([SMOOTH[0], SMOOTH[1], join(scratch, "changed.yaml")], "--keep", "delivery");
    await same(want);
    const { hub_peak_scale: scale, release_shift_ms: shift } = want.setups[2].retuning;
    const said = (await page.locator(".retuned").last().textContent()).replace("−", "-");
    shows(/shoulders ([-+]?[\d.]+) %/.exec(said)[1], 100 * (scale - 1), said);
    shows(/release ([\d.]+) ms/.exec(said)[1], Math.abs(shift), said);
    assert.match(said, shift < 0 ? /earlier/ : /later/);
    const { rows } = await takeCsv("Save head speed as CSV");
    assert.deepEqual(rows.slice(0, 2), [["time_to_impact", "setup_1", "setup_2", "setup_3"], ["s", "m/s", "m/s", "m/s"]]);
    const speeds = want.outputs.find((o) => o.name === "head_speed_mps").values;
    // As exactly as a text carries the re-tuned inputs, with the integrator's tolerance.
    const last = rows.slice(-3); // a row of each: their times differ
    assert.deepEqual(last.map((row) => Number(row[0])), [0, 0, 0]);
    speeds.forEach((v, k) => {
      const own = last.map((row) => row[k + 1]).filter((text) => text !== "");
      assert.ok(own.length === 1 && Math.abs(own[0] - v) < 1e-5 * v, `${own}, ${v}`);
    });
  },
  "a link reopens all of it; undo goes back": async () => {
    await page.selectOption("#beside-sort", "change");
    await page.selectOption("#beside-lines", "change");
    await page.selectOption("#beside-align", "start");
    await page.locator(".strip .u-over").first().click({ position: { x: 90, y: 20 } });
    await page.locator("h2").first().press(".");
    await page.waitForFunction(() => /[&]t=0[.]\d{1,3}&/.test(location.hash)); // a sample: the address comes after it
    const look = () => page.evaluate(() => [location.hash, ...[...document.querySelectorAll(".beside select, .beside input")].map((e) => e.value), ...[...document.querySelectorAll(".card, .short, td, th, .key output")].map((e) => e.textContent)]);
    const here = await look();
    await open(here[0]);
    await page.waitForFunction(() => document.querySelector(".card .made").textContent); // comes last
    assert.deepEqual(await look(), here);
    await settled(() => page.click("#beside-remove-2"));
    assert.deepEqual(await texts(".card strong"), ["1 Neutral, smooth", "2 Neutral, smooth"]);
    await settled(() => page.click("text=Undo"));
    assert.deepEqual(await look(), here);
  },
  "files: SVG that is XML, PNG, CSV": async () => {
    const { text } = await takeSvg("Save differences as SVG");
    for (const said of ["one swing from the next", "3 Neutral, smooth, 2 changes"]) assert.ok(text.includes(said), said);
    assert.equal((await takeSvg("Save lead as SVG")).parts, 4); // paper and three curves
    await takePng("Save differences as PNG");
    const { rows } = await takeCsv("Save differences as CSV");
    assert.deepEqual(rows.slice(0, 2), [["output", "setup_2", "setup_3"], ["", "sd", "sd"]]);
    assert.equal(rows.length, 14);
  },
  "axe-core finds nothing, wide, in portrait and at 200 %; nothing overflows": () => sizes("beside"),
  "a change that is not allowed, and a setup that is not there, are said with their setup": async () => {
    await page.click("#beside-change-3");
    await input("build.tip_trim", "9000");
    await page.waitForFunction(() => document.querySelector('[role="alert"]').textContent);
    assert.match(await page.locator('[role="alert"]').textContent(), /No comparison for this[.] Setup 3: build[.]tip_trim: 9000 mm is not allowed; it must be at least 0 and at most 1000 mm/);
    assert.deepEqual(await texts(".card.wrong strong"), ["3 Neutral, smooth"]);
    assert.equal(await page.getAttribute('[id="in-build.tip_trim"]', "aria-invalid"), "true");
    await page.click("text=Undo that change");
    await ready();
    assert.equal(await page.locator(".card.wrong").count(), 0);
    await page.fill("#beside-swings", "5");
    await page.press("#beside-swings", "Enter");
    await page.waitForFunction(() => document.querySelector('#beside-swings[aria-invalid="true"]'));
    assert.match(await page.locator('[role="alert"]').textContent(), /swings: .*100 to 20000/);
    await open("#/beside?setup=neutral-smooth.yaml&beside=models%2Fabsent.yaml", { until: '[role="alert"] button' });
    assert.match(await page.locator('[role="alert"]').textContent(), /Setup 2: .*absent[.]yaml: there is no such file/);
    assert.deepEqual(await texts(".card.wrong strong"), ["2 absent.yaml"]);
    await accessible("with an error");
    await settled(() => page.click("#beside-remove-2"));
    assert.equal(await page.locator('[role="alert"]').textContent(), "");
    await page.waitForFunction(() => document.querySelector(".beside-empty h2")?.offsetHeight);
  },
};
process.on("exit", () => rmSync(scratch, { recursive: true, force: true }));
await run(checks);
