// SPDX-License-Identifier: GPL-3.0-or-later
// What the sections do: which numbers, before and now.
import type { Field } from "./api";
import { ChangeTable, type Change } from "./change_table";
import type { Answered } from "./shaft_ask";

const SWING = [
  "delivered_loft_deg", "loft_change_deg", "launch_angle_deg", "backspin_rpm", "carry_m", "head_speed_mps", "face_angle_deg",
  "closure_rate_deg_s", "lead_deflection_mm", "droop_mm", "peak_lag_mm", "peak_handle_moment_nm",
];
const BENCH = ["cpm", "shaft_mass_kg"];

export function shaftTable(fields: Record<string, Field[]>): ChangeTable {
  return new ChangeTable(fields, {
    title: "What the sections do",
    what: "shaft",
    before: "before",
    fine: "Before: the same club and player, with the shaft as in its file.",
    names: { delivered_loft_deg: "dynamic loft", shaft_mass_kg: "shaft, as cut", lead_deflection_mm: "lead" },
    breaks: ["carry_m", "closure_rate_deg_s", "peak_handle_moment_nm"],
  });
}

/** Rows that say something: those of the bench are null while they are still to come. */
export function shaftChanges({ before, now }: Answered): Change[] {
  const number = (value: unknown) => (typeof value === "number" ? value : null);
  return [
    ...SWING.map((name) => ({ name, before: number(before.swing.result.impact[name]), now: number(now.swing.result.impact[name]) })),
    ...BENCH.map((name) => ({ name, before: number(before.bench?.[name]), now: number(now.bench?.[name]) })),
  ].filter((row) => row.before !== null || row.now !== null);
}
