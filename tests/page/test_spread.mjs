// SPDX-License-Identifier: GPL-3.0-or-later
// The view "Spread" as a reader meets it: its numbers and its drawing against what `caber scatter` prints with --json
// and writes with --csv; its questions, how they are stopped and undone, errors, files and sizes.
// 1 yd = 0.9144 m, exact by definition (NIST SP 811, appendix B, from memory).
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { CABER, accessible, address, number, open, page, picture, printed, ready, run, setupFile, shows, sizes, takeCsv, takePng, takeSvg } from "./harness.mjs";

const YARD = 0.9144;
const [NEUTRAL, QUICK, LEFT] = ["neutral-smooth.yaml", "firm-tip-quick.yaml", "neutral-smooth-left.yaml"];
const link = (setup, ...more) => `#/spread?setup=${setup}&units=metric&ask=spread.swings%3D100${more.map((m) => `&${m}`).join("")}`;
const scatter = (setups, ...words) => printed("scatter", ...setups.map(setupFile), "--swings", "100", ...words);
/** Carry and side of every good swing, from the command's own file. */
function landings(setups) {
  const folder = mkdtempSync(join(tmpdir(), "caber-spread-"));
  const file = join(folder, "swings.csv");
  execFileSync(CABER, ["scatter", ...setups.map(setupFile), "--swings", "100", "--csv", file], { stdio: "ignore" });
  const rows = readFileSync(file, "utf8").trim().split("\n").map((row) => row.match(/("[^"]*"|[^,]*)(,|$)/g).map((cell) => cell.replace(/,$/, "")));
  rmSync(folder, { recursive: true });
  const [carry, side] = ["carry_m", "side_m"].map((name) => rows[0].indexOf(name));
  return rows.slice(2).filter((row) => row[carry] !== "").map((row) => ({ setup: row[0], carry: Number(row[carry]), side: Number(row[side]) }));
}

/** All cells at once: {"mean carry_m": "135.1 ± 2.1"}. */
const cells = () => page.$$eval("td[data-name]", (list) => Object.fromEntries(list.map((td) => [`${td.dataset.of} ${td.dataset.name}`, td.textContent])));
const short = (club = 0) => page.$$eval(`.club[data-club="${club}"] [data-short]`, (list) => Object.fromEntries(list.map((b) => [b.dataset.short, b.textContent])));
const closer = () => page.$$eval(".closer tr[data-habit]", (rows) => rows.map((tr) => [tr.dataset.habit, ...[...tr.querySelectorAll("td")].map((td) => td.textContent)]));
/** Another address in the same page. */
const go = async (hash) => {
  const before = await page.getAttribute("main", "data-answer");
  await page.evaluate((h) => (location.hash = h), hash);
  await page.waitForFunction((n) => document.querySelector("main").dataset.answer !== n, before);
  await ready();
};
/** Balls as they are drawn, and what the drawing's measures are. */
const drawn = (club = 0) =>
  page.evaluate((i) => {
    const root = document.querySelector(".landing .picture > svg");
    /** Its middle lies two thirds of its height below its tip. */
    const triangle = (d) => {
      const [x, y, , high] = d.match(/-?[\d.]+/g).map(Number);
      return [x, y + (2 / 3) * high];
    };
    const of = (selector, take) => [...root.querySelectorAll(selector)].map(take);
    return {
      scale: Number(root.dataset.scale),
      balls: of(`.ball[data-club="${i}"]`, (e) => (e.tagName === "circle" ? [e.getAttribute("cx"), e.getAttribute("cy")].map(Number) : triangle(e.getAttribute("d")))),
      rings: of(`.ring[data-club="${i}"]`, (e) => [e.dataset.part, e.getAttribute("d").slice(1, -1).split("L").map((p) => p.split(" ").map(Number))]),
    };
  }, club);

function outputsAre(shown, club) {
  for (const [name, s] of Object.entries(club.outputs)) {
    shows(shown[`usual ${name}`], s.usual, `usual ${name}`);
    shows(shown[`mean ${name}`].split(" ± ")[0], s.mean, `mean ${name}`);
    shows(shown[`sd ${name}`], s.sd, `sd ${name}`);
    shown[`interval ${name}`].split(" to ").forEach((text, k) => shows(text, [s.sd_low, s.sd_high][k], `sd interval ${name}`));
    [5, 25, 50, 75, 95].forEach((p, k) => shows(shown[`p${p} ${name}`], s.percentiles[k], `${p} % ${name}`));
    const half = shown[`mean ${name}`].split(" ± ")[1];
    if (half.startsWith("<")) assert.ok((s.mean_high - s.mean_low) / 2 < number(half.slice(1)), `${name}: ± ${half}`);
    else shows(half, (s.mean_high - s.mean_low) / 2, `± ${name}`);
  }
}

function wordsAre(said, club, unit = 1) {
  const { landing: l, outputs } = club;
  shows(said.carry, l.carry_m / unit, "carry");
  shows(said.side, Math.abs(l.side_m) / unit, "side");
  shows(said["carry-sd"], outputs.carry_m.sd / unit, "sd of carry");
  shows(said["side-sd"], outputs.side_m.sd / unit, "sd of side");
  for (const [part, scale] of [[50, l.scale_50], [90, l.scale_90]])
    said[`ellipse-${part}`].split(" by ").forEach((text, k) => shows(text, (2 * scale * [l.major_m, l.minor_m][k]) / unit, `ellipse ${part}`));
  for (const name of ["fairway", "aimed"]) said[name].match(/[\d.]+/g).forEach((text, k) => shows(text, 100 * [l[name].share, l[name].low, l[name].high][k], name));
  shows(said["within-50"], 100 * l.within_50.share, "within 50 %");
  shows(said["within-90"], 100 * l.within_90.share, "within 90 %");
}

/** Places of balls, and the ellipses' axes, in the scale of the drawing; mirrored for a left-handed player. */
async function drawingIs(club, points, landing, mirror = 1) {
  const { scale, balls, rings } = await drawn(club);
  const close = 0.12 / scale; // two places drawn to 0.1 px
  assert.equal(balls.length, points.length);
  balls.forEach(([x, y], i) => {
    const [dx, dy] = [(x - balls[0][0]) / scale, (balls[0][1] - y) / scale];
    assert.ok(Math.abs(dx - mirror * (points[i].side - points[0].side)) < close && Math.abs(dy - (points[i].carry - points[0].carry)) < close, `ball ${i}: ${dx}, ${dy}`);
  });
  for (const [part, corners] of rings) {
    const middle = [0, 1].map((k) => corners.reduce((sum, p) => sum + p[k], 0) / corners.length);
    const far = corners.map((p) => Math.hypot(p[0] - middle[0], p[1] - middle[1]) / scale);
    const wanted = landing[`scale_${part}`];
    assert.ok(Math.abs(Math.max(...far) - wanted * landing.major_m) < 0.02 * landing.minor_m, `${part} %: ${Math.max(...far)}, ${wanted * landing.major_m}`);
    assert.ok(Math.abs(Math.min(...far) - wanted * landing.minor_m) < 0.02 * landing.minor_m, `${part} %: ${Math.min(...far)}, ${wanted * landing.minor_m}`);
    // The mean lies in the middle: as far from a ball as it must be.
    assert.ok(Math.abs((middle[0] - balls[0][0]) / scale - mirror * (landing.side_m - points[0].side)) < close);
    assert.ok(Math.abs((balls[0][1] - middle[1]) / scale - (landing.carry_m - points[0].carry)) < close);
  }
}

const jobs = async () => (await (await fetch(`${address}api/v1/jobs`)).json()).result.jobs;
const alert = () => page.locator('[role="alert"]').textContent();
const one = scatter([NEUTRAL]);

const checks = {
  "numbers are those of caber scatter --json": async () => {
    await open(link(NEUTRAL));
    outputsAre(await cells(), one.setups[0]);
    wordsAre(await short(), one.setups[0]);
    assert.match(await page.locator(".club").textContent(), /right of the target line/);
    assert.equal(await page.$$eval(".varies tbody tr:not(.group, .meaning)", (list) => list.length), Object.keys(one.setups[0].outputs).length);
    assert.match(await page.locator(".said").textContent(), /how well so many swings tell a mean and a spread/);
  },
  "the picture has every ball, both ellipses and the mean where they are": async () => {
    const points = landings([NEUTRAL]);
    await drawingIs(0, points, one.setups[0].landing);
    const share = points.filter((p) => Math.abs(p.side) <= 15).length / points.length;
    shows((await short()).fairway, 100 * share, "on the fairway");
    const { name, rows } = await takeCsv("Save where the balls land as CSV");
    assert.equal(name, "neutral-smooth-landing.csv");
    assert.deepEqual(rows[1].slice(-2), ["m", "m"]);
    rows.slice(2).forEach((row, i) => assert.ok(Math.abs(row.at(-2) - points[i].carry) < 1e-7 && Math.abs(row.at(-1) - points[i].side) < 1e-7, row.join()));
    assert.equal(rows.length - 2, 100);
    const picture = await takeSvg("Save where the balls land as SVG");
    assert.equal(picture.text.match(/class="ball"/g).length, 100);
    await takePng("Save where the balls land as PNG");
    // In steps: counted anew from the command's own file.
    const steps = (await takeCsv("Save balls in steps as CSV")).rows.slice(2).map((row) => row.map(Number));
    const step = steps[1][0] - steps[0][0];
    for (const [middle, balls] of steps) assert.equal(points.filter((p) => Math.floor(p.carry / step + 1e-9) === Math.floor(middle / step)).length, balls, `${middle} m`);
    assert.equal(steps.reduce((sum, [, balls]) => sum + balls, 0), 100);
  },
  "shares of the variance as bars, and of one output closer": async () => {
    const parts = await page.$$eval("rect.part", (list) => list.map((r) => ({ ...r.dataset, width: Number(r.getAttribute("width")) * Number(r.dataset.sign) })));
    for (const name of ["carry_m", "head_speed_mps", "path_deg"]) {
      const own = parts.filter((p) => p.name === name);
      const whole = own.reduce((sum, p) => sum + p.width, 0);
      const want = { ...one.setups[0].outputs[name].share, jointly: one.setups[0].outputs[name].rest };
      for (const [habit, share] of Object.entries(want)) {
        const width = own.find((p) => p.habit === habit)?.width ?? 0;
        assert.ok(Math.abs(width / whole - share) < 0.0025, `${name} ${habit}: ${width / whole}, ${share}`);
      }
    }
    assert.ok(parts.some((p) => p.width < 0), "a share below 0 is drawn to the left");
    for (const name of ["carry_m", "head_speed_mps"]) {
      await page.selectOption("#spread-of", name);
      const s = one.setups[0].outputs[name];
      const rows = await closer();
      assert.equal(rows.length, 11);
      for (const [habit, , share, alone] of rows) {
        shows(share, 100 * (habit === "jointly" ? s.rest : s.share[habit]), `${name} ${habit}`);
        if (habit !== "jointly") shows(alone, s.sd * Math.sqrt(s.own[habit]), `${name} ${habit} alone`);
      }
      const shares = rows.map((r) => number(r[2]));
      assert.deepEqual(shares, [...shares].sort((a, b) => b - a));
    }
    const { rows } = await takeCsv("Save why it varies as CSV");
    assert.equal(rows.length - 2, Object.keys(one.setups[0].outputs).length);
    for (const row of rows.slice(2)) assert.ok(Math.abs(row.slice(-21, -10).reduce((sum, v) => sum + Number(v), 0) - 100) < 1e-6, row.join());
    await page.selectOption("#spread-rows", "all");
    assert.ok((await takeSvg("Save why it varies as SVG")).parts > 300);
    await takePng("Save why it varies as PNG");
  },
  "trade units; a width typed in them": async () => {
    await page.selectOption("#units", "trade");
    assert.equal(await page.inputValue("#spread-fairway"), "32.808");
    wordsAre(await short(), one.setups[0], YARD);
    await page.fill("#spread-fairway", "25");
    await page.press("#spread-fairway", "Enter");
    await ready();
    const narrow = scatter([NEUTRAL], "--fairway", "25 yd");
    wordsAre(await short(), narrow.setups[0], YARD);
    assert.notEqual(narrow.setups[0].landing.fairway.count, one.setups[0].landing.fairway.count);
    const { rows } = await takeCsv("Save what varies as CSV");
    const column = rows[0].indexOf("carry");
    assert.equal(rows[1][column], "yd");
    const mean = rows.find((row) => row.includes("mean"));
    assert.ok(Math.abs(mean.at(column - rows[0].length) - one.setups[0].outputs.carry_m.mean / YARD) < 1e-9);
    await page.selectOption("#units", "metric");
  },
  "a link reopens it; a habit made steadier is another answer, and undo has the first at once": async () => {
    await page.selectOption("#spread-by", "side");
    const look = () => page.evaluate(() => [location.hash, ...[...document.querySelectorAll("main select, main input")].map((e) => e.value), ...[...document.querySelectorAll("main p, main b, main td, main text")].map((e) => e.textContent)]);
    await page.waitForFunction(() => /spread.by/.test(location.hash));
    const here = await look();
    await open(here[0]);
    assert.deepEqual(await look(), here);
    const before = await short();
    const began = (await jobs()).length;
    await page.fill('[id="in-player.repeat.rise"]', "1");
    await page.press('[id="in-player.repeat.rise"]', "Enter");
    await ready();
    const steadier = scatter([NEUTRAL], "--fairway", "25 yd", "--set", "player.repeat.rise=1 %");
    wordsAre(await short(), steadier.setups[0]);
    assert.notDeepEqual(await short(), before);
    await page.click("text=Undo");
    await ready();
    assert.deepEqual(await short(), before);
    assert.equal((await jobs()).length, began + 1);
  },
  "two setups: which spreads less, as the command says": async () => {
    await go(link(NEUTRAL));
    await page.selectOption("#spread-beside", `models/${QUICK}`);
    await ready();
    const two = scatter([NEUTRAL, QUICK]);
    const { contrast, setups } = two;
    for (const i of [0, 1]) {
      wordsAre(await short(i), setups[i]);
      const points = landings([NEUTRAL, QUICK]).filter((p) => p.setup.includes(["Neutral", "Firm"][i]));
      assert.equal(points.length, setups[i].swings - setups[i].failed);
      await drawingIs(i, points, setups[i].landing);
    }
    assert.equal(await page.locator("path.ball").count(), setups[1].swings - setups[1].failed); // by shape too
    const shown = await cells();
    for (const [name, c] of Object.entries(contrast.outputs)) {
      shows(shown[`more ${name}`].split(" ± ")[0], c.mean_difference.value, `more ${name}`);
      shows(shown[`sd1 ${name}`], setups[1].outputs[name].sd, `second sd ${name}`);
      shows(shown[`ratio ${name}`], c.sd_ratio.value, `ratio ${name}`);
      assert.match(shown[`less ${name}`], c.steadier ? new RegExp(c.steadier) : c.alike ? /^alike$/ : /^$/, name);
    }
    const beside = await page.$$eval("[data-beside]", (rows) => Object.fromEntries(rows.map((tr) => [tr.dataset.beside, [...tr.querySelectorAll("td")].map((td) => td.textContent)])));
    shows(beside.area[2], contrast.area_ratio.value, "area");
    shows(beside.fairway[2], 100 * contrast.fairway_difference.value, "fairway");
    shows(beside["side_m-sd"][3].split(" to ")[0], contrast.outputs.side_m.sd_ratio.low, "side");
    const verdict = contrast.steadier ? setups[contrast.steadier === "first" ? 0 : 1].setup : "";
    assert.equal(await page.locator('[data-short="verdict"]').textContent(), verdict);
    assert.match(await page.locator(".said").textContent(), /players differ/);
    const ratios = (await takeCsv("CSV of the ratios")).rows;
    assert.ok(Math.abs(ratios[2][ratios[0].indexOf("side")] - contrast.outputs.side_m.sd_ratio.value) < 1e-12);
    await sizes("spread");
    // One player swings both: a habit is changed of both.
    await page.selectOption("#spread-beside", "models/firm-tip-smooth.yaml");
    await ready();
    await page.fill('[id="in-player.repeat.square"]', "0.4");
    await page.press('[id="in-player.repeat.square"]', "Enter");
    await ready();
    const both = scatter([NEUTRAL, "firm-tip-smooth.yaml"], "--set", "player.repeat.square=0.4 deg");
    for (const i of [0, 1]) wordsAre(await short(i), both.setups[i]);
    await page.selectOption("#spread-beside", `models/${NEUTRAL}`); // itself, as in its file
    await ready();
    wordsAre(await short(0), both.setups[0]);
    wordsAre(await short(1), one.setups[0]);
  },
  "left-handed: mirrored": async () => {
    await go(link(LEFT));
    const left = scatter([LEFT]);
    wordsAre(await short(), left.setups[0]);
    assert.match(await page.locator(".club").textContent(), /left of the target line/);
    await drawingIs(0, landings([LEFT]), left.setups[0].landing, -1);
    await picture("spread-one");
  },
  "a long run is stopped, says so, and is begun again": async () => {
    const before = await short();
    await page.fill("#spread-swings", "20000");
    await page.press("#spread-swings", "Enter");
    await page.waitForFunction(() => /^\d+ of 20000 swings$/.test(document.querySelector(".run .done").textContent));
    await picture("spread-runs");
    await page.click("text=Stop");
    assert.match(await alert(), /No spread for this[.] It was stopped after \d+ of 20000 swings[.].*of what was asked before/s);
    assert.deepEqual(await short(), before);
    assert.equal(await page.locator(".run").isVisible(), false);
    const ended = async () => {
      for (let tries = 0; (await jobs()).some((j) => /waiting|running/.test(j.state)); tries++) {
        assert.ok(tries < 100, "no job goes on");
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      return (await jobs()).at(-1).state;
    };
    assert.equal(await ended(), "cancelled");
    await page.click("text=Try again");
    await page.waitForSelector(".run:not([hidden])");
    assert.equal(await alert(), "");
    await page.keyboard.press("Escape");
    assert.match(await alert(), /It was stopped/);
    assert.equal(await ended(), "cancelled");
    // A link to what has not come to its end begins it again; and a page that is left ends what it has begun.
    const here = await page.evaluate(() => location.hash);
    await page.goto(`${address}licences.txt`);
    await page.goto(address + here);
    await page.waitForFunction(() => /^\d+ of 20000 swings$/.test(document.querySelector(".run .done")?.textContent));
    await page.goto(`${address}licences.txt`);
    assert.equal(await ended(), "cancelled");
  },
  "errors and a player without habits": async () => {
    await open(link(NEUTRAL).replace("3D100", "3D50"), { until: '[role="alert"] button' });
    assert.match(await alert(), /swings: a whole number from 100 to 20000 is wanted/);
    assert.equal(await page.getAttribute("#spread-swings", "aria-invalid"), "true");
    assert.equal(await page.locator(".landing").isVisible(), false);
    const none = one.setups[0].habits;
    await page.evaluate((h) => (location.hash = h), link(NEUTRAL, ...Object.entries(none).map(([k, { unit }]) => `set=player.repeat.${k}%3D0+${encodeURIComponent(unit)}`)));
    await page.waitForSelector(".lacking:visible");
    assert.match(await alert(), /has no habits that vary/);
    await accessible("without habits");
    await picture("spread-no-habits");
    await page.fill('[id="in-player.repeat.ahead"]', "8");
    await page.press('[id="in-player.repeat.ahead"]', "Enter");
    await ready();
    assert.equal(await page.locator(".lacking").isVisible(), false);
    await page.selectOption("#spread-of", "carry_m");
    const [habit, by, share] = (await closer())[0];
    assert.equal(`${habit} ${by} ${number(share).toFixed(0)}`, "ahead 8 mm 100");
  },
};
await run(checks);
