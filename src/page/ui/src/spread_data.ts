// SPDX-License-Identifier: GPL-3.0-or-later
// What the view "Spread" asks and is answered: `caber scatter --json` and where each ball lands; and its numbers as
// they are read.
import type { Field, Inputs, SetupAsk } from "./api";
import { NAVY, RUST } from "./figure";
import { inputName } from "./inputs";
import { fieldsOf } from "./outputs";
import type { Setup, State } from "./state";
import { type System, convert, numberText, plainName, unitShown } from "./units";

export interface Spread {
  usual: number;
  mean: number;
  mean_low: number;
  mean_high: number;
  sd: number;
  sd_low: number;
  sd_high: number;
  percentiles: number[];
  share: Record<string, number>; // of the variance, by habit
  own: Record<string, number>; // what the habit would leave alone
  rest: number; // what habits do only together
}

export interface Share {
  count: number;
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
  scale_50: number;
  scale_90: number;
  area_90_m2: number;
  within_50: Share;
  within_90: Share;
  fairway: Share;
  aimed: Share;
}

export interface Club {
  setup: string;
  player: string;
  swings: number;
  failed: number;
  habits: Record<string, { sd: number; unit: string; meaning: string }>;
  outputs: Record<string, Spread>;
  landing: Landing;
}

export interface Span {
  value: number | null;
  low: number | null;
  high: number | null;
}

type Steadier = "first" | "second" | null;

export interface Contrast {
  pairs: number;
  steadier: Steadier;
  steadier_carry: Steadier;
  steadier_side: Steadier;
  alike: boolean;
  alike_carry: boolean;
  alike_side: boolean;
  area_ratio: Span;
  fairway_difference: Span;
  aimed_difference: Span;
  outputs: Record<string, { mean_difference: Span; sd_ratio: Span; p: number | null; steadier: Steadier; alike: boolean }>;
}

export interface Scatter {
  swings: number;
  seed: number;
  fairway_m: number;
  level: number;
  worth: number;
  percentiles: number[];
  setups: Club[];
  contrast?: Contrast;
  landing_points: { carry_m: number[]; side_m: number[] }[];
}

/** An answer with what is needed to show it. */
export interface Found extends Scatter {
  names: string[]; // of the setups, made different
  left: boolean[]; // is a left-handed player's
}

export function foundOf(scatter: Scatter, inputs: Inputs[]): Found {
  const names = scatter.setups.map((club) => club.setup);
  const same = names.length > 1 && names[0] === names[1];
  return {
    ...scatter,
    names: same ? names.map((name, i) => `${name} (${i ? "second" : "first"})`) : names,
    left: inputs.map(({ inputs: list }) => list.some((i) => i.path === "player.handed" && i.value === "left")),
  };
}

/** How the two setups are told apart, by shape and stroke as well as by colour. */
export const MARKS = [
  { colour: RUST, dash: [], sign: "●" },
  { colour: NAVY, dash: [7, 4], sign: "▲" },
];

// ---------------------------------------------------------------- what is asked

export const USUAL: Record<string, string> = { swings: "400", seed: "1", fairway: "30 m" };

/** The setup that is laid beside it in this view, if there is one. */
export function besideOf(state: State): Setup | undefined {
  return state.ask["spread.beside"] === "no" ? undefined : state.beside[0];
}

export interface Question {
  setups: SetupAsk[];
  swings: number | string;
  seed: number | string;
  fairway: string;
}

export function questionOf(state: State): Question {
  const { folder, file, set } = state;
  const second = besideOf(state);
  const asked = (key: string) => state.ask[`spread.${key}`] ?? USUAL[key];
  // What is no whole number goes to the program as it is: it says what is wanted.
  const count = (text: string) => (/^\d{1,15}$/.test(text) ? Number(text) : text);
  return {
    setups: [{ folder, file, set }, ...(second ? [second] : [])],
    swings: count(asked("swings")),
    seed: count(asked("seed")),
    fairway: asked("fairway"),
  };
}

// ---------------------------------------------------------------- habits

export const HABITS = ["rise", "peak", "release", "hub", "arm", "square", "direction", "ahead", "out", "height"];
export const HABIT_PATHS = HABITS.map((habit) => `player.repeat.${habit}`);
export const JOINTLY = "jointly";

export function habitName(habit: string): string {
  return habit === JOINTLY ? JOINTLY : inputName(`player.repeat.${habit}`).replace("± ", "");
}

export interface Cause {
  habit: string; // or JOINTLY
  share: number;
}

/** What makes an output vary, the largest share first; nothing for one that does not vary. */
export function causesOf(spread: Spread): Cause[] {
  const all = [...Object.entries(spread.share).map(([habit, share]) => ({ habit, share })), { habit: JOINTLY, share: spread.rest }];
  return spread.sd > 0 ? all.sort((a, b) => b.share - a.share) : [];
}

// ---------------------------------------------------------------- numbers as they are read

const minus = (text: string) => (/^-0(\.0*)?$/.test(text) ? text.slice(1) : text.replace("-", "−"));

export function percentText(share: number, decimals = 1): string {
  return minus((100 * share).toFixed(decimals));
}

/** The values of a result by their names, in the units of the reader. */
export class Reading {
  private readonly known: Map<string, Field>;
  constructor(
    fields: Record<string, Field[]>,
    readonly units: System,
  ) {
    this.known = fieldsOf(fields);
  }

  private of(name: string): string {
    return this.known.get(name)?.unit ?? "";
  }
  meaning(name: string): string {
    return this.known.get(name)?.meaning ?? "";
  }
  unit(name: string): string {
    return unitShown(this.of(name), this.units, name);
  }
  value(name: string, value: number): number {
    return convert(value, this.of(name), this.unit(name));
  }
  text(name: string, value: number): string {
    return numberText(this.value(name, value), this.unit(name), name);
  }
  /** With its unit. */
  whole(name: string, value: number): string {
    return [this.text(name, value), this.unit(name)].filter(Boolean).join(" ");
  }
  /** Half of an interval, as +-: "<0.1" where it would round to nothing. */
  half(name: string, low: number, high: number): string {
    const text = this.text(name, (high - low) / 2);
    return high > low && /^0(\.0*)?$/.test(text) ? `<${text.includes(".") ? `${text.slice(0, -1)}1` : "1"}` : text;
  }
  /** A spread: three digits of it, or of `like` when it stands beside another. */
  sd(name: string, sd: number, like = sd): string {
    const size = this.value(name, like);
    const decimals = size > 0 ? Math.min(5, Math.max(0, 2 - Math.floor(Math.log10(size)))) : 2;
    return minus(this.value(name, sd).toFixed(decimals));
  }
  /** An area on the ground, such as that of an ellipse. */
  area(m2: number): { text: string; unit: string } {
    return { text: (m2 * this.value("carry_m", 1) ** 2).toFixed(0), unit: `${this.unit("carry_m")}²` };
  }
}

export function outputName(name: string): string {
  return plainName(name);
}

/** Off the target line to the right, as the reader looks to the target. */
export function rightOf(found: Found, club: number, away: number): number {
  return found.left[club] ? -away : away;
}
export function sideWord(found: Found, club: number, away: number): string {
  return rightOf(found, club, away) >= 0 ? "right" : "left";
}
