// SPDX-License-Identifier: GPL-3.0-or-later
// The view "One swing" as a reader meets it: its numbers against what `caber swing --json` prints, its drawing against
// the program's own place of the face, its units against exact definitions, its address, undo, errors, keys and files.
// Sources: 1 in = 25.4 mm, 1 yd = 0.9144 m, 1 mi = 1609.344 m, 1 lbf = 0.45359237 kg x 9.80665 m/s2 (NIST SP 811,
// appendix B, from memory; exact by definition).
import assert from "node:assert/strict";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { CABER_PAGE_WORK, CABER_SOURCE, FOLDER, MODELS, accessible, address, half, need, number, open, page, picture, printed as print, ready, run, serve, setupFile, sizes, take, takeCsv, takePng, takeSvg } from "./harness.mjs";

const printed = (setup, ...set) => print("swing", setupFile(setup), ...set.flatMap((s) => ["--set", s]));
const cell = (name, of = "impact") => page.locator(`td[data-name="${name}"][data-of="${of}"]`).textContent();
/** All cells at once: {"impact head_speed_mps": "40.64 m/s"}. */
const cells = () =>
  page.$$eval("td[data-of]", (list) => Object.fromEntries(list.map((td) => [`${td.dataset.of} ${td.dataset.name}`, td.textContent])));
const set = async (path, text) => {
  const box = page.locator(`[id="in-${path}"]`);
  await box.fill(text);
  await box.press("Enter");
  await page.waitForFunction(() => !document.querySelector("[aria-busy]"));
};

const checks = {
  "numbers are those of caber swing --json, each with its unit": async () => {
    await open("#/swing?setup=neutral-smooth.yaml");
    assert.match(await page.locator(".pictures").textContent(), /cannot draw in three dimensions/);
    const want = printed("neutral-smooth.yaml");
    const shown = await cells();
    for (const of of ["impact", "straight"])
      for (const [name, value] of Object.entries(want[of])) {
        const text = shown[`${of} ${name}`];
        if (name === "energy_residual") assert.match(text, /^\d[.]\de[−-]\d$/);
        else assert.ok(Math.abs(number(text) - value) <= half(text), `${of} ${name}: ${text}, ${value}`);
        const unit = text.replace(/^[−\d.e]+/, "");
        const whole = /_(mps|deg|deg_s|mm|nm|nm_s|n|j|m|s|rpm)$/.test(name);
        assert.equal(unit !== "", whole, `${name}: “${text}”`);
      }
  },
  "trade units by their definitions, and remembered": async () => {
    await page.selectOption("#units", "trade");
    const { impact } = printed("neutral-smooth.yaml");
    const shown = await cells();
    for (const [name, unit, size] of [
      ["head_speed_mps", "mph", 1609.344 / 3600],
      ["lead_deflection_mm", "in", 25.4],
      ["carry_m", "yd", 0.9144],
      ["peak_handle_moment_nm", "ft lbf", 0.3048 * 0.45359237 * 9.80665],
      ["strain_energy_peak_j", "ft lbf", 0.3048 * 0.45359237 * 9.80665],
      ["peak_load_rate_nm_s", "ft lbf/s", 0.3048 * 0.45359237 * 9.80665],
      ["grip_force_n", "lbf", 0.45359237 * 9.80665],
      ["delivered_loft_deg", "deg", 1],
    ]) {
      const text = shown[`impact ${name}`];
      assert.ok(Math.abs(number(text) - impact[name] / size) <= half(text) && text.endsWith(` ${unit}`), `${name}: ${text}`);
    }
    assert.equal(await page.inputValue('[id="in-build.tip_trim"]'), "0.47244"); // 12 mm, to five digits
    await open(""); // a link that says nothing of units
    assert.match(await cell("head_speed_mps"), / mph$/);
    await page.selectOption("#units", "metric");
  },
  "an input changes the numbers; undo, redo and the browser's own buttons bring them back": async () => {
    await open("#/swing?setup=neutral-smooth.yaml");
    const before = await cell("head_speed_mps");
    await set("player.load.grip.rise", "0.05");
    const after = await cell("head_speed_mps");
    const want = printed("neutral-smooth.yaml", "player.load.grip.rise=0.05 s").impact.head_speed_mps;
    assert.ok(Math.abs(number(after) - want) <= half(after), `${after}, ${want}`);
    assert.notEqual(after, before);
    const is = (text) =>
      page.waitForFunction((t) => document.querySelector('td[data-name="head_speed_mps"]').textContent === t, text, { timeout: 20000 });
    await page.click("text=Undo");
    await is(before);
    await page.click("text=Redo");
    await is(after);
    await page.goBack();
    await is(before);
    await page.goForward();
    await is(after);
  },
  "a link reopens the state": async () => {
    await page.fill("#drawn", "6.5");
    await page.fill("#scrub", "500");
    await page.selectOption("#slow", "50");
    await page.check(".check input");
    await page.waitForFunction(() => /drawn=6.5.*slow=50.*meanings=1/.test(location.hash));
    const look = () =>
      page.evaluate(() => [
        location.hash,
        ...["#drawn", "#scrub", "#slow", "#setup", "[id='in-player.load.grip.rise']"].map((s) => document.querySelector(s).value),
        ...[...document.querySelectorAll("output, td, .meaning")].map((e) => e.textContent),
      ]);
    const here = await look();
    await open(here[0]);
    assert.deepEqual(await look(), here);
    assert.equal(await page.inputValue('[id="in-player.load.grip.rise"]'), "0.05");
  },
  "an input that is not allowed is said, with its field, and can be undone": async () => {
    await set("player.load.grip.rise", "9");
    const said = await page.locator('[role="alert"]').textContent();
    assert.match(said, /player[.]load[.]grip[.]rise: 9 s is not allowed; it must be above 0 and at most 5 s/);
    assert.equal(await page.getAttribute('[id="in-player.load.grip.rise"]', "aria-invalid"), "true");
    await accessible("with an error");
    await page.click("text=Undo that change");
    await page.waitForFunction(() => !document.querySelector('[role="alert"]').textContent);
    await open("#/swing?setup=absent.yaml", { until: '[role="alert"] button' });
    assert.match(await page.locator('[role="alert"]').textContent(), /No swing for this.*absent[.]yaml/s);
    assert.equal(await page.locator(".right").isVisible(), false);
    await page.selectOption("#setup", "models/firm-tip-quick.yaml");
    await ready();
    assert.equal(await page.locator('[role="alert"]').textContent(), "");
  },
  "a setup is kept with what was changed, asked before it replaces another, and opened; undo goes back": async () => {
    await open("#/swing?setup=neutral-smooth.yaml");
    await set("player.load.grip.rise", "0.06");
    const shown = await cells();
    await page.click("text=Keep as…");
    await accessible("the dialog");
    assert.equal(await page.inputValue("#keep-name"), "Neutral, smooth, changed");
    await page.fill("#keep-name", 'Quick: "mine" #2');
    assert.equal(await page.inputValue("#keep-file"), "quick-mine-2");
    await picture("swing-keep");
    await page.press("#keep-file", "Enter");
    await page.waitForFunction(() => !document.querySelector("dialog[open]") && document.querySelector("#setup").value === "user/quick-mine-2.yaml");
    await ready();
    assert.equal(await page.locator("#setup option:checked").textContent(), 'Quick: "mine" #2 (yours)');
    assert.deepEqual(await cells(), shown);
    const kept = () => print("swing", join(FOLDER, "quick-mine-2.yaml"));
    assert.equal(kept().setup, 'Quick: "mine" #2');
    assert.deepEqual(kept().impact, printed("neutral-smooth.yaml", "player.load.grip.rise=0.06 s").impact);
    // It is there already: asked before, and left alone when it is not wanted.
    await set("player.load.grip.rise", "0.07");
    const before = readFileSync(join(FOLDER, "quick-mine-2.yaml"), "utf8");
    const said = () => page.locator("#keep-said").textContent();
    await page.click("text=Keep as…");
    assert.equal(await page.inputValue("#keep-file"), "quick-mine-2");
    await page.press("#keep-file", "Enter");
    await page.waitForSelector(".keep .go:text('Replace it')");
    assert.match(await said(), /quick-mine-2[.]yaml is there already/);
    await page.keyboard.press("Escape");
    assert.equal(await page.evaluate(() => document.activeElement.textContent), "Keep as…");
    assert.equal(readFileSync(join(FOLDER, "quick-mine-2.yaml"), "utf8"), before);
    await page.click("text=Keep as…");
    await page.press("#keep-file", "Enter");
    await page.click(".keep .go:text('Replace it')");
    await page.waitForFunction(() => !document.querySelector("dialog[open]"));
    assert.deepEqual(kept().impact, printed("neutral-smooth.yaml", "player.load.grip.rise=0.07 s").impact);
    await page.click("text=Undo"); // the file that was open, with its change
    await page.click("text=Undo");
    await page.click("text=Undo");
    await page.waitForFunction(() => document.querySelector("#setup").value === "models/neutral-smooth.yaml");
    await ready();
    assert.equal(await page.inputValue('[id="in-player.load.grip.rise"]'), "0.06");
  },
  "what cannot be kept is said; without a folder nothing is offered": async () => {
    writeFileSync(join(FOLDER, "own-shaft.yaml"), readFileSync(join(MODELS, "shafts/neutral.yaml")));
    const there = readdirSync(FOLDER).length;
    await page.click("text=Keep as…");
    for (const [file, words] of [["a/b", /none of \//], ["", /name of a file is wanted/], ["own-shaft", /is a shaft in your folder/], ["x".repeat(120), /not kept.*name of a file/s]]) {
      await page.fill("#keep-file", file);
      await page.press("#keep-file", "Enter");
      await page.waitForFunction((w) => new RegExp(w, "s").test(document.querySelector("#keep-said").textContent), words.source);
    }
    await page.click("text=Cancel");
    await set("player.load.grip.rise", "9"); // no setup at all
    await page.click("text=Keep as…");
    await page.fill("#keep-file", "no-setup");
    await page.press("#keep-file", "Enter");
    await page.waitForFunction(() => /It was not kept.*9 s is not allowed/.test(document.querySelector("#keep-said").textContent));
    assert.equal(readdirSync(FOLDER).length, there);
    const other = await serve("--models", MODELS);
    await page.goto(other.address);
    await page.waitForSelector("text=Copy link");
    assert.equal(await page.locator("text=Keep as…").isVisible(), false);
    other.server.kill("SIGTERM");
  },
  "keys move the time, play and stop; strips follow": async () => {
    await open("#/swing?setup=neutral-smooth.yaml&t=0.1", { flat: false });
    assert.equal(await page.locator(".pictures canvas").count(), 1);
    const clock = () => page.locator(".clock").textContent();
    assert.match(await clock(), /^0[.]1000 s/);
    await page.locator("body").press(".");
    assert.match(await clock(), /^0[.]1010 s/);
    await page.locator("body").press(",");
    await page.locator("#scrub").press("Home");
    assert.match(await clock(), /^0[.]0000 s/);
    const key = await page.locator(".strip output").first().textContent();
    await page.locator("h2").first().press(" ");
    await page.waitForFunction((t) => document.querySelector(".strip output").textContent !== t, key);
    await page.locator("#scrub").press("End");
    assert.match(await clock(), /impact$/);
    assert.equal(await page.locator(".play").textContent(), "Play");
    await page.locator(".strip .u-over").first().click({ position: { x: 5, y: 20 } });
    assert.match(await clock(), /^0[.]00/);
  },
  "files: CSV with a unit row as in the series, SVG that is XML, PNG": async () => {
    const { name, rows } = await takeCsv("Save head speed as CSV");
    assert.equal(name, "neutral-smooth-head-speed.csv");
    assert.deepEqual(rows[0], ["time", "head_speed", "straight_head_speed"]);
    assert.deepEqual(rows[1], ["s", "m/s", "m/s"]);
    const last = printed("neutral-smooth.yaml").impact;
    assert.ok(Math.abs(rows.at(-1)[0] - last.downswing_time_s) < 1e-10);
    assert.ok(Math.abs(rows.at(-1)[1] - last.head_speed_mps) < 5.1e-9); // of ten digits
    assert.equal((await takeSvg("Save handle moment as SVG")).parts, 3); // paper and two curves
    for (const label of ["Save strain energy by thirds as PNG", "Save the picture as PNG"]) await takePng(label);
    assert.match(String((await take("Save the impact table as CSV")).bytes), /^club,head_speed,.*\n,m\/s,.*\nbent,40[.].*\nstraight,39[.]/);
  },
  "the pictures turn by hand and by keys, each on its own, and back; a quarter of a turn makes one the other": async () => {
    await open("#/swing?setup=neutral-smooth.yaml&t=0.2", { flat: false });
    const box = await page.locator(".pictures canvas").boundingBox();
    const half = Math.floor(box.width / 2);
    /** Of one picture, without what is written over it. */
    const seen = async (i) => String(await page.screenshot({ clip: { x: Math.round(box.x) + i * half + 8, y: box.y + 34, width: half - 20, height: box.height - 80 } }).then((b) => b.toString("base64")));
    const before = [await seen(0), await seen(1)];
    const [line, face] = ["down the line", "face on"].map((name) => page.locator(`[aria-label="turn the picture ${name}"]`));
    assert.equal(await page.locator("text=as they were").isVisible(), false);
    const [x, y] = [box.x + half / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 40, y);
    await page.mouse.move(x + 100, y + 50);
    await page.mouse.up();
    assert.equal(await line.getAttribute("aria-valuetext"), "turned 40 deg clockwise as seen from above, 20 deg higher");
    assert.deepEqual([(await seen(0)) === before[0], (await seen(1)) === before[1]], [false, true]);
    await face.press("ArrowRight");
    await face.press("ArrowUp");
    await page.waitForFunction(() => /see=swing.turn.line%3D-40%2C20&see=swing.turn.face%3D5%2C5/.test(location.hash));
    assert.match(await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle), /solid/); // the focus is seen
    const turned = [await seen(0), await seen(1)];
    await picture("swing-turned");
    await open(await page.evaluate(() => location.hash), { flat: false }); // the link
    assert.equal(await face.getAttribute("aria-valuenow"), "5");
    assert.equal((await seen(0)) === turned[0], true);
    await page.click("text=as they were");
    await page.locator("h2").first().click();
    assert.deepEqual([await seen(0), await seen(1)].map((now, i) => now === before[i]), [true, true]);
    await page.evaluate(() => (location.hash += "&see=swing.turn.line%3D90%2C0"));
    await page.waitForSelector('.turner[aria-valuenow="90"]');
    assert.equal((await seen(0)) === before[1], true);
  },
  "the drawing has the face where the program has it": async () => {
    const out = join(CABER_PAGE_WORK, "geometry.mjs");
    const esbuild = need("esbuild");
    esbuild.buildSync({ entryPoints: [join(CABER_SOURCE, "src/page/ui/src/swing_build.ts")], bundle: true, format: "esm", outfile: out });
    const { buildOf, pose } = await import(out);
    for (const file of ["neutral-smooth.yaml", "firm-tip-quick.yaml", "neutral-smooth-left.yaml"]) {
      const ask = async (path) => {
        const headers = { "Content-Type": "application/json" };
        const answer = await fetch(`${address}api/v1/${path}`, { method: "POST", headers, body: JSON.stringify({ setup: { file } }) });
        return (await answer.json()).result;
      };
      const [series, inputs] = [await ask("series"), await ask("inputs")];
      for (const t of series.columns.time_s) {
        const p = pose(series, buildOf(inputs), t, 1);
        const off = Math.hypot(...p.face.map((x, k) => x - p.head[k]));
        // The head is turned by one slope of the tip after the other: half a millimetre.
        assert.ok(off < 0.5e-3, `${file} at ${t} s: ${off * 1e3} mm`);
      }
    }
  },
  "axe-core finds nothing, wide, in portrait and at 200 %; nothing overflows": () => sizes("swing"),
};
await run(checks);
