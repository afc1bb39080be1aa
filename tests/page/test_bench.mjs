// SPDX-License-Identifier: GPL-3.0-or-later
// The view "Bench numbers and trims" as a fitter meets it: its numbers against what `caber bench --json`, --trim-table
// and --uncertainty print, its units against exact definitions, a trim taken over, its address, undo, errors and files.
// Sources: 1 in = 25.4 mm, 1 lbf = 0.45359237 kg x 9.80665 m/s2, 1 oz = 1/16 lb (NIST SP 811, appendix B, from memory;
// exact by definition).
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { CABER, FOLDER, MODELS, accessible, half, number, open, page, printed, ready, run, setupFile, shows, sizes, take, takeCsv, takePng, takeSvg } from "./harness.mjs";

const FILE = "neutral-smooth.yaml";
const known = new Map();
const bench = (...words) => {
  const key = words.join(" ");
  if (!known.has(key)) known.set(key, printed("bench", setupFile(FILE), ...words));
  return known.get(key);
};
const texts = (attribute) =>
  page.$$eval(`[${attribute}]`, (list, a) => Object.fromEntries(list.map((e) => [e.getAttribute(a), e.textContent])), attribute);
const type = async (id, text) => {
  await page.fill(`[id="${id}"]`, text);
  await page.locator(`[id="${id}"]`).press("Enter");
  await ready();
};
/** All numbers, the modes and the table of frequencies against what the command prints. */
async function held(want) {
  const shown = await texts("data-name");
  const names = Object.keys(want).filter((n) => typeof want[n] === "number");
  assert.ok(names.length > 25);
  for (const name of names) {
    shows(shown[name], want[name], name);
    assert.match(shown[name], / (mm|m|in|deg|cpm|kg|kg m|kg m2)$/, name);
  }
  assert.equal(shown.swing_weight, want.swing_weight);
  want.frequencies_hz.forEach((f, i) => shows(shown[`frequency_${i + 1}_hz`], f, `mode ${i + 1}`));
  assert.equal(shown[`frequency_${want.frequencies_hz.length + 1}_hz`], undefined);
  const { cpm } = want.frequency_table;
  const table = await texts("data-cpm");
  assert.equal(Object.keys(table).length, cpm.flat().length);
  cpm.forEach((row, i) => row.forEach((value, j) => shows(table[`${i} ${j}`], value, `cpm ${i} ${j}`)));
}
/** The rows of the trim table: {tip_trim_mm: "12.00", cpm: "245.8"...}. */
const trimRows = () =>
  page.$$eval('[aria-label="Table of trims"] tbody tr', (rows) =>
    rows.map((row) => ({ ...Object.fromEntries([...row.querySelectorAll("[data-trim]")].map((c) => [c.dataset.trim, c.textContent])), own: row.className === "own", words: row.textContent })),
  );
async function trimsHeld(want) {
  const rows = await trimRows();
  assert.equal(rows.length, want.trims.length);
  want.trims.forEach((trim, i) => {
    assert.equal(rows[i].own, trim.as_it_is);
    for (const [name, value] of Object.entries(trim)) {
      if (name === "swing_weight") assert.equal(rows[i][name], value);
      else if (name === "short_mm") shows(/is ([\d.]+) mm too short/.exec(rows[i].words)?.[1], value, `row ${i}: short`);
      else if (typeof value === "number" && name !== "swing_moment_kgm") shows(rows[i][name], value, `row ${i}: ${name}`);
    }
  });
}

/** A shaft whose errors are known, drawn through invented readings, and a setup with it. */
execFileSync(CABER, ["profile", join(MODELS, "readings/firm-tip.yaml"), "--output", join(FOLDER, "from-bench.yaml")], { stdio: "ignore" });
const measured = join(FOLDER, "measured.yaml");
writeFileSync(
  measured,
  `kind: setup\nname: Measured\nnote: Invented for a check.\nshaft: from-bench.yaml\nhead: ${MODELS}/heads/driver-10.yaml\ngrip: ${MODELS}/grips/standard.yaml\n` +
    `player: ${MODELS}/players/smooth.yaml\nbuild: {tip_trim: 12 mm, butt_trim: 48 mm, insertion: 30 mm, hold: 120 mm}\n`,
);

const checks = {
  "numbers are those of caber bench --json, with the rules and the cautions": async () => {
    await open(`#/bench?setup=${FILE}&units=metric`);
    const want = bench();
    await held(want);
    for (const rule of want.rules) {
      const row = await page.locator(`[data-rule="${rule.name}"]`).textContent();
      assert.ok(row.includes(rule.stands) && row.endsWith(rule.limit), row);
      if (rule.figure !== null) shows(await page.locator(`[data-rule="${rule.name}"] td`).first().textContent(), rule.figure, rule.name);
    }
    const page_ = await page.locator("main").textContent();
    for (const said of [/never a ruling.*decided by the rules bodies/s, /Bench loads, and cutting and bonding of composite, have dangers/, /can break/]) assert.match(page_, said);
    assert.equal(await page.isDisabled("#bands-on"), true); // of an invented shaft no errors are known
    assert.match(await page.locator(".bands-said").textContent(), /Nothing is known of this shaft’s errors/);
  },
  "charts and files: the span, the shaft behind it, the trims": async () => {
    const want = bench();
    const sag = (await takeCsv("Save sag of a three-point bend as CSV")).rows;
    assert.deepEqual(sag.slice(0, 2), [["from_the_tip", "sag"], ["m", "mm"]]);
    assert.deepEqual(sag.slice(2).map((r) => r.map(Number)), want.span_at_m.map((at, i) => [at, want.span_deflection_mm[i]]));
    const ei = (await takeCsv("Save stiffness ei, read by spans as CSV")).rows;
    assert.deepEqual(ei.slice(0, 2), [["from_the_tip", "profile", "by_spans"], ["m", "N m2", "N m2"]]);
    const spans = ei.slice(2).filter((r) => r[2] !== "").map((r) => [Number(r[0]), Number(r[2])]);
    assert.deepEqual(spans, want.span_at_m.map((at, i) => [at, want.span_ei_nm2[i]]));
    // A span of 300 mm reads the profile's EI around it: close, where the profile is the cut shaft's.
    const own = ei.slice(2).filter((r) => r[1] !== "").map((r) => [Number(r[0]), Number(r[1])]);
    for (const [at, value] of spans) {
      const near = own.reduce((a, b) => (Math.abs(b[0] - at) < Math.abs(a[0] - at) ? b : a));
      assert.ok(Math.abs(near[1] / value - 1) < 0.03, `at ${at} m: profile ${near[1]}, span ${value} N m2`);
    }
    // What stands at 400 mm of the shaft as it came is 12 mm nearer to the tip once that much is cut.
    const [, station] = /at: 400 mm, +ei: ([\d.]+) N m2/.exec(readFileSync(join(MODELS, "shafts/neutral.yaml"), "utf8"));
    const k = own.findIndex(([at]) => at > 0.388);
    const [[x0, y0], [x1, y1]] = [own[k - 1], own[k]];
    const there = y0 + ((y1 - y0) * (0.388 - x0)) / (x1 - x0);
    assert.ok(Math.abs(there / station - 1) < 0.002, `${there}, ${station} N m2`);
    assert.ok(Math.abs(own.at(-1)[0] - (1.168 - 0.012 - 0.048)) < 0.01 && own[0][0] < 0.01); // from tip to butt, as cut
    assert.equal((await takeSvg("Save frequency over the cut as SVG")).parts, 4); // paper, curve, the cut as it is and its mark in the key
    await takePng("Save twist over the cut as PNG");
    const trims = bench("--trim-table").trims;
    const { name, rows } = await takeCsv("Save the table of trims as CSV");
    assert.equal(name, "neutral-smooth-trims.csv");
    const column = rows[0].indexOf("frequency");
    assert.deepEqual(rows.slice(2).map((r) => [Number(r[0]), Number(r[column])]), trims.map((t) => [t.tip_trim_mm, t.cpm]));
    const cpm = (await takeCsv("Save the table of frequencies as CSV")).rows;
    assert.deepEqual(cpm.slice(2).map((r) => r.slice(1).map(Number)), want.frequency_table.cpm);
    const numbers = (await takeCsv("Save the bench numbers as CSV")).rows;
    assert.equal(Number(numbers[2][numbers[0].indexOf("inertia_butt")]), want.inertia_butt_kgm2);
    assert.equal(numbers[1][numbers[0].indexOf("inertia_butt")], "kg m2");
  },
  "trims are those of --trim-table --json; one that is taken changes what it must, and undo brings it back": async () => {
    await trimsHeld(bench("--trim-table"));
    const before = bench();
    await page.click('[aria-label="cut so: 25.40 mm from the tip"]');
    await ready();
    const cut = ["--set", "build.tip_trim=25.4 mm", "--set", "build.butt_trim=34.6 mm"];
    const after = bench(...cut);
    assert.ok(Math.abs(after.playing_length_m - before.playing_length_m) < 1e-9 && after.cpm > before.cpm + 1);
    await held(after);
    await trimsHeld(bench("--trim-table", ...cut));
    assert.deepEqual([await page.inputValue('[id="in-build.tip_trim"]'), await page.inputValue('[id="in-build.butt_trim"]')], ["25.4", "34.6"]);
    await page.click("text=Undo");
    await ready();
    await held(before);
  },
  "the mark on a chart moves by hand and by keys along the cut; one drag is one step": async () => {
    const knob = page.locator('.handle[aria-label="cut from the tip"]').first();
    await knob.press("ArrowRight");
    await knob.press("Shift+ArrowRight");
    await page.waitForFunction(() => document.querySelector('[data-name="tip_trim_mm"]').textContent.startsWith("23.0"));
    await ready();
    await held(bench("--set", "build.tip_trim=23 mm", "--set", "build.butt_trim=37 mm"));
    await page.click("text=Undo"); // both keys
    await ready();
    shows((await texts("data-name")).tip_trim_mm, 12, "undone keys");
    const box = await knob.boundingBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    for (const step of [20, 50, 90]) await page.mouse.move(x + step, y - 5);
    await page.mouse.up();
    await ready();
    const tip = number((await texts("data-name")).tip_trim_mm);
    assert.ok(tip > 20 && tip < 45, `dragged to ${tip} mm`);
    const value = (path) => page.inputValue(`[id="in-build.${path}"]`);
    await held(bench("--set", `build.tip_trim=${await value("tip_trim")} mm`, "--set", `build.butt_trim=${await value("butt_trim")} mm`));
    await page.click("text=Undo");
    await ready();
    await held(bench());
  },
  "a jig of one's own; a length wanted, from which a cut follows; the link reopens both": async () => {
    await type("jig-clamp", "5 in, 150");
    await type("jig-tip_mass", "200, 0");
    await type("jig-torque", "2");
    await type("jig-span", "250");
    await type("jig-modes", "3");
    const jig = ["--clamp", "5 in,150 mm", "--tip-mass", "200 g,0 g", "--torque", "2 N m", "--span", "250 mm", "--modes", "3"];
    const want = bench(...jig);
    await held(want);
    await trimsHeld(bench("--trim-table", ...jig));
    const hash = await page.evaluate(() => location.hash);
    const state = await texts("data-name");
    await open(hash);
    assert.deepEqual(await texts("data-name"), state);
    assert.equal(await page.inputValue("#jig-clamp"), "127, 150");
    await page.click("text=as usual (5 changed)");
    await ready();
    await held(bench());
    // Of a length the butt's cut follows: taking a trim leaves it to the program.
    await open(`#/bench?setup=${FILE}&set=build.length%3D45.25+in&set=build.butt_trim%3D0+mm`);
    const length = ["--set", "build.length=45.25 in", "--set", "build.butt_trim=0 mm"];
    await trimsHeld(bench("--trim-table", ...length));
    await page.click('[aria-label="cut so: 19.05 mm from the tip"]');
    await ready();
    await held(bench(...length, "--set", "build.tip_trim=19.05 mm"));
  },
  "trade units by their definitions": async () => {
    await open(`#/bench?setup=${FILE}&units=trade`);
    const want = bench();
    const shown = await texts("data-name");
    const pound = 0.45359237;
    for (const [name, unit, size] of [
      ["club_mass_kg", "g", 1e-3], ["playing_length_m", "in", 0.0254], ["swing_moment_kgm", "in oz", (0.0254 * pound) / 16],
      ["inertia_butt_kgm2", "kg cm2", 1e-4], ["tip_deflection_mm", "in", 25.4], ["cpm", "cpm", 1],
    ]) {
      shows(shown[name], want[name] / size, name);
      assert.ok(shown[name].endsWith(` ${unit}`), shown[name]);
    }
    assert.equal(shown.playing_length_in, undefined); // the length is in inches already
    const inputs = await Promise.all(["clamp", "tip_mass", "torque", "load"].map((k) => page.inputValue(`#jig-${k}`)));
    assert.deepEqual(inputs, ["5, 6, 7", "195, 205, 0", "1", String(Number((10 / (pound * 9.80665)).toPrecision(6)))]);
    const ei = (await takeCsv("Save stiffness ei, read by spans as CSV")).rows;
    assert.equal(ei[1][1], "lbf in2");
    const row = ei.slice(2).find((r) => r[2] !== "");
    assert.ok(Math.abs(row[2] - want.span_ei_nm2[0] / (pound * 9.80665 * 0.0254 ** 2)) < 1e-6);
    await page.selectOption("#units", "metric");
  },
  "how sure the numbers are: those of --uncertainty --json, of the same draws and seed": async () => {
    await open("#/bench?setup=measured.yaml&from=user");
    assert.equal((await page.locator(".numbers .plus").allTextContents()).join(""), "");
    await page.check("#bands-on");
    await type("bands-draws", "200");
    await type("bands-seed", "7");
    await page.waitForFunction(() => /200 draws/.test(document.querySelector(".bands-said").textContent), null, { timeout: 60000 });
    const want = printed("bench", measured, "--uncertainty", "--draws", "200", "--seed", "7");
    await held(want);
    const plus = await texts("data-plus");
    const { sd } = want.spread;
    let moved = 0;
    for (const [name, value] of Object.entries(sd)) {
      if (typeof value !== "number") continue;
      const text = plus[name];
      if (!(value > 0)) assert.equal(text, "", name);
      else if (text.includes("<")) assert.ok(value < half(text.replace("± <", "")), `${name}: ${text}, ${value}`);
      else shows(text.replace("± ", ""), value, name);
      moved += value > 0;
    }
    assert.ok(moved > 15, `${moved} values with a +-`);
    sd.frequencies_hz.forEach((value, i) => assert.ok(plus[`frequency_${i + 1}_hz`].startsWith("± "), `mode ${i + 1}, ${value}`));
    const band = (await takeCsv("Save stiffness ei, read by spans as CSV")).rows;
    const [low, at] = [band[0].indexOf("by_spans_low"), band.slice(2).filter((r) => r[2] !== "")];
    assert.deepEqual(at.map((r) => Number(r[low])), want.spread.low.span_ei_nm2);
    const mean = (await takeCsv("Save the bench numbers as CSV")).rows;
    assert.deepEqual([mean[3][0], Number(mean[3][mean[0].indexOf("cpm")])], ["sd", sd.cpm]);
    assert.match(await page.locator(".leans").textContent(), /lean to one side: sharpest bend/);
    await type("bands-draws", "7");
    assert.match(await page.locator(".bands-said").textContent(), /No ±: draws: .*200/);
    assert.equal(await page.getAttribute("#bands-draws", "aria-invalid"), "true");
  },
  "a bench that is not allowed, and a cut that is not, are said with the field": async () => {
    await open(`#/bench?setup=${FILE}`);
    await type("jig-clamp", "5 m");
    const said = () => page.locator('[role="alert"]').textContent();
    assert.match(await said(), /a clamp of 5 m is not allowed; it must be from 0.01 to/);
    assert.equal(await page.getAttribute("#jig-clamp", "aria-invalid"), "true");
    await accessible("with an error");
    await page.click("text=Undo that change");
    await ready();
    assert.equal(await said(), "");
    await type("in-build.tip_trim", "-3");
    assert.match(await said(), /build[.]tip_trim: -3 mm is not allowed; it must be at least 0/);
    assert.equal(await page.getAttribute('[id="in-build.tip_trim"]', "aria-invalid"), "true");
    await open(`#/bench?setup=${FILE}&ask=bench.torque%3D5+lbs`, { until: '[role="alert"] button' });
    assert.match(await said(), /torque.*"lbs" is no unit/s);
    assert.equal(await page.locator(".numbers").isVisible(), false);
    await page.click("text=as usual (1 changed)"); // what was wrong in the link can be put right
    await ready();
    await held(bench());
  },
  "axe-core finds nothing, wide, in portrait and at 200 %; nothing overflows": () => sizes("bench"),
};
await run(checks);
