// SPDX-License-Identifier: GPL-3.0-or-later
// From swing to swing: where the balls land, what varies, and what makes it vary.
import { KEYS } from "./beside_data";
import { h } from "./dom";
import { exportButtons } from "./exports";
import { type Reading, percent } from "./report_data";
import { drawing, paragraph, table } from "./report_parts";
import { fileName } from "./save";
import { type Found, Reading as SpreadReading, foundOf } from "./spread_data";
import { landingCsv, landingSvg } from "./spread_landing";
import { plainName } from "./units";

/** Where the balls land, drawn as on the live page, and beside it what is to be seen. */
function landing(reading: Reading): HTMLElement | null {
  const { scatter, setups, fields } = reading.data;
  if (!scatter) return null;
  const names = scatter.setups.map((_, i) => setups[i].name);
  const found: Found = { ...foundOf(scatter, setups.map((s) => s.inputs)), names };
  const own = new SpreadReading(fields, reading.units);
  const picture = landingSvg(found, own, false);
  const tools = exportButtons({ title: "Where the balls land", file: () => fileName(...names, "landing"), svg: () => landingSvg(found, own), csv: () => landingCsv(found, own) });
  const words = scatter.setups.flatMap(({ landing: l, outputs }, i) => [
    h("h3", {}, names[i]),
    h("ul", {}, ...[
      `carry ${reading.text("carry_m", l.carry_m)} on average, one sd ${reading.text("carry_m", outputs.carry_m.sd)}`,
      `side: one sd ${reading.text("side_m", outputs.side_m.sd)}`,
      `${percent(l.fairway.share)} on a fairway of ${reading.text("side_m", scatter.fairway_m)} (${percent(l.fairway.low)} to ${percent(l.fairway.high)})`,
      `nine balls in ten within an ellipse of ${own.area(l.area_90_m2).text} ${own.area(l.area_90_m2).unit}`,
    ].map((text) => h("li", {}, text))),
  ]);
  return h("div", { class: "beside" }, drawing("Where the balls land, seen from above: the target is at the top, the scale is the same both ways. The ellipses hold half of the balls, and nine in ten, where they spread normally.", picture, picture.getAttribute("aria-label") ?? "", "landing", tools), h("div", {}, ...words));
}

const KEPT = [...KEYS, "closure_rate_deg_s", "peak_lag_mm", "peak_handle_moment_nm"];

function spreadOne(reading: Reading): HTMLElement | null {
  const found = reading.data.scatter;
  if (!found) return null;
  const { outputs } = found.setups[0];
  const last = found.percentiles.length - 1;
  const rows = KEPT.filter((n) => outputs[n]).map((name) => {
    const s = outputs[name];
    return { name: `scatter ${name}`, cells: [reading.label(name), ...[s.usual, s.mean, s.sd, s.percentiles[0], s.percentiles[last]].map((v) => reading.number(name, v))] };
  });
  const heads: [string, number][] = [["", 1], ["usual swing", 1], ["mean", 1], ["one sd", 1], [`${found.percentiles[0]} in 100 are below`, 1], [`${100 - found.percentiles[last]} in 100 are above`, 1]];
  return table(`What varies from swing to swing with ${found.setups[0].setup}`, [heads], [{ rows }], "spread");
}

function spreadTwo(reading: Reading): HTMLElement | null {
  const found = reading.data.scatter;
  if (!found?.contrast) return null;
  const [a, b] = found.setups;
  const { contrast } = found;
  const ratio = (v: number | null) => (v === null ? "" : v.toFixed(2));
  const words = (o: { steadier: string | null; alike: boolean }, first: string, second: string) => (o.steadier ? `${o.steadier === "first" ? first : second} varies less` : o.alike ? "alike" : "not told");
  const [first, second] = reading.data.setups.map((s) => s.name);
  const rows = KEPT.filter((n) => a.outputs[n] && b.outputs[n]).map((name) => {
    const c = contrast.outputs[name];
    return { name: `scatter ${name}`, cells: [reading.label(name), reading.number(name, a.outputs[name].sd), reading.number(name, b.outputs[name].sd), `${ratio(c.sd_ratio.value)} (${ratio(c.sd_ratio.low)} to ${ratio(c.sd_ratio.high)})`, words(c, first, second)] };
  });
  const heads: [string, number][] = [["", 1], [`one sd, ${first}`, 1], [`one sd, ${second}`, 1], ["second over first (95 % interval)", 1], ["verdict", 1]];
  return table("What varies from swing to swing, on the same draws", [heads], [{ rows }], "spread two");
}

function sharesTable(reading: Reading): HTMLElement | null {
  const found = reading.data.scatter;
  if (!found) return null;
  const { outputs, habits, setup } = found.setups[0];
  const names = ["head_speed_mps", "delivered_loft_deg", "face_angle_deg", "launch_angle_deg", "backspin_rpm", "carry_m", "side_m"];
  const largest = new Map(names.map((n) => [n, Math.max(...Object.values(outputs[n].share))]));
  const rows = Object.entries(habits).filter(([, habit]) => habit.sd > 0).map(([key, habit]) => ({
    cells: [habit.meaning, `${Number(habit.sd.toPrecision(3))} ${habit.unit}`, ...names.map((n) => percent(Math.max(0, outputs[n].share[key])))],
    strong: [false, false, ...names.map((n) => outputs[n].share[key] === largest.get(n))],
  }));
  const heads: [string, number][] = [["what the player does not repeat", 1], ["one sd", 1], ...names.map((n): [string, number] => [plainName(n), 1])];
  return table(`What makes it vary with ${setup}: shares of the variance, the largest in bold`, [heads], [{ rows }], "shares");
}

export function spread(reading: Reading): HTMLElement[] {
  const found = reading.data.scatter;
  if (!found) return [paragraph("There is no spread from swing to swing: see the notes at the end.")];
  const parts = [landing(reading), found.contrast ? spreadTwo(reading) : spreadOne(reading), sharesTable(reading)];
  const words = `${found.swings} swings were drawn from what the player’s file says of habits (random numbers ${found.seed}). How well that many tell a mean and a spread, the intervals say; how well the habits are known, they do not.`;
  return [paragraph(words), ...parts.filter((p): p is HTMLElement => p !== null)];
}
