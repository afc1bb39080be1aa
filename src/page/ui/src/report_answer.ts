// SPDX-License-Identifier: GPL-3.0-or-later
// The answer to a report's question, in numbers and plain words.
import type { Values } from "./api";
import { KEYS, type Output, timesAt, wordsEnd, wordsOf } from "./beside_data";
import { differs, pictureCsv, pictureSvg } from "./beside_picture";
import { exportButtons } from "./exports";
import { type Reading, type ReportSetup, percent } from "./report_data";
import { drawing, list, paragraph, table } from "./report_parts";
import { fileName } from "./save";
import { plainName } from "./units";

const WIDTH = 640; // at which its smallest letters print as 9 points
const MARKS = ["the square", "the triangle", "the diamond"]; // of beside_picture.ts, from the second setup on
/** As many as have room on the first page. */
const FIRST = KEYS.filter((name) => !/^(struck_toe|sidespin)_/.test(name));
const HIDDEN = 1; // sd: what is less is hidden by what one swing differs from the next

function isLeft(setup: ReportSetup): boolean {
  return setup.inputs.inputs.find((i) => i.path === "player.handed")?.value === "left";
}

/** "11.8 m right of the line": the side is counted away from the golfer. */
function sideWords(reading: Reading, setup: ReportSetup, side: number): string {
  return `${reading.text("side_m", Math.abs(side))} ${side > 0 !== isLeft(setup) ? "right" : "left"} of the line`;
}

function headWords(reading: Reading, v: Values, end: string): string[] {
  const text = (name: string) => reading.text(name, Math.abs(v[name] ?? 0));
  const [gain, loft, face] = [v.shaft_speed_gain_mps ?? 0, v.loft_change_deg ?? 0, v.face_angle_deg ?? 0];
  return [
    `The head arrives at ${text("head_speed_mps")}: ${text("shaft_speed_gain_mps")} ${gain < 0 ? "less" : "more"} than a club that cannot bend would have at the same handle.`,
    `The face comes with ${reading.text("delivered_loft_deg", v.delivered_loft_deg)} of loft, ${text("loft_change_deg")} ${loft < 0 ? "less" : "more"} than the straight club’s, looks ${text("face_angle_deg")} ${face < 0 ? "closed" : "open"}, and closes at ${text("closure_rate_deg_s")}.`,
    `In transition the bending load at the hands grows to ${text("peak_handle_moment_nm")}, ${text("peak_handle_moment_time_s")} after the start, and the tip trails by ${text("peak_lag_mm")} at most. ${end} its lead is ${reading.text("lead_deflection_mm", v.lead_deflection_mm)} and its droop ${reading.text("droop_mm", v.droop_mm)}.`,
  ];
}

function ballWords(reading: Reading, setup: ReportSetup): string[] {
  const v = setup.swing.impact;
  if (typeof v.carry_m !== "number") return [setup.swing.met_ball ? "The ball does not fly." : "The swing met no ball: the figures are those of its end."];
  const text = (name: string) => reading.text(name, v[name]);
  return [
    `The ball leaves at ${text("ball_speed_mps")}, ${text("launch_angle_deg")} up, with ${text("backspin_rpm")} of backspin. It carries ${text("carry_m")} (${reading.number("carry_m", v.carry_low_m)} to ${text("carry_high_m")} by the published sets of drag and lift) and lands ${sideWords(reading, setup, v.side_m ?? 0)}.`,
  ];
}

function spreadWords(reading: Reading): string[] {
  const found = reading.data.scatter;
  if (!found) return [];
  const { outputs, landing, habits } = found.setups[0];
  const [most] = Object.entries(outputs.side_m.share).sort((a, b) => b[1] - a[1]);
  return [
    `From swing to swing ${reading.several ? `with ${found.setups[0].setup} ` : ""}the carry varies by ${reading.text("carry_m", outputs.carry_m.sd)} and the side by ${reading.text("side_m", outputs.side_m.sd)} (one standard deviation); ${percent(landing.fairway.share)} of the balls end on a fairway of ${reading.text("side_m", found.fairway_m)}. What moves the side most is ${habits[most[0]].meaning} (${percent(most[1])} of its variance).`,
  ];
}

// ---------------------------------------------------------------- several setups

function keysOf(reading: Reading): Output[] {
  const all = reading.data.compare?.outputs ?? [];
  return FIRST.map((name) => all.find((o) => o.name === name)).filter((o): o is Output => o !== undefined);
}

const size = (o: Output, which: number): number => Math.abs(timesAt(o, which) ?? 0);

/** Of a later setup: what of it can be noticed. */
function besideWords(reading: Reading, which: number): string {
  const name = reading.data.setups[which].name;
  const base = reading.data.setups[0].name;
  const spread = reading.data.compare?.spread;
  const there = keysOf(reading).filter((o) => timesAt(o, which) !== null && o.differences[which] !== 0).sort((x, y) => size(y, which) - size(x, which));
  const words = (o: Output) => `${plainName(o.name)} ${reading.text(o.name, o.differences[which], true)}`;
  if (!there.length) return `${name} beside ${base}: of what a golfer looks at first, nothing differs.`;
  if (!spread?.known) return `${name} beside ${base}: ${there.slice(0, 4).map(words).join(", ")}.`;
  const shows = there.filter((o) => size(o, which) >= HIDDEN);
  const first = timesAt(there[0], which) as number;
  if (!shows.length)
    return `${name} beside ${base}: what differs most is the ${words(there[0])}, ${wordsOf(first, true)}${wordsEnd(first, true)}. Of what a golfer looks at first, no difference shows from one swing to the next.`;
  const more = shows.length > 4 ? ` and ${shows.length - 4} more` : "";
  return `${name} beside ${base}: what shows is ${shows.slice(0, 4).map((o) => `${words(o)} (${wordsOf(timesAt(o, which) as number, true)})`).join(", ")}${more}; in brackets, how many times what the player’s swings vary by.`;
}

/** What the player changes for a later setup, where all are to have the same delivery. */
function retunedWords(reading: Reading): string[] {
  return (reading.data.compare?.setups ?? []).flatMap(({ retuning: r }, i) =>
    r ? [`To bring the same head speed and handle lean to ${reading.data.setups[i].name}, the player takes ${(100 * r.hub_peak_scale).toFixed(1)} % of the shoulders’ torque and releases ${Math.abs(r.release_shift_ms).toFixed(1)} ms ${r.release_shift_ms < 0 ? "earlier" : "later"}.`] : [],
  );
}

function steadierWords(reading: Reading): string[] {
  const contrast = reading.data.scatter?.contrast;
  if (!contrast || !reading.data.scatter) return [];
  const [a, b] = reading.data.scatter.setups;
  const two = reading.data.setups.length > 2 ? "first two" : "two";
  const worth = Math.round(100 * reading.data.scatter.worth);
  if (contrast.steadier) return [`Of the ${two} the more consistent is ${contrast.steadier === "first" ? a.setup : b.setup}.`];
  if (contrast.steadier_carry && contrast.steadier_side) return [`Of the ${two} neither is the more consistent in all: one spreads less in carry, the other in side.`];
  return [contrast.alike ? `Of the ${two} neither is the more consistent: their spreads are less than ${worth} % apart.` : `Which of the ${two} is the more consistent, ${reading.data.scatter.swings} swings do not tell.`];
}

function shortTable(reading: Reading): HTMLElement {
  const { setups, compare } = reading.data;
  const known = compare?.spread.known ?? false;
  const rows = keysOf(reading).map((o) => ({
    name: `short ${o.name}`,
    strong: [false, ...setups.flatMap((_, i) => (i ? [false, ...(known ? [size(o, i) >= HIDDEN] : [])] : [false])), false],
    cells: [
      reading.label(o.name),
      ...setups.flatMap((_, i) => (i ? [reading.number(o.name, o.differences[i], true), ...(known ? [timesText(timesAt(o, i))] : [])] : [reading.number(o.name, o.values[0])])),
      ...(known ? [reading.number(o.name, o.sd)] : []),
    ],
  }));
  const heads: [string, number][][] = [
    [["", 1], [setups[0].name, 1], ...setups.slice(1).map((s): [string, number] => [s.name, known ? 2 : 1]), ...(known ? ([["one sd", 1]] as [string, number][]) : [])],
    [["", 1], ["value", 1], ...setups.slice(1).flatMap((): [string, number][] => [["differs by", 1], ...(known ? ([["in sd", 1]] as [string, number][]) : [])]), ...(known ? ([["of a swing", 1]] as [string, number][]) : [])],
  ];
  return table(`What differs from ${setups[0].name}`, heads, [{ rows }], "short");
}

/** A multiple of the sd, of which an output that does not vary has none. */
export function timesText(times: number | null): string {
  if (times === null) return "–";
  if (!Number.isFinite(times)) return "∞";
  return times.toFixed(Math.abs(times) < 9.95 ? 1 : 0).replace(/^-(0\.0)$/, "$1").replace("-", "−");
}

export function answer(reading: Reading): HTMLElement[] {
  const { first } = reading;
  if (!reading.several) {
    const head = first.swing.met_ball ? headWords(reading, first.swing.impact, "Back at the ball") : headWords(reading, first.swing.impact, "At the end").slice(2);
    return [list([...head, ...ballWords(reading, first), ...spreadWords(reading)], "answer")];
  }
  const beside = reading.data.setups.slice(1).map((_, i) => besideWords(reading, i + 1));
  const spread = reading.data.compare?.spread;
  return [
    list([...retunedWords(reading), ...beside, ...steadierWords(reading), ...spreadWords(reading)], "answer"),
    ...(reading.data.setups.length > 2 ? [] : [differences(reading)]),
    shortTable(reading),
    paragraph(
      !spread || spread.known
        ? "sd: one standard deviation of what the first player’s swings vary by. A difference of less than one sd is hidden by what one swing differs from the next; it shows in the mean of many."
        : `There is no spread to hold the differences against: ${spread.why}. They are drawn in per cent of the larger of the two values.`,
      "fine",
    ),
  ];
}

/** The differences drawn, as on the live page: of two setups on the first page, of more before their table. */
export function differences(reading: Reading): HTMLElement {
  const labels = reading.data.setups.map((s) => s.name);
  const drawn = { found: reading.data.compare as NonNullable<typeof reading.data.compare>, labels, rows: keysOf(reading).filter(differs), units: reading.units };
  const picture = pictureSvg(drawn, WIDTH, false);
  const tools = exportButtons({ title: "The differences", file: () => fileName(...labels, "differences"), svg: () => pictureSvg(drawn, 720), csv: () => pictureCsv(drawn) });
  const caption = `Differences from ${labels[0]}${labels.length > 2 ? `: ${labels.slice(1).map((l, i) => `${l} is ${MARKS[i]}`).join(", ")}` : ` of ${labels[1]}`}`;
  return drawing(caption, picture, picture.getAttribute("aria-label") ?? caption, "whole", tools);
}
