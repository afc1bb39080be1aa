// SPDX-License-Identifier: GPL-3.0-or-later
// In short: what a fitter asks for first, in a sentence each.
import { type Comparison, KEYS, type Output, differenceText, numberFixed, timesAt, wordsEnd, wordsOf } from "./beside_data";
import { setupSample } from "./beside_picture";
import { h } from "./dom";
import { type System, plainName } from "./units";

const FEW = 4; // sentences of each, of several setups
const MORE = 8; // of one alone
const LITTLE = 0.1; // of what swings vary by: named together

interface Said {
  o: Output;
  times: number | null;
  change: string;
}

function keysOf(found: Comparison, k: number, units: System): Said[] {
  const keys = KEYS.map((name) => found.outputs.find((o) => o.name === name)).filter((o): o is Output => o !== undefined);
  const there = keys.filter((o) => o.differences[k] !== null && o.differences[k] !== 0);
  const said = there.map((o) => ({ o, times: timesAt(o, k), change: `${plainName(o.name)} ${differenceText(o.differences[k] as number, o.unit, units, o.name)}` }));
  return said.sort((a, b) => Math.abs(b.times ?? 0) - Math.abs(a.times ?? 0));
}

function sentences(found: Comparison, k: number, units: System): HTMLElement[] {
  const known = found.spread.known;
  const all = keysOf(found, k, units);
  if (!all.length) return [h("li", {}, "no difference")];
  const most = found.setups.length > 2 ? FEW : MORE;
  const little = all.filter(({ times }) => known && times !== null && Math.abs(times) < LITTLE);
  const large = all.filter((s) => !little.includes(s));
  const list = large.slice(0, most).map(({ o, times, change }) =>
    h("li", { "data-name": o.name, "data-setup": k + 1 }, h("strong", {}, change), times === null ? "" : `, ${wordsOf(times, known)}${wordsEnd(times, known)}`),
  );
  if (large.length > most) list.push(h("li", {}, `and ${large.length - most} more, in the table below`));
  if (little.length) list.push(h("li", { class: "little", "data-setup": k + 1 }, `less than a tenth of what the player’s swings vary by: ${little.map(({ change }) => change).join(", ")}`));
  return list;
}

function retuned(found: Comparison, k: number): HTMLElement | null {
  const r = found.setups[k].retuning;
  if (!r) return null;
  const shift = `${Math.abs(r.release_shift_ms).toFixed(2)} ms ${r.release_shift_ms < 0 ? "earlier" : "later"}`;
  const share = 100 * (r.hub_peak_scale - 1);
  return h("p", { class: "retuned" }, `To keep speed and handle the player changes: peak torque of the shoulders ${share >= 0 ? "+" : ""}${numberFixed(share, 2)} %, release ${shift}.`);
}

/** What stands beside the differences, in the command's words. */
function intro(found: Comparison): string {
  if (found.pending) return "What the player’s swings vary by is being drawn…";
  const { spread } = found;
  if (!spread.known) return "The differences stand in per cent of the larger of the two values.";
  return `What the player’s swings vary by: the standard deviation (sd) over ${spread.swings - spread.failed} swings with setup 1 (seed ${spread.seed}), drawn from the habits in the player’s file. A difference of less than one sd is hidden by what one swing differs from the next; it shows in the mean of many.`;
}

export function besideShort(found: Comparison, labels: string[], units: System): HTMLElement[] {
  const parts = labels.slice(1).map((label, i) =>
    h("div", { class: "of" }, h("h3", {}, setupSample(i + 1) as unknown as HTMLElement, label), retuned(found, i + 1), h("ul", {}, ...sentences(found, i + 1, units))),
  );
  return [h("h2", { id: "beside-short" }, `In short, beside ${labels[0]}`), h("div", { class: "all" }, ...parts), h("p", { class: "intro" }, intro(found))];
}
