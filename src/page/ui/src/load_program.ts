// SPDX-License-Identifier: GPL-3.0-or-later
// The load program of a player as the program gives it, and what is set in it.
import type { Input } from "./api";

export type Joint = "hub" | "grip" | "roll";

export interface LoadAnswer {
  setup: string;
  player: string;
  inputs: Input[];
  time_s: number[];
  curves: Record<Joint, { unit: string; value: (number | null)[] }>;
}

/** What drives a joint: only a program has something to drag. */
export type Drive = "program" | "table" | "motion" | "gear" | "locked" | "free";

const PATH = "player.load.";
export const RISES: ("grip.rise" | "hub.rise")[] = ["grip.rise", "hub.rise"];

export class Load {
  constructor(
    readonly answer: LoadAnswer,
    private readonly wanted: Record<string, number> = {},
  ) {}

  /** With values that are asked for, before their answer is there. */
  with(wanted: Record<string, number>): Load {
    return new Load(this.answer, wanted);
  }

  input(name: string): Input | undefined {
    return this.answer.inputs.find((i) => i.path === PATH + name);
  }
  /** In the unit of the input; NaN where the file has none. */
  number(name: string): number {
    const value = this.wanted[name] ?? this.input(name)?.value;
    return typeof value === "number" ? value : Number.NaN;
  }
  /** Rows of a joint's table. */
  rows(joint: Joint): number {
    const value = this.input(`${joint}.table`)?.value;
    return value && typeof value === "object" ? value.time_s.length : 0;
  }
  drive(joint: Joint): Drive {
    const word = this.input(`${joint}.drive`)?.value;
    if (word !== "torque") return word as Drive;
    return this.rows(joint) ? "table" : joint === "roll" ? "free" : "program";
  }
  curve(joint: Joint): (number | null)[] {
    return this.answer.curves[joint].value;
  }
  /** Whether the rise is one of a program. */
  rises(name: (typeof RISES)[number]): boolean {
    return this.drive(name === "grip.rise" ? "grip" : "hub") === "program";
  }
}

/** N m/s: S(x) = 10 x^3 - 15 x^4 + 6 x^5 has the slope S' = 30 x^2 (1 - x)^2, largest where x (1 - x) is, at x = 1/2,
 * where it is 30/16 = 15/8; the couple peak S((t - onset)/rise) rises with 15/8 peak/rise there. */
export function rateMost(load: Load): number {
  return ((15 / 8) * Math.abs(load.number("grip.peak"))) / load.number("grip.rise");
}

/** How many times as quick as in the file a rise is. */
export function quickness(now: Load, file: Load, name: (typeof RISES)[number]): number {
  return now.rises(name) && file.rises(name) ? file.number(name) / now.number(name) : Number.NaN;
}

/** The quickness that stands at the handle: that of the hands' couple, or where it has no program, of the shoulders'. */
export function quicknessOf(now: Load, file: Load): number {
  const both = RISES.map((name) => quickness(now, file, name));
  return Number.isFinite(both[0]) ? both[0] : both[1];
}

/** The rises of a quickness: in 1/q of the times of the file, to five digits. */
export function quicknessRises(q: number, now: Load, file: Load): Record<string, number> {
  const rise = (name: string) => Number((file.number(name) / q).toPrecision(5));
  return Object.fromEntries(RISES.filter((name) => now.rises(name) && file.rises(name)).map((name) => [name, rise(name)]));
}

/** What is set, with values of the load: as texts, as --set has them; those of the file are not set. */
export function setWith(set: Record<string, string>, file: Load, values: Record<string, number>): Record<string, string> {
  const next = { ...set };
  for (const [name, value] of Object.entries(values)) {
    delete next[`load.${name}`]; // the same, shortened
    delete next[PATH + name];
    if (Math.abs(value - file.number(name)) <= 1e-9 * Math.abs(value)) continue;
    next[PATH + name] = `${Number(value.toPrecision(9))} ${file.input(name)?.unit ?? ""}`.trim();
  }
  return next;
}

export function round(value: number, step: number): number {
  return Number((Math.round(value / step) * step).toPrecision(9));
}
