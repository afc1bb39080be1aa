// SPDX-License-Identifier: GPL-3.0-or-later
// The charts of a report: through time, along the shaft, and the player's load. Of several setups each has a curve.
import { type Curve, type Figure, NAVY, RUST, STROKES } from "./figure";
import type { Reading, ReportSetup } from "./report_data";
import { chart } from "./report_parts";
import { instants } from "./report_pictures";
import { locate } from "./geometry";
import { band } from "./shaft_charts";
import { STRIPS, stripFigure } from "./strip";

const TIME = { name: "time from the start", unit: "s", column: "time" };

/** Of several setups: one quantity a chart. */
const SHARED: [string, string, string][] = [
  ["Handle moment in the plane", "handle_moment_nm", "N m"],
  ["Lead (below 0 lag)", "lead_deflection_mm", "mm"],
  ["Droop", "droop_mm", "mm"],
  ["Twist of the tip, closing", "tip_twist_deg", "deg"],
  ["Strain energy of the shaft", "strain_energy_j", "J"],
  ["Head speed", "head_speed_mps", "m/s"],
];

/** One curve a setup. */
function curves(reading: Reading, of: (setup: ReportSetup) => Pick<Curve, "x" | "y" | "low" | "high">): Curve[] {
  return reading.data.setups.map((setup, i) => ({ name: setup.name, ...STROKES[i], ...of(setup) }));
}

/** More setups than a key has room for. */
export const isMany = (reading: Reading): boolean => reading.data.setups.length > 2;

/** Whose the charts are: names the files that they are kept as. */
const owner = (reading: Reading) => reading.data.setups.map((s) => s.name).join(" and ");

export function throughTime(reading: Reading): HTMLElement[] {
  const { units, first } = reading;
  if (!reading.several) return STRIPS.map((strip) => chart(stripFigure(strip, first.series), units, "half"));
  return SHARED.map(([title, column, unit]) => {
    const of = ({ series }: ReportSetup) => ({ x: series.columns.time_s as number[], y: series.columns[column] });
    return chart({ title, of: owner(reading), x: TIME, y: { name: title, unit }, curves: curves(reading, of) }, units, "half", { short: isMany(reading) });
  });
}

// ---------------------------------------------------------------- along the shaft

function profile(reading: Reading, title: string, column: string, sd: "ei_sd_percent" | "gj_sd_percent"): Figure {
  const of = (setup: ReportSetup) => {
    const { curve, stations, errors_known } = setup.shaft;
    const known = errors_known ? band(curve.at_m, curve[column], stations.map((s) => s.at_m), stations.map((s) => s[sd])) : {};
    return { x: curve.at_m, y: curve[column], ...known };
  };
  return { title, of: owner(reading), x: { name: "from the tip of the uncut shaft", unit: "m", column: "at" }, y: { name: title, unit: "N m2" }, curves: curves(reading, of), reach: [0] };
}

/** How the club bends at the peak lag: which part of the shaft works. */
function bending(reading: Reading): Figure {
  const of = (setup: ReportSetup) => {
    const { series } = setup;
    const [i, f] = locate(series.columns.time_s, instants(setup)[1].time);
    const row = f > 0.5 ? i + 1 : i;
    const order = series.places_m.map((_, k) => k).sort((a, b) => series.places_m[a] - series.places_m[b]);
    return { x: order.map((k) => series.places_m[k]), y: order.map((k) => series.curvature_per_m[row][k]) };
  };
  return { title: "Curvature at the peak lag", of: owner(reading), x: { name: "from the tip of the cut shaft", unit: "m", column: "at" }, y: { name: "curvature", unit: "1/m" }, curves: curves(reading, of) };
}

/** How far the tip and all between trail the handle axis, at instants of one swing or of several at the peak lag. */
function shape(reading: Reading): Figure {
  const x = { name: "from the hands", unit: "m", column: "from_the_hands" };
  const one = (setup: ReportSetup, time: number) => {
    const { series } = setup;
    const [i, f] = locate(series.columns.time_s, time);
    const row = f > 0.5 ? i + 1 : i;
    const order = series.places_m.map((_, k) => k).sort((a, b) => series.places_m[b] - series.places_m[a]);
    const hands = series.places_m[order[0]];
    return { x: [...order.map((k) => hands - series.places_m[k]), hands], y: [...order.map((k) => series.trail_mm[row][k]), series.columns.lag_mm[row]] };
  };
  const own = reading.several
    ? curves(reading, (setup) => one(setup, instants(setup)[1].time))
    : instants(reading.first).map((instant, i) => ({ name: instant.name, ...STROKES[i], ...one(reading.first, instant.time) }));
  const title = reading.several ? "Behind the handle axis at the peak lag" : "Behind the handle axis";
  return { title, of: owner(reading), x, y: { name: "behind the handle axis", unit: "mm" }, curves: own };
}

export function alongShaft(reading: Reading): HTMLElement[] {
  const { units } = reading;
  const banded = reading.data.setups.some((s) => s.shaft.errors_known) ? "the band holds the true value 95 times in 100" : "";
  return [
    chart(profile(reading, "Bending stiffness EI", "ei_nm2", "ei_sd_percent"), units, "half", { caption: banded, short: isMany(reading) }),
    chart(profile(reading, "Twisting stiffness GJ", "gj_nm2", "gj_sd_percent"), units, "half", { caption: banded, short: isMany(reading) }),
    chart(bending(reading), units, "half", { short: isMany(reading) }),
    chart(shape(reading), units, "half", { short: isMany(reading) }),
  ];
}

// ---------------------------------------------------------------- the load

/** Whether two setups are loaded by the same program. */
function sameLoad(a: ReportSetup, b: ReportSetup): boolean {
  return JSON.stringify(a.load.curves) === JSON.stringify(b.load.curves);
}

/** The couple of the hands and the torque of the shoulders, as asked and as they were. */
export function loads(reading: Reading): HTMLElement[] {
  const { setups } = reading.data;
  const shared = setups.every((s) => sameLoad(s, setups[0]));
  const end = Math.max(...setups.map((s) => s.series.columns.time_s.at(-1) as number));
  const program = (setup: ReportSetup, joint: string, name: string, stroke: { colour: string; dash: number[] }): Curve[] => {
    const { time_s } = setup.load;
    const { unit, value } = setup.load.curves[joint];
    const n = Math.max(2, time_s.findIndex((t) => t > end));
    return unit === "N m" ? [{ name, ...stroke, x: time_s.slice(0, n), y: value.slice(0, n) }] : [];
  };
  const was = (setup: ReportSetup, column: string, name: string, stroke: { colour: string; dash: number[] }): Curve => ({ name, ...stroke, x: setup.series.columns.time_s as number[], y: setup.series.columns[column] });
  const asked = (shared ? setups.slice(0, 1) : setups).flatMap((s, i) => program(s, "grip", shared ? "as asked" : s.name, STROKES[i]));
  const hands: Curve[] = shared ? [...asked, was(setups[0], "grip_couple_nm", "with the wrist’s stop", { colour: NAVY, dash: [7, 4] })] : asked.length ? asked : setups.map((s, i) => was(s, "grip_couple_nm", s.name, STROKES[i]));
  const hub = shared ? [was(setups[0], "hub_torque_nm", "as it was", { colour: RUST, dash: [] })] : setups.map((s, i) => was(s, "hub_torque_nm", s.name, STROKES[i]));
  const figure = (title: string, list: Curve[]): Figure => ({ title, of: owner(reading), x: TIME, y: { name: title, unit: "N m" }, curves: list });
  return [chart(figure("The hands’ couple on the handle", hands), reading.units, "half", { short: !shared && isMany(reading) }), chart(figure("The shoulders’ torque, as it was", hub), reading.units, "half", { short: !shared && isMany(reading) })];
}
