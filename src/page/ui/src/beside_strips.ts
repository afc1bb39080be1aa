// SPDX-License-Identifier: GPL-3.0-or-later
// The strips of several setups, laid over one another: at impact, or at the start.
import type { Series } from "./api";
import { type Figure, STROKES } from "./figure";

export type Align = "impact" | "start";

export const STRIPS = [
  { title: "Handle moment", column: "handle_moment_nm", unit: "N m" },
  { title: "Lead", column: "lead_deflection_mm", unit: "mm" },
  { title: "Head speed", column: "head_speed_mps", unit: "m/s" },
];

/** The time of a series at which the strips have 0. */
export function alignedZero(series: Series, align: Align): number {
  return align === "start" ? 0 : (series.columns.time_s.at(-1) as number);
}

export function stripFigures(series: Series[], labels: string[], align: Align): Figure[] {
  const times = series.map((s) => {
    const zero = alignedZero(s, align);
    return s.columns.time_s.map((t) => (t as number) - zero);
  });
  const name = align === "start" ? "time from the start" : "time to impact";
  return STRIPS.map(({ title, column, unit }) => ({
    title: title === "Lead" ? "Lead (below 0 lag)" : title,
    of: labels.join(", "),
    x: { name, unit: "s", column: align === "start" ? "time" : "time_to_impact" },
    y: { name: title, unit },
    curves: series.map((s, k) => ({ name: labels[k], ...STROKES[k], x: times[k], y: s.columns[column], column: `setup_${k + 1}` })),
  }));
}
