// SPDX-License-Identifier: GPL-3.0-or-later
// What is baked into a report (caber report --json), and how its values are written.
import type { Field, Inputs, Series, Swing, Unit, Values } from "./api";
import type { Bench, Trims } from "./bench_ask";
import type { Comparison } from "./beside_data";
import type { Scatter } from "./spread_data";
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
  compare: Comparison | null;
  scatter: Scatter | null;
  warnings: string[];
  notes: string[];
  cautions: string[];
}

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
    const unit = this.unitText(name);
    return unit ? `${plainName(name)}, ${unit}` : plainName(name);
  }
}

export const percent = (share: number): string => `${Math.round(100 * share)} %`;
