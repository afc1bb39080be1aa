// SPDX-License-Identifier: GPL-3.0-or-later
// Metric and trade units. The factors are the program's own (/api/v1/units); here is only which unit stands
// for which, and how many decimals are shown.
import type { Unit } from "./api";

export type System = "metric" | "trade";

const table = new Map<string, Unit>();

export function unitsLoad(list: Unit[]): void {
  for (const unit of list) table.set(unit.unit, unit);
}

const TRADE: Record<string, string> = {
  "m/s": "mph",
  mm: "in",
  m: "in",
  "N m": "ft lbf",
  "N m/s": "ft lbf/s",
  N: "lbf",
  J: "ft lbf",
  "N m2": "lbf in2",
  kg: "g",
  "kg m": "in oz",
  "kg m2": "kg cm2",
};
/** Of a value by its name, where the trade has a unit of its own for it. */
const TRADE_OF: [RegExp, string][] = [
  [/^(carry|side)_/, "yd"],
  [/^(apex|head_ahead|head_up|head_out)_/, "ft"],
];

/** The unit in which a value of `unit` is shown. */
export function unitShown(unit: string, system: System, name = ""): string {
  if (system === "metric") return unit;
  for (const [pattern, shown] of TRADE_OF) if (pattern.test(name)) return shown;
  return TRADE[unit] ?? unit;
}

/** Rates, and the joule, are not in the program's table of units of files. */
function toSi(unit: string): { factor: number; zero: number } {
  if (unit === "J") return { factor: 1, zero: 0 };
  const rate = unit.endsWith("/s") && !table.has(unit) ? unit.slice(0, -2) : unit;
  const found = table.get(rate);
  if (!found) throw new Error(`no unit “${unit}”`);
  return { factor: found.times / found.over, zero: found.zero };
}

export function convert(value: number, from: string, to: string): number {
  if (from === to) return value;
  const a = toSi(from);
  const b = toSi(to);
  return (value * a.factor + a.zero - b.zero) / b.factor;
}

const DECIMALS: Record<string, number> = {
  "m/s": 2, mph: 1, mm: 1, in: 2, m: 1, yd: 1, ft: 1, deg: 2, "deg/s": 0, rpm: 0, s: 4, N: 0, lbf: 0,
  "N m": 2, "ft lbf": 2, "N m/s": 0, "ft lbf/s": 0, J: 2, "": 3,
  "N m2": 2, "lbf in2": 0,
  kg: 4, g: 1, "kg m": 4, "in oz": 1, "kg m2": 4, "kg cm2": 0, "g cm2": 0, cpm: 1, Hz: 2, "%": 2,
};
/** Of a value by its name, where it is read more finely than others of its unit. */
const FINER: [RegExp, Record<string, number>][] = [
  [/^(playing_length|face_length|balance_point|length|length_local)_m$/, { m: 4 }],
  [/^bend_point_(curvature_)?m$/, { m: 3 }],
  [/^(mouth_diameter|grip_diameter)_mm$/, { mm: 2, in: 3 }],
  [/^address_/, { mm: 2, in: 3 }],
  [/^span_deflection_mm$/, { mm: 3, in: 4 }],
];

export function decimalsOf(unit: string, name = ""): number {
  if (name === "energy_residual") return -1;
  return FINER.find(([pattern, places]) => pattern.test(name) && unit in places)?.[1][unit] ?? DECIMALS[unit] ?? 2;
}

/** A number as it is shown, without its unit. */
export function numberText(value: number, unit: string, name = ""): string {
  const decimals = decimalsOf(unit, name);
  const text = decimals < 0 ? value.toExponential(1) : value.toFixed(decimals);
  return /^-0(\.0*)?$/.test(text) ? text.slice(1) : text.replace("-", "−");
}

/** A value of a result in the units of the reader. */
export function shown(value: number, unit: string, system: System, name = ""): { number: string; unit: string } {
  const to = unitShown(unit, system, name);
  return { number: numberText(convert(value, unit, to), to, name), unit: to };
}

/** "head_speed_mps" -> "head speed" */
export function plainName(name: string): string {
  return name.replace(/_(mps|mm|deg_s|deg|nm_s|nm|rpm|s|n|j|m)$/, "").replaceAll("_", " ");
}
