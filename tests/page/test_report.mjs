// SPDX-License-Identifier: GPL-3.0-or-later
// A report as its reader meets it: opened from the disk with no network, its numbers against what the commands print,
// its units against exact definitions, what axe-core says of it, and its paper: sizes of ISO 216 and ANSI/ASME Y14.1,
// letters of 9 points at least, figures with their captions on one page (pdftotext, where poppler is there).
// Sources: as in test_swing.mjs; A4 is 210 mm x 297 mm, Letter 8.5 in x 11 in, a point 1/72 in, a px of CSS 1/96 in.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { CABER, CABER_CHROMIUM, CABER_PICTURES, accessible, address, half, need, number, printed, run, setupFile, shows } from "./harness.mjs";

const folder = mkdtempSync(join(tmpdir(), "caber-report-"));
const FEW = ["--swings", "100", "--set", "settings.modes=5", "--set", "settings.tolerance=1e-6"];
const SETUPS = { one: ["neutral-smooth"], two: ["neutral-smooth", "firm-tip-smooth"], four: ["neutral-smooth", "firm-tip-smooth", "soft-tip-smooth", "neutral-quick"] };
const files = (name) => SETUPS[name].map((s) => setupFile(`${s}.yaml`));
const SIDES = { A4: [(210 / 25.4) * 72, (297 / 25.4) * 72], Letter: [8.5 * 72, 11 * 72] };
const PAPERS = { one: ["A4", "Letter"], four: ["Letter"] };
const HOSTILE = "</script><img src=x onerror=alert(1)>";

// Nothing here is drawn in three dimensions, and without that a page takes a third of the time.
const browser = await need("playwright-core").chromium.launch({ executablePath: CABER_CHROMIUM, args: ["--no-sandbox", "--disable-gpu", "--disable-background-networking"] });
const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, acceptDownloads: true, offline: true });

/** Writes a report, and opens it where there is no network. */
const complaints = [];
const asked = [];
async function write(name, setups, ...words) {
  const file = join(folder, `${name}.html`);
  execFileSync(CABER, ["report", ...setups, "--output", file, ...FEW, ...words], { stdio: ["ignore", "ignore", "ignore"] });
  const page = await context.newPage();
  page.on("console", (said) => complaints.push(`${name}: ${said.text()}`));
  page.on("pageerror", (error) => complaints.push(`${name}: ${error}`));
  page.on("request", (request) => asked.push(request.url().replace(/^data:.*/s, "data:")));
  page.address = pathToFileURL(file).href;
  await page.goto(page.address);
  await page.waitForSelector("main h1");
  return page;
}
const pages = {
  one: await write("one", files("one")),
  two: await write("two", files("two"), "--question", HOSTILE, "--set", `name=${HOSTILE}`),
  four: await write("four", files("four"), "--units", "trade"),
};

/** {"impact head_speed_mps 1": "40.64"}: cells by name and column. */
const cells = (page) => page.$$eval("td[data-name]", (list) => Object.fromEntries(list.map((td) => [`${td.dataset.name} ${td.dataset.column}`, td.textContent])));

/** Sides of the pages of a PDF, in points. */
const sides = (pdf) => [...readFileSync(pdf, "latin1").matchAll(/\/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]/g)].map((m) => [Number(m[1]), Number(m[2])]);
function paperText(pdf) {
  try {
    return execFileSync("pdftotext", ["-layout", pdf, "-"], { encoding: "utf8" }).split("\f").slice(0, -1);
  } catch (error) {
    if (error.code !== "ENOENT") throw error;
    console.log("     (pdftotext is not there: where figures stand on paper was not looked at)");
    return [];
  }
}

const checks = {
  "numbers of one setup are those of caber swing, bench and scatter": async () => {
    const shown = await cells(pages.one);
    const [file] = files("one");
    const fast = FEW.slice(2);
    const { impact, straight } = printed("swing", file, ...fast);
    for (const [name, value] of Object.entries(impact)) {
      const text = shown[`impact ${name} 1`];
      if (name === "energy_residual") assert.match(text, /^\d[.]\de[−-]\d$/);
      else shows(text, value, name);
      if (name in straight && name !== "energy_residual") {
        shows(shown[`impact ${name} 2`], straight[name], `${name} of the straight club`);
        shows(shown[`impact ${name} 3`], value - straight[name], `${name}, difference`);
      }
    }
    const bench = printed("bench", file, ...fast);
    for (const name of ["cpm", "twist_deg", "tip_deflection_mm", "loft_deg"]) shows(shown[`bench ${name} 1`], bench[name], name);
    assert.equal(shown["bench swing_weight 1"], bench.swing_weight);
    const { outputs, landing } = printed("scatter", file, ...FEW).setups[0];
    for (const name of ["carry_m", "side_m", "head_speed_mps"])
      ["usual", "mean", "sd"].forEach((what, i) => shows(shown[`scatter ${name} ${i + 1}`], outputs[name][what], `${name}, ${what}`));
    const words = await pages.one.locator(".answer").textContent();
    assert.match(words, new RegExp(`arrives at ${impact.head_speed_mps.toFixed(2)}\\sm/s`));
    assert.match(words, new RegExp(`${Math.round(100 * landing.fairway.share)} % of the balls`));
  },
  "several stand side by side, each difference in sd of the first player's swings": async () => {
    const shown = await cells(pages.four);
    const { outputs } = printed("compare", ...files("four"), ...FEW);
    const mph = 1609.344 / 3600;
    for (const { name, values, differences, times } of outputs) {
      if (!/^(head_speed|ball_speed|delivered_loft|backspin|closure)/.test(name)) continue;
      const size = name.endsWith("_mps") ? mph : 1;
      shows(shown[`impact ${name} 1`], values[0] / size, name);
      for (const i of [1, 2, 3]) {
        shows(shown[`impact ${name} ${3 * i - 1}`], values[i] / size, `${name} of ${i}`);
        shows(shown[`impact ${name} ${3 * i}`], differences[i] / size, `${name}, difference of ${i}`);
        shows(shown[`impact ${name} ${3 * i + 1}`], times[i], `${name}, times of ${i}`);
      }
    }
    assert.match(await pages.four.locator(".warnings").textContent(), /^The players differ/);
  },
  "the switch of units changes all that is shown, and the file asks nobody": async () => {
    const page = pages.one;
    const before = await cells(page);
    await page.focus("#units");
    await page.selectOption("#units", "trade");
    const after = await cells(page);
    const pairs = [["impact head_speed_mps 1", 1609.344 / 3600], ["impact lead_deflection_mm 1", 25.4], ["impact carry_m 1", 0.9144], ["impact peak_handle_moment_nm 1", 0.3048 * 0.45359237 * 9.80665]];
    for (const [key, size] of pairs) assert.ok(Math.abs(number(after[key]) * size - number(before[key])) <= half(before[key]) + half(after[key]) * size, `${key}: ${before[key]}, ${after[key]}`);
    assert.match(await page.locator(".answer").textContent(), /mph/);
    assert.equal(await page.evaluate(() => document.activeElement.id), "units");
    await page.selectOption("#units", "metric");
    assert.deepEqual(await cells(page), before);
  },
  "texts of a model are text": async () => {
    const page = pages.two;
    assert.equal(await page.locator("h1").textContent(), HOSTILE);
    assert.equal(await page.locator("img").count(), 0);
    assert.match(await page.title(), /<img src=x/);
    assert.equal(await page.evaluate(() => document.documentElement.lang), "en");
    assert.equal((await fetch(`${address}report.part`)).status, 404); // what has no data yet is not served
  },
  "charts are kept as SVG and CSV, with no network": async () => {
    const take = async (label) => {
      const [download] = await Promise.all([pages.one.waitForEvent("download"), pages.one.click(`[aria-label="${label}"]`)]);
      return readFileSync(await download.path(), "utf8");
    };
    const rows = (await take("Save head speed as CSV")).trim().split("\n").map((row) => row.split(","));
    assert.deepEqual(rows.slice(0, 2), [["time", "head_speed", "straight_head_speed"], ["s", "m/s", "m/s"]]);
    const { impact } = printed("swing", files("one")[0], ...FEW.slice(2));
    assert.ok(Math.abs(rows.at(-1)[1] - impact.head_speed_mps) < 1e-5);
    assert.match(await take("Save bending stiffness ei as SVG"), /^<svg[^>]*xmlns="http:\/\/www.w3.org\/2000\/svg"/);
  },
  "nothing overflows, headings are in order": async () => {
    for (const [name, page] of Object.entries(pages)) {
      const levels = await page.$$eval("h1, h2, h3", (list) => list.map((e) => Number(e.tagName[1])));
      levels.forEach((level, i) => assert.ok(i ? level >= 2 && level <= levels[i - 1] + 1 : level === 1, `${name}: ${levels}`));
      const sizes = { one: [[820, 1180, 1]], two: [[1280, 800, 1]], four: [[820, 1180, 1], [1280, 800, 2]] }[name];
      for (const [width, height, zoom] of sizes) {
        await page.setViewportSize({ width: width / zoom, height: height / zoom });
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        assert.ok(wide <= 0, `${name}, ${width} x ${height}, ${zoom}: ${wide} px wider than the window`);
        // What can be moved sideways is reached by keys, and nothing else is a stop.
        const stops = await page.$$eval(".scroll", (list) => list.map((e) => [e.tabIndex, e.scrollWidth > e.clientWidth]));
        for (const [stop, moves] of stops) assert.equal(stop, moves ? 0 : -1, `${name}, ${width} x ${height}, ${zoom}`);
        // Its top alone: the whole is longer than a picture may be.
        if (CABER_PICTURES && zoom === 1) await page.screenshot({ path: join(CABER_PICTURES, `report-${name}-${width}x${height}.png`) });
      }
    }
  },
  "on A4 and on Letter figures stay with their captions, letters are 9 points or more": async () => {
    for (const name of ["one", "four"]) {
      const page = pages[name];
      await page.setViewportSize({ width: 680, height: 1000 }); // about as wide as the paper's column
      await page.emulateMedia({ media: "print" });
      const small = await page.evaluate(() => {
        const found = new Set();
        const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
        for (let text = walk.nextNode(); text; text = walk.nextNode()) {
          const of = text.parentElement;
          if (!text.data.trim() || !of.checkVisibility()) continue;
          const seen = of.ownerSVGElement && of.getScreenCTM();
          const scale = seen ? Math.hypot(seen.a, seen.b) : 1;
          const points = Number.parseFloat(getComputedStyle(of).fontSize) * scale * 0.75;
          if (points < 8.95) found.add(`${points.toFixed(2)} pt: ${text.data.slice(0, 40)}`);
        }
        return [...found];
      });
      assert.deepEqual(small, [], name);
      assert.equal(await page.locator(".bar").isVisible(), false);
      await page.emulateMedia({ media: null });
      for (const format of PAPERS[name]) {
        const want = SIDES[format];
        const file = join(folder, `${name}-${format}.pdf`);
        await page.pdf({ path: file, format });
        const found = sides(file);
        assert.ok(found.length > 3, `${name}: ${found.length} pages`);
        for (const side of found) side.forEach((s, k) => assert.ok(Math.abs(s - want[k]) < 1.5, `${name} on ${format}: ${side}`));
        onPaper(name, format, paperText(file), await page.$$eval("figure", (list) => list.map((f) => f.querySelector("figcaption strong").textContent.trim())));
        if (CABER_PICTURES) {
          mkdirSync(CABER_PICTURES, { recursive: true });
          writeFileSync(join(CABER_PICTURES, `report-${name}-${format}.pdf`), readFileSync(file));
        }
      }
    }
  },
  "axe-core finds nothing": async () => {
    // Of rows that are alike three stand for all: axe-core takes long for each.
    await pages.two.evaluate(() => document.querySelectorAll("tbody tr:nth-child(n + 4)").forEach((row) => row.remove()));
    await accessible("two setups", pages.two);
  },
  "nothing was complained of, and nothing was asked for but the files themselves": async () => {
    assert.deepEqual(complaints, []);
    assert.deepEqual([...new Set(asked)].filter((url) => url !== "data:").sort(), Object.values(pages).map((page) => page.address).sort());
    await browser.close();
    rmSync(folder, { recursive: true });
  },
};

/** On each page as many captions as there are feet of drawings: axis titles, and the last row of the pictures. */
function onPaper(name, format, texts, captions) {
  if (!texts.length) return;
  const all = [];
  texts.forEach((text, i) => {
    const own = [...text.matchAll(/Figure \d+[.]/g)].map((m) => m[0]);
    const feet = text.match(/time from the start, s|from the tip of the (un)?cut shaft|from the hands, |vary by \(sd\)|of the larger of the two values$|off the (target )?line, |start, 0[.]000 s/g) ?? [];
    assert.equal(feet.length, own.length, `${name} on ${format}, page ${i + 1}: ${own} and ${feet}`);
    all.push(...own);
    assert.match(text, new RegExp(`caber +${i + 1} ?/ ?${texts.length}\\s*$`), `${name} on ${format}: the foot of page ${i + 1}`);
    assert.ok(text.split("\n").filter((line) => line.trim()).length > 3, `${name} on ${format}: page ${i + 1} is empty`);
  });
  assert.deepEqual(all.sort(), captions.sort(), `${name} on ${format}`);
}

await run(checks);
