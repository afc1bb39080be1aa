// SPDX-License-Identifier: GPL-3.0-or-later
// How long a reader of the live page waits, for scripts/bench --page: a line of JSON, [{what, median_ms, most_ms,
// cpu_ms, times}]. The clock is the page's own: from the start of the navigation, or from the key or the move that changes a value,
// to the frame in which the answer is drawn (a view counts its answers in data-answer). cpu_ms is the mean processor
// time of the browser's process that holds the page, which other work on the machine disturbs less. Pictures in three
// dimensions are drawn by chromium in software here, which a graphics card does far quicker.
import { address, context, page, open, ready, run } from "./harness.mjs";

const [TIMES, TIMES_FIRST] = [21, 5];
const SETUP = "setup=neutral-smooth.yaml";

/** In the page: keeps when the next answer is drawn, and when a key was last pressed before it. */
function watch() {
  let key = 0;
  for (const type of ["keydown", "pointermove"]) addEventListener(type, (event) => (key = event.timeStamp), true);
  window.nextAnswer = () =>
    (window.answer = new Promise((resolve) => {
      const seen = new MutationObserver(() => {
        seen.disconnect();
        requestAnimationFrame(() => setTimeout(() => resolve(performance.now() - key)));
      });
      seen.observe(document, { subtree: true, attributes: true, attributeFilter: ["data-answer"] });
    }));
  window.nextAnswer();
}

async function processorTime() {
  const devtools = await context.browser().newBrowserCDPSession();
  const { processInfo } = await devtools.send("SystemInfo.getProcessInfo");
  return processInfo.filter((p) => p.type === "renderer").reduce((sum, p) => sum + p.cpuTime, 0) * 1e3;
}

const taken = [];
function keep(what, times, cpu) {
  const sorted = [...times].sort((a, b) => a - b);
  const n = times.length;
  taken.push({ what, median_ms: sorted[n >> 1], most_ms: sorted[n - 1], cpu_ms: cpu / n, times: n });
}

/** From an address to its answer, nothing kept from before. */
async function firstView(what, hash) {
  const times = [];
  let cpu = 0;
  for (let i = 0; i < TIMES_FIRST; i++) {
    const fresh = await context.browser().newContext({ viewport: { width: 1280, height: 800 } });
    const tab = await fresh.newPage();
    await tab.addInitScript(watch);
    const before = await processorTime();
    await tab.goto(address + hash);
    times.push(await tab.evaluate(() => window.answer));
    cpu += (await processorTime()) - before;
    await fresh.close();
  }
  keep(what, times, cpu);
}

/** From a key to the answer, one after the other. `press` ends with the key that changes something. */
async function answers(what, press) {
  const times = [];
  await page.evaluate(watch);
  const before = await processorTime();
  for (let i = 0; i < TIMES; i++) {
    await page.evaluate(() => void window.nextAnswer());
    await press(i);
    times.push(await page.evaluate(() => window.answer));
    await ready();
  }
  keep(what, times, (await processorTime()) - before);
}

/** Moves the slider that `selector` finds in the view, there and back: by keys, then by hand. */
async function slider(what, selector) {
  const handle = page.locator(selector).first();
  await handle.focus();
  await answers(`${what}, by keys`, (i) => page.keyboard.press(i % 2 ? "ArrowDown" : "ArrowUp"));
  const { x, y, width, height } = await handle.boundingBox();
  await page.mouse.move(x + width / 2, y + height / 2);
  await page.mouse.down();
  await answers(`${what}, dragged`, (i) => page.mouse.move(x + width / 2, y + height / 2 - 3 - (i % 2)));
  await page.mouse.up();
}

async function measured() {
  const swing = `#/swing?${SETUP}`;
  await open(swing);
  await firstView("first view, One swing, without its picture", swing);
  await open(swing, { flat: false });
  await firstView("first view, One swing", swing);
  const box = page.locator('[id="in-player.load.grip.rise"]');
  await answers("an input of One swing", async (i) => {
    await box.fill(String(0.08 + 0.001 * i));
    await box.press("Enter");
  });
  for (const [view, title] of [["shaft", "The shaft"], ["load", "The player's load"]]) {
    await open(`#/${view}?${SETUP}`);
    await slider(`a point of ${title}`, `main.${view} [role=slider]`);
  }
  console.log(JSON.stringify(taken));
}

await run({ measured });
