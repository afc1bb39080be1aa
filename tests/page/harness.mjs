// SPDX-License-Identifier: GPL-3.0-or-later
// What the checks of the live page share: the program that serves it, Debian's chromium, the page as a reader meets
// it, the files it gives, and what axe-core says of it (rules of WCAG 2.2 A and AA).
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";

export const { CABER, CABER_SOURCE, CABER_PAGE_WORK, CABER_CHROMIUM, CABER_PICTURES } = process.env;
export const MODELS = join(CABER_SOURCE, "models");
export const need = createRequire(join(CABER_PAGE_WORK, "package.json"));
const { chromium } = need("playwright-core");
const axe = readFileSync(need.resolve("axe-core/axe.min.js"), "utf8");

/** What a command prints with --json. */
export const printed = (command, ...words) => JSON.parse(execFileSync(CABER, [command, ...words, "--json"], { stdio: ["ignore", "pipe", "ignore"] }));
export const setupFile = (file) => join(MODELS, "setups", file);

/** A folder of the reader's own, for the time of the checks. */
export const FOLDER = mkdtempSync(join(tmpdir(), "caber-page-"));

export function serve(...words) {
  return new Promise((resolve, reject) => {
    const server = spawn(CABER, ["serve", "--threads", "2", ...words], { stdio: ["ignore", "pipe", "inherit"] });
    server.once("exit", (status) => reject(new Error(`caber serve ended with ${status}`)));
    server.stdout.once("data", (text) => resolve({ server, address: String(text).trim() }));
  });
}

/** A browser and a context of it. Without three dimensions where no picture is looked at: the page says so, all else is
 * there, and it is far quicker than drawing by the processor what is meant for a graphics card. */
async function launch(flat) {
  const drawing = flat ? ["--disable-gpu", "--disable-3d-apis"] : ["--use-angle=swiftshader", "--enable-unsafe-swiftshader"];
  const browser = await chromium.launch({ executablePath: CABER_CHROMIUM, args: ["--no-sandbox", "--disable-background-networking", ...drawing] });
  return { browser, context: await browser.newContext({ viewport: { width: 1280, height: 800 }, acceptDownloads: true, reducedMotion: "reduce" }) };
}

const { server, address } = await serve("--models", MODELS, "--folder", FOLDER);
export { address };
const launched = [await launch(true)]; // flat, and when it is wanted the other one
export let { context } = launched[0];
const complaints = [];
const strangers = [];
export let page;

/** Opens an address and waits for its answer; `flat` as above. */
export async function open(hash, { until = "[data-answer]", flat = true } = {}) {
  if (page?.flat === flat) await page.goto(`${address}licences.txt`); // in the same process, which is quicker
  else {
    await page?.close();
    if (!flat) launched[1] ??= await launch(false);
    ({ context } = launched[flat ? 0 : 1]);
    page = await context.newPage();
    page.flat = flat;
    page.on("console", (said) => ["error", "warning"].includes(said.type()) && complaints.push(said.text()));
    page.on("pageerror", (error) => complaints.push(String(error)));
    page.on("request", (request) => /^(http:\/\/127\.0\.0\.1:|data:|blob:http:\/\/127)/.test(request.url()) || strangers.push(request.url()));
  }
  await page.goto(address + hash);
  await ready(until);
}
/** Nothing is being computed, and what was computed is shown. */
export const ready = (until = "[data-answer]") =>
  page.waitForFunction((s) => document.querySelector(s) && !document.querySelector("[aria-busy]"), until, { timeout: 30000 });
export const number = (text) => Number.parseFloat(text.replace("−", "-"));
/** Half of the last digit that is shown. */
export const half = (text) => 0.5 * 10 ** -(/[.](\d+)/.exec(text)?.[1].length ?? 0) * 1.0001;
/** Holds a number as it is shown against what it must be. */
export function shows(text, want, what) {
  assert.ok(text !== undefined && text !== null && Math.abs(number(text) - want) <= half(text), `${what}: shown ${text}, must be ${want}`);
}

/** A file that a button gives, by the button's label. */
export async function take(label) {
  const [download] = await Promise.all([page.waitForEvent("download"), page.click(`[aria-label="${label}"]`)]);
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
}
export async function takeCsv(label) {
  const { name, bytes } = await take(label);
  return { name, rows: String(bytes).trim().split("\n").map((row) => row.split(",")) };
}
/** An SVG that is XML, without numbers that are none. */
export async function takeSvg(label) {
  const { name, bytes } = await take(label);
  const text = String(bytes);
  const read = await page.evaluate((s) => {
    const tree = new DOMParser().parseFromString(s, "image/svg+xml");
    return [tree.querySelector("parsererror")?.textContent ?? "", tree.documentElement.namespaceURI, tree.querySelectorAll("path, rect, circle").length];
  }, text);
  assert.deepEqual(read.slice(0, 2), ["", "http://www.w3.org/2000/svg"], label);
  assert.doesNotMatch(text, /NaN|undefined|Infinity/, label);
  return { name, text, parts: read[2] };
}
export async function takePng(label) {
  const { name, bytes } = await take(label);
  assert.equal(bytes.subarray(1, 4).toString(), "PNG", label);
  assert.ok(bytes.length > 5000, `${label}: ${bytes.length} bytes`);
  return name;
}

/** What of axe-core's rules hangs on the width of the window: the rest is looked at once. */
const OF_WIDTH = ["target-size", "scrollable-region-focusable", "region", "aria-hidden-focus", "link-in-text-block", "css-orientation-lock"];

export async function accessible(where, on = page, rules = null) {
  await on.evaluate(axe + ";0");
  const runOnly = rules ? { type: "rule", values: rules } : { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] };
  const found = await on.evaluate((only) => axe.run(document, { runOnly: only, resultTypes: ["violations"] }), runOnly);
  const bad = found.violations.map((v) => `${v.impact} ${v.id}: ${v.nodes.map((n) => n.html).slice(0, 3).join(" ")}`);
  assert.deepEqual(bad, [], where);
}

/** Keeps a picture of the whole page, where pictures are kept. */
export async function picture(name, on = page) {
  if (!CABER_PICTURES) return;
  mkdirSync(CABER_PICTURES, { recursive: true });
  await on.screenshot({ path: join(CABER_PICTURES, `${name}.png`), fullPage: true });
}

/** The view as it stands, wide, as a small screen, in portrait and at 200 %: nothing overflows, axe-core finds nothing. */
export async function sizes(name) {
  for (const [width, height, zoom] of [[1280, 800, 1], [1024, 768, 1], [820, 1180, 1], [1280, 800, 2]]) {
    await page.setViewportSize({ width: width / zoom, height: height / zoom });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${width} x ${height}, ${zoom * 100} %: ${wide} px wider than the window`);
    if (width !== 1024) await accessible(`${width} x ${height}, ${zoom * 100} %`, page, width === 1280 && zoom === 1 ? null : OF_WIDTH); // 1024: laid out as the wide one
    await picture(`${name}-${width}x${height}${zoom > 1 ? "-200" : ""}`);
  }
  await page.setViewportSize({ width: 1280, height: 800 });
}

/** Runs checks by their names in turn, then says what the console and the network had to say. */
export async function run(checks) {
  let [failed, done] = [0, 0];
  const all = {
    ...checks,
    "no complaint in the console, and no request to anybody else": () => {
      assert.deepEqual(complaints.filter((text) => !/status of 4(22|04)|GPU stall|GL Driver|WebGL context could not be created|Error creating WebGL context/.test(text)), []);
      assert.deepEqual(strangers, []);
    },
  };
  for (const [name, check] of Object.entries(all)) {
    if (process.argv[2] && !name.includes(process.argv[2])) continue;
    const began = performance.now();
    done++;
    try {
      await check();
      console.log(`ok   ${name} (${((performance.now() - began) / 1e3).toFixed(1)} s)`);
    } catch (error) {
      failed++;
      console.log(`FAIL ${name}\n${error.stack}`);
    }
  }
  for (const { browser } of launched) await browser.close();
  server.removeAllListeners("exit");
  server.kill("SIGTERM");
  rmSync(FOLDER, { recursive: true });
  if (!done) console.log(`no check has “${process.argv[2]}” in its name`);
  process.exit(failed || !done ? 1 : 0);
}
