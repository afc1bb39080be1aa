// SPDX-License-Identifier: GPL-3.0-or-later
// What is baked into a report (caber report --json), and how its values are written.
import type { Field, Inputs, Series, Swing, Unit, Values } from "./api";
import { type System, plainName, shown } from "./units";

export interface ShaftAnswer {
  shaft: string;
  note: string;
  length_m: number;
  errors_known: boolean;
  sections: { from_m: number; to_m: number; ei_scale: number; gj_scale: number; mass_scale: number }[];
  stations: { at_m: number; ei_sd_percent: number | null; gj_sd_percent: number | null }[];
  curve: Record<string, number[]>;
}

export interface LoadAnswer {
  player: string;
  time_s: number[];
  curves: Record<string, { unit: string; value: (number | null)[] }>;
}

export interface Rule {
  name: string;
  figure: number | null;
  stands: string;
  limit: string;
}

export type Bench = { setup: string; shaft: string; jig: Record<string, number>; swing_weight: string; frequencies_hz: number[]; rules: Rule[] } & Record<string, unknown>;

export interface Trims {
  jig: Record<string, number>;
  trims: ({ as_it_is: boolean; swing_weight?: string } & Record<string, number | string | boolean>)[];
}

export interface ReportSetup {
  name: string;
  file: string;
  inputs: Inputs;
  swing: Swing;
  series: Series;
  shaft: ShaftAnswer;
  load: LoadAnswer;
  bench: Bench;
  trims: Trims | null;
  uncertainty: { spread: { draws: number; impact: { sd: Values } } } | null;
}

export interface CompareOutput {
  name: string;
  unit: string;
  sd: number | null;
  values: (number | null)[];
  differences: (number | null)[];
  times: (number | null)[];
}

export interface Retuning {
  hub_peak_scale: number;
  release_shift_ms: number;
}

export interface Compare {
  keep: string;
  spread: { known: boolean; why?: string };
  setups: { player: string; retuning?: Retuning }[];
  outputs: CompareOutput[];
}

interface Interval {
  value: number | null;
  low: number | null;
  high: number | null;
}

export interface SpreadOf {
  usual: number | null;
  mean: number | null;
  sd: number | null;
  sd_low: number | null;
  sd_high: number | null;
  percentiles: (number | null)[];
  share: Record<string, number>;
  rest: number;
}

interface Share {
  share: number;
  low: number;
  high: number;
}

export interface Landing {
  carry_m: number;
  side_m: number;
  major_m: number;
  minor_m: number;
  turn_deg: number;
  scale_90: number;
  within_90: Share;
  fairway: Share;
}

export interface Scatter {
  swings: number;
  seed: number;
  fairway_m: number;
  worth: number;
  percentiles: number[];
  setups: { setup: string; player: string; habits: Record<string, { sd: number; unit: string; meaning: string }>; outputs: Record<string, SpreadOf>; landing: Landing }[];
  contrast?: {
    steadier: string | null;
    steadier_carry: string | null;
    steadier_side: string | null;
    alike: boolean;
    fairway_difference: Interval;
    outputs: Record<string, { sd_ratio: Interval; alike: boolean; steadier: string | null }>;
  };
  landing_points: { carry_m: number[]; side_m: number[] }[];
}

export interface ReportData {
  version: string;
  question: string;
  keep: string;
  units: System;
  swings: number;
  seed: number;
  set: string[];
  fields: Record<string, Field[]>;
  unit_table: Unit[];
  setups: ReportSetup[];
  compare: Compare | null;
  scatter: Scatter | null;
  warnings: string[];
  notes: string[];
  cautions: string[];
}

/** What a golfer looks at first. */
export const KEYS = [
  "head_speed_mps", "delivered_loft_deg", "face_angle_deg", "attack_angle_deg", "path_deg", "ball_speed_mps",
  "launch_angle_deg", "backspin_rpm", "carry_m", "side_m",
];

/** The document in the units of its reader. */
export class Reading {
  private readonly fields: Map<string, Field>;
  /** The same for what the bench reads: a name may stand in both. */
  readonly bench: Reading;

  constructor(
    readonly data: ReportData,
    readonly units: System,
    fields = [...data.fields.impact, ...data.fields.shot],
  ) {
    this.fields = new Map(fields.map((f) => [f.name, f]));
    this.bench = fields === data.fields.bench ? this : new Reading(data, units, data.fields.bench);
  }

  get several(): boolean {
    return this.data.setups.length > 1;
  }
  get first(): ReportSetup {
    return this.data.setups[0];
  }
  unit(name: string): string {
    return this.fields.get(name)?.unit ?? "";
  }
  meaning(name: string): string {
    return this.fields.get(name)?.meaning ?? "";
  }
  /** A number without its unit. */
  number(name: string, value: number | null | undefined, signed = false): string {
    if (typeof value !== "number") return "";
    const text = shown(value, this.unit(name), this.units, name).number;
    return signed && value > 0 && /[1-9]/.test(text) ? `+${text}` : text;
  }
  unitText(name: string): string {
    return shown(0, this.unit(name), this.units, name).unit;
  }
  /** A number with its unit. */
  text(name: string, value: number | null | undefined, signed = false): string {
    return [this.number(name, value, signed), this.unitText(name)].filter(Boolean).join("\u00a0");
  }
  /** The name of a value as the head of its row. */
  label(name: string): string {
    const [unit, plain] = [this.unitText(name), shortName(name)];
    return unit && unit !== plain ? `${plain}, ${unit}` : plain;
  }
}

/** A name without its unit; those of the bench and of the rules have more of them. */
export const shortName = (name: string): string => plainName(name.replace(/_(in|kg|kgm|kgm2|percent|cm3|gcm2|us)$/, ""));

export const percent = (share: number): string => `${Math.round(100 * share)} %`;

/** How a difference stands to what a player's swings vary by, in the words of caber compare. */
export function timesWords(times: number): string {
  const size = Math.abs(times);
  if (size < 0.1) return "less than a tenth of what one swing differs from the next";
  if (size < 0.5) return "less than half of what one swing differs from the next";
  if (size < 0.8) return "more than half of what one swing differs from the next";
  if (size < 1.25) return "about as much as one swing differs from the next";
  return `${size.toFixed(size < 9.95 ? 1 : 0)} times what one swing differs from the next`;
}
