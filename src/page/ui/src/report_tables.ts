// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of a report: figures at impact, the player and the load, the bench, trims and the rules.
import type { Input } from "./api";
import { benchValue } from "./bench_ask";
import { GROUPS as BENCH, RULES } from "./bench_numbers";
import { timesAt } from "./beside_data";
import { inputName } from "./inputs";
import { GROUPS, groupOf } from "./outputs";
import type { Reading, ReportSetup } from "./report_data";
import { timesText } from "./report_answer";
import { type Group, table } from "./report_parts";
import { convert, numberText, plainName, unitShown } from "./units";

/** Rows of results under the titles of the live page's table. */
function grouped(names: string[], row: (name: string) => Group["rows"][number]): Group[] {
  return GROUPS.map(([title]) => ({ title, rows: names.filter((n) => groupOf(n) === title).map(row) }));
}

// ---------------------------------------------------------------- at impact

/** One setup: the club, the straight club, the difference, and how far the profile's errors move it. */
function impactOne(reading: Reading): HTMLElement {
  const { swing, uncertainty } = reading.first;
  const row = (name: string) => {
    const [a, b] = [swing.impact[name], swing.straight[name]];
    const difference = typeof a === "number" && typeof b === "number" ? a - b : null;
    const sure = uncertainty ? [reading.number(name, uncertainty.spread.impact.sd[name])] : [];
    return { name: `impact ${name}`, cells: [reading.label(name), reading.number(name, a), reading.number(name, b), reading.number(name, difference, true), ...sure] };
  };
  const heads: [string, number][] = [["", 1], ["the club", 1], ["straight club", 1], ["difference", 1], ...(uncertainty ? ([["± by the profile’s errors", 1]] as [string, number][]) : [])];
  return table(swing.met_ball ? "At impact" : "At the end: no ball was met", [heads], grouped(Object.keys(swing.impact), row), "figures");
}

/** Several: each one's value, and of the later ones the difference from the first, also in sd. */
function impactSeveral(reading: Reading): HTMLElement {
  const { setups, compare } = reading.data;
  const found = new Map((compare?.outputs ?? []).map((o) => [o.name, o]));
  const known = compare?.spread.known ?? false;
  const row = (name: string) => {
    const o = found.get(name);
    const cells = [reading.label(name)];
    const strong = [false];
    setups.forEach((setup, i) => {
      cells.push(reading.number(name, setup.swing.impact[name]));
      strong.push(false);
      if (!i) return;
      cells.push(o ? reading.number(name, o.differences[i], true) : "", ...(known ? [o ? timesText(timesAt(o, i)) : ""] : []));
      strong.push(false, ...(known ? [Math.abs((o && timesAt(o, i)) ?? 0) >= 1] : []));
    });
    return { name: `impact ${name}`, cells, strong };
  };
  const wide = known ? 3 : 2;
  const heads: [string, number][][] = [
    [["", 1], [setups[0].name, 1], ...setups.slice(1).map((s): [string, number] => [s.name, wide])],
    [["", 1], ["value", 1], ...setups.slice(1).flatMap((): [string, number][] => [["value", 1], ["differs", 1], ...(known ? ([["in sd", 1]] as [string, number][]) : [])])],
  ];
  const names = [...new Set(setups.flatMap((s) => Object.keys(s.swing.impact)))];
  return table(known ? "At impact; “differs”: from the first setup; bold: by one sd of a swing or more" : "At impact; “differs”: from the first setup", heads, grouped(names, row), setups.length > 2 ? "figures dense" : "figures");
}

export function impactTable(reading: Reading): HTMLElement {
  return reading.several ? impactSeveral(reading) : impactOne(reading);
}

// ---------------------------------------------------------------- inputs

function inputText(reading: Reading, input: Input | undefined): string {
  if (!input || input.value === null || typeof input.value === "object") return "";
  if (typeof input.value !== "number") return String(input.value);
  const from = input.unit ?? "";
  const to = unitShown(from, reading.units);
  return `${String(Number(convert(input.value, from, to).toPrecision(5))).replace("-", "−")} ${to}`.trim();
}

/** Where the path alone would not say whose it is. */
const NAMES: Record<string, string> = { "shaft.name": "shaft", "head.name": "head", "grip.name": "grip", "player.name": "player", "player.handed": "player is", "player.arm.length": "player’s arm, length" };

/** Inputs of some paths, of every setup; what differs from the first is strong. */
function inputsTable(reading: Reading, caption: string, wanted: (path: string) => boolean): HTMLElement {
  const { setups } = reading.data;
  const of = (setup: ReportSetup, path: string) => inputText(reading, setup.inputs.inputs.find((i) => i.path === path && i.used));
  const paths = [...new Set(setups.flatMap((s) => s.inputs.inputs.filter((i) => i.used && typeof i.value !== "object" && wanted(i.path)).map((i) => i.path)))];
  const rows = paths.map((path) => {
    const cells = setups.map((s) => of(s, path));
    return { cells: [NAMES[path] ?? inputName(path), ...cells], strong: [false, ...cells.map((c) => c !== cells[0])] };
  });
  return table(caption, [[["", 1], ...setups.map((s): [string, number] => [s.name, 1])]], [{ rows }], setups.length > 1 ? "inputs" : "inputs lone");
}

export function loadTable(reading: Reading): HTMLElement {
  return inputsTable(reading, "The player’s load and start", (path) => /^player[.](load|start)[.]/.test(path));
}

export function buildTable(reading: Reading): HTMLElement {
  const wanted = /^(shaft[.](name|length)|head[.](name|mass|loft|lie|face_angle)|grip[.](name|mass)|build[.](tip_trim|butt_trim|order|bore|insertion|hold)|player[.](name|handed|arm[.]length|plane[.]))/;
  return inputsTable(reading, "What was built, and who swings it", (path) => wanted.test(path));
}

// ---------------------------------------------------------------- the bench

const length = (reading: Reading, metres: number) => `${numberText(convert(metres, "m", reading.units === "trade" ? "in" : "mm"), reading.units === "trade" ? "in" : "mm")} ${reading.units === "trade" ? "in" : "mm"}`;

export function benchTable(reading: Reading): HTMLElement {
  const { setups } = reading.data;
  const { jig } = setups[0].bench;
  const { bench } = reading;
  const row = ([name, label]: [string, string]): Group["rows"][number] => {
    if (name === "swing_weight") return { name: "bench swing_weight", cells: [label, ...setups.map((s) => s.bench.swing_weight)] };
    if (name === "playing_length_in") return { name: `bench ${name}`, cells: ["the same, in", ...setups.map((s) => bench.number(name, benchValue(s.bench, name)))] };
    const unit = bench.unitText(name);
    return { name: `bench ${name}`, cells: [unit ? `${label}, ${unit}: ${bench.meaning(name)}` : label, ...setups.map((s) => bench.number(name, benchValue(s.bench, name)) || "not known")] };
  };
  // The length stands in both units: once is enough where the reader's is the inch.
  const groups = BENCH.map(([title, rows]) => ({ title, rows: rows.filter(([name]) => reading.units === "metric" || name !== "playing_length_in").map(row) }));
  groups[0].rows.push({ name: "bench frequencies_hz", cells: ["all frequencies of the clamped club, Hz", ...setups.map((s) => s.bench.frequencies_hz.map((f) => f.toFixed(1)).join("; "))] });
  const caption = `On the bench: ${length(reading, jig.clamp_m)} of butt clamped and ${Math.round(1e3 * jig.tip_mass_kg)} g on the tip for the cpm, ${jig.torque_nm.toFixed(2)} N m for the twist, ${jig.load_n} N across the tip for the bend`;
  return table(caption, [[["", 1], ...setups.map((s): [string, number] => [s.name, 1])]], groups, setups.length > 1 ? "bench" : "bench lone");
}

export function trimsTable(reading: Reading, setup: ReportSetup): HTMLElement | null {
  const read = ["cpm", "twist_deg"] as const;
  const swung = ["loft_change_deg", "lead_deflection_mm", "peak_handle_moment_nm"] as const;
  const { bench } = reading;
  if (!setup.trims) return null;
  const rows = setup.trims.trims.map((t) => ({
    cells: [
      `${bench.number("tip_trim_mm", t.tip_trim_mm)}${t.as_it_is ? " (as it is)" : ""}`,
      bench.number("butt_trim_mm", t.butt_trim_mm),
      ...(t.short_mm !== undefined ? ["too short", "", "", "", "", ""] : [...read.map((n) => bench.number(n, t[n])), ...swung.map((n) => reading.number(n, t[n])), t.swing_weight ?? ""]),
    ],
  }));
  const heads: [string, number][] = [
    [`cut from the tip, ${bench.unitText("tip_trim_mm")}`, 1], [`butt, ${bench.unitText("butt_trim_mm")}`, 1], ["cpm", 1], [bench.label("twist_deg"), 1],
    ...swung.map((n): [string, number] => [reading.label(n), 1]), ["swing weight", 1],
  ];
  return table(`What cutting the tip of ${setup.name} does, at the same playing length`, [heads], [{ rows }], "trims");
}

export function rulesTable(reading: Reading): HTMLElement {
  const { setups } = reading.data;
  const rows = setups[0].bench.rules.map((rule, k) => ({ cells: [RULES[rule.name] ?? plainName(rule.name), rule.limit, ...setups.map((s) => s.bench.rules[k].stands)] }));
  return table("Beside limits of the Equipment Rules: a check, never a ruling", [[["", 1], ["limit", 1], ...setups.map((s): [string, number] => [s.name, 1])]], [{ rows }], "rules");
}
