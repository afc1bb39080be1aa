// SPDX-License-Identifier: GPL-3.0-or-later
// From swing to swing: where the balls land, what varies, and what makes it vary.
import { type Curve, type Figure, STROKES } from "./figure";
import { KEYS, type Landing, type Reading, percent } from "./report_data";
import { chart, paragraph, table } from "./report_parts";
import { plainName } from "./units";

const STEPS = 72;

/** The ellipse that holds nine balls in ten where landings spread normally. */
function ellipse({ carry_m, side_m, major_m, minor_m, turn_deg, scale_90 }: Landing): { x: number[]; y: number[] } {
  const turn = (turn_deg * Math.PI) / 180;
  const at = Array.from({ length: STEPS + 1 }, (_, i) => (2 * Math.PI * i) / STEPS);
  const along = (a: number) => scale_90 * major_m * Math.cos(a);
  const across = (a: number) => scale_90 * minor_m * Math.sin(a);
  return {
    x: at.map((a) => side_m + along(a) * Math.sin(turn) + across(a) * Math.cos(turn)),
    y: at.map((a) => carry_m + along(a) * Math.cos(turn) - across(a) * Math.sin(turn)),
  };
}

export function landingChart(reading: Reading): HTMLElement | null {
  const found = reading.data.scatter;
  if (!found) return null;
  const curves = found.setups.flatMap((s, i): Curve[] => {
    const { carry_m, side_m } = found.landing_points[i];
    const name = reading.data.setups[i].name;
    return [
      { name: `${name}: a ball each`, ...STROKES[i], dots: true, x: side_m, y: carry_m },
      { name: "nine in ten", ...STROKES[i], ...ellipse(s.landing) },
    ];
  });
  const figure: Figure = {
    title: "Where the balls land", of: found.setups.map((s) => s.setup).join(" and "),
    x: { name: "off the line, away from the golfer", unit: "m", field: "side_m", column: "side" },
    y: { name: "carry", unit: "m", field: "carry_m" }, curves,
  };
  return chart(figure, reading.units, "whole", { height: 330, caption: "carry over side, as seen from behind the golfer when right-handed; the two scales differ" });
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
  const heads: [string, number][] = [["", 1], [`one sd, ${first}`, 1], [`one sd, ${second}`, 1], ["second over first (95 % interval)", 1], ["so", 1]];
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
  const parts = [landingChart(reading), found.contrast ? spreadTwo(reading) : spreadOne(reading), sharesTable(reading)];
  const words = `${found.swings} swings were drawn from what the player’s file says of habits (random numbers ${found.seed}). How well that many tell a mean and a spread, the intervals say; how well the habits are known, they do not.`;
  const share = found.setups.map((s, i) => `${reading.data.setups[i].name}: ${percent(s.landing.fairway.share)} (${percent(s.landing.fairway.low)} to ${percent(s.landing.fairway.high)})`).join("; ");
  return [paragraph(words), paragraph(`Balls that end on a fairway of ${reading.text("side_m", found.fairway_m)}: ${share}.`), ...parts.filter((p): p is HTMLElement => p !== null)];
}
