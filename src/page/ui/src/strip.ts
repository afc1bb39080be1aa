// SPDX-License-Identifier: GPL-3.0-or-later
// The strips under the picture of a swing: columns of a series through time.
import type { Series } from "./api";
import { Chart } from "./chart";
import { type Figure, GREEN, NAVY, RUST } from "./figure";
import { plainName } from "./units";

export interface Line {
  column: string;
  name: string;
  colour: string;
  dash?: number[];
}

export interface Strip {
  title: string;
  unit: string; // of the series
  lines: Line[];
}

export const STRIPS: Strip[] = [
  {
    title: "Handle moment",
    unit: "N m",
    lines: [
      { column: "handle_moment_nm", name: "in the plane", colour: RUST },
      { column: "handle_moment_out_nm", name: "out of it", colour: NAVY, dash: [7, 4] },
    ],
  },
  {
    title: "Lead and droop",
    unit: "mm",
    lines: [
      { column: "lead_deflection_mm", name: "lead (below 0 lag)", colour: RUST },
      { column: "droop_mm", name: "droop", colour: NAVY, dash: [7, 4] },
    ],
  },
  {
    title: "Strain energy by thirds",
    unit: "J",
    lines: [
      { column: "strain_energy_butt_j", name: "butt", colour: RUST },
      { column: "strain_energy_middle_j", name: "middle", colour: NAVY, dash: [7, 4] },
      { column: "strain_energy_tip_j", name: "tip", colour: GREEN, dash: [2, 3] },
    ],
  },
  {
    title: "Head speed",
    unit: "m/s",
    lines: [
      { column: "head_speed_mps", name: "the club", colour: RUST },
      { column: "straight_head_speed_mps", name: "straight club", colour: NAVY, dash: [7, 4] },
    ],
  },
];

export function stripFigure(strip: Strip, series: Series): Figure {
  const time = series.columns.time_s as number[];
  return {
    title: strip.title,
    of: series.setup,
    x: { name: "time from the start", unit: "s", column: "time" },
    y: { name: strip.title, unit: strip.unit },
    curves: strip.lines.map(({ column, name, colour, dash }) => ({
      name, colour, dash, x: time, y: series.columns[column], column: plainName(column).replaceAll(" ", "_"),
    })),
  };
}

export function stripCharts(pick: (t: number) => void): Chart[] {
  const place = (t: number) => `at ${t.toFixed(4)} s`;
  return STRIPS.map((strip) => new Chart(strip.title, { pick, sync: "swing", place }));
}
