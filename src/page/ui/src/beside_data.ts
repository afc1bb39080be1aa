// SPDX-License-Identifier: GPL-3.0-or-later
// What differs between setups: as caber compare --json has it, and before that has come in, what is known already.
import { type Answer, type Inputs, Refusal, type Series, type SetupAsk, type Swing, api, type JobState } from "./api";
import { inputName } from "./inputs";
import type { Setup, State } from "./state";
import { type System, convert, numberText, unitShown } from "./units";

export interface Compared {
  setup: string;
  shaft?: string;
  head?: string;
  player?: string;
  retuning?: { hub_peak_scale: number; release_shift_ms: number };
}

export interface Output {
  name: string;
  unit: string;
  sd: number | null;
  values: (number | null)[];
  differences: (number | null)[];
  times: (number | null)[];
}

export interface Comparison {
  keep: string;
  spread: { known: true; swings: number; failed: number; seed: number } | { known: false; why: string };
  setups: Compared[];
  outputs: Output[]; // that which changed most first
  pending?: boolean; // the spread is still being drawn: no `times` yet, or those of the spread before
}

/** What a fitter asks for first, as the command has it. */
export const KEYS = [
  "head_speed_mps", "attack_angle_deg", "path_deg", "delivered_loft_deg", "face_angle_deg", "struck_toe_mm",
  "ball_speed_mps", "launch_angle_deg", "backspin_rpm", "sidespin_rpm", "carry_m", "side_m",
];

export function setupsOf({ folder, file, set, beside }: State): Setup[] {
  return [{ folder, file, set }, ...beside];
}

// ---------------------------------------------------------------- in words

/** A difference that does not vary from swing to swing has no `times`. */
export function timesAt(o: Output, k: number): number | null {
  const times = o.times[k];
  const difference = o.differences[k];
  return times === null && o.sd !== null && difference !== null && difference !== 0 ? Math.sign(difference) * Number.POSITIVE_INFINITY : times;
}

/** How a difference stands to what swings vary by, in the command's words. */
export function wordsOf(times: number, known: boolean): string {
  const size = Math.abs(times);
  if (times === 0) return "none";
  if (!known) return size < 0.001 ? "under 0.1 %" : `${(100 * size).toFixed(1)} %`;
  if (size === Number.POSITIVE_INFINITY) return "swings do not vary";
  if (size < 0.1) return "less than a tenth";
  if (size < 0.5) return "less than half";
  if (size < 0.8) return "more than half";
  if (size < 1.25) return "about as much";
  return `${size.toFixed(size < 9.95 ? 1 : 0)} times`;
}

/** What follows such words in a sentence. */
export function wordsEnd(times: number, known: boolean): string {
  const size = Math.abs(times);
  if (times === 0 || size === Number.POSITIVE_INFINITY) return "";
  if (!known) return " of the larger of the two";
  return size < 0.8 ? " of what the player’s swings vary by" : size < 1.25 ? " as the player’s swings vary by" : " what the player’s swings vary by";
}

/** A difference in the reader's unit, with its sign; with a decimal more where it would read as none. */
export function differenceText(difference: number, unit: string, units: System, name: string): string {
  const to = unitShown(unit, units, name);
  const value = convert(difference, unit, to) - convert(0, unit, to);
  const plain = numberText(value, to, name);
  const decimals = /[.](\d+)$/.exec(plain)?.[1].length ?? 0;
  const fine = /[1-9]/.test(plain) || value === 0 ? plain : numberFixed(value, decimals + 1);
  const text = value > 0 && /[1-9]/.test(fine) ? `+${fine}` : fine;
  return to ? `${text} ${to}` : text;
}

export function numberFixed(value: number, decimals: number): string {
  const text = value.toFixed(decimals);
  return /^-0([.]0*)?$/.test(text) ? text.slice(1) : text.replace("-", "−");
}

/** A spread, to three digits. */
export function spreadText(sd: number, unit: string, units: System, name: string): string {
  const to = unitShown(unit, units, name);
  const value = convert(sd, unit, to) - convert(0, unit, to);
  return numberFixed(value, value > 0 ? Math.max(0, Math.min(5, 2 - Math.floor(Math.log10(value)))) : 2);
}

const SECTION = /^shaft[.]sections\[(\d+)\][.](from|to|ei_scale)$/;

/** What was changed in a file, in a few words each. */
export function changesOf(set: Record<string, string>): string[] {
  const parts = new Map<string, Record<string, string>>();
  const words: string[] = [];
  for (const [path, value] of Object.entries(set)) {
    const found = SECTION.exec(path);
    if (found) parts.set(found[1], { ...parts.get(found[1]), [found[2]]: value });
    else words.push(`${inputName(path.replace(/^load/, "player.load"))} ${value}`);
  }
  for (const { from, to, ei_scale } of parts.values()) words.push(`EI${from || to ? ` from ${from ?? "?"} to ${to ?? "?"}` : ""}${ei_scale ? ` × ${ei_scale}` : ""}`);
  return words;
}

/** Names that tell the setups apart: "2 Firm tip, smooth". */
export function labelsOf(setups: Setup[], names: string[]): string[] {
  return setups.map(({ set }, k) => {
    const changes = changesOf(set);
    const more = changes.length === 1 ? `, ${changes[0]}` : changes.length ? `, ${changes.length} changes` : "";
    return `${k + 1} ${names[k]}${more}`;
  });
}

// ---------------------------------------------------------------- asking

export interface Question {
  setups: Setup[];
  keep: string;
  swings: number | string;
  seed: number | string;
}

const numberOr = (text: string | undefined, usual: number): number | string => (text === undefined ? usual : /^\d+$/.test(text) ? Number(text) : text);
export const SWINGS = 400;
export const SEED = 1;

export function questionOf(state: State): Question {
  const { ask } = state;
  return { setups: setupsOf(state), keep: ask["beside.keep"] ?? "load", swings: numberOr(ask["beside.swings"], SWINGS), seed: numberOr(ask["beside.seed"], SEED) };
}

/** Says of which setup it was. */
export class SetupRefusal extends Refusal {
  which = -1;
}

async function each<T>(setups: SetupAsk[], run: (setup: SetupAsk, which: number) => Promise<T>): Promise<T[]> {
  return Promise.all(
    setups.map(async (setup, which) => {
      try {
        return await run(setup, which);
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        const message = `Setup ${which + 1}: ${error.message.replace(/^--set ([^:]+): \1: /, "$1: ").replace(/^--set /, "")}`;
        throw Object.assign(new SetupRefusal(message), { status: error.status, file: error.file, line: error.line, field: error.field, which });
      }
    }),
  );
}

export const swingsAsk = (setups: Setup[], signal: AbortSignal): Promise<Answer<Swing>[]> => each(setups, (setup) => api.swing(setup, signal));

export const compareAsk = (q: Question, signal: AbortSignal, progress: (state: JobState) => void): Promise<Answer<Comparison>> =>
  api.job<Comparison>("compare", { setups: q.setups, keep: q.keep, swings: q.swings, seed: q.seed }, signal, progress);

/** The swings through time: those that are compared, so with what the player changes. */
export async function seriesAsk(setups: Setup[], compared: Compared[], signal: AbortSignal): Promise<Series[]> {
  return each(setups, async (setup, k) => {
    const retuning = compared[k]?.retuning;
    const asked = retuning ? retuned(setup, retuning, (await api.inputs(setup, signal)).result) : setup;
    return (await api.series(asked, signal)).result;
  });
}

function retuned(setup: SetupAsk, { hub_peak_scale, release_shift_ms }: NonNullable<Compared["retuning"]>, given: Inputs): SetupAsk {
  const set = { ...setup.set };
  const put = (path: string, change: (value: number, unit: string) => number) => {
    const input = given.inputs.find((i) => i.path === `player.${path}`);
    if (!input || typeof input.value !== "number") return;
    delete set[path]; // the same by its shorter name
    set[`player.${path}`] = `${change(input.value, input.unit ?? "")} ${input.unit}`;
  };
  const later = (value: number, unit: string) => value + convert(release_shift_ms / 1e3, "s", unit);
  put("load.hub.peak", (value) => value * hub_peak_scale);
  put("load.grip.release", later);
  put("load.grip.late_onset", later);
  return { ...setup, set };
}

// ---------------------------------------------------------------- before the spread has come in

/** What an output varies by from swing to swing, of the last comparison that had the same first setup. */
export type Spreads = Map<string, number | null>;

const UNMOVED = 1e-6; // as the command has it: below this share of itself a spread is the integrator's

/** The values and differences that are there at once; `spreads` are those known from before. */
export function early(q: Question, swings: Swing[], unit: (name: string) => string, spreads: Spreads | null): Comparison {
  const names = Object.keys(swings[0].impact).filter((name) => name !== "energy_residual");
  const outputs = names.map((name): Output => {
    const values = swings.map((s) => s.impact[name] ?? null);
    const sd = spreads?.get(name) ?? null;
    const differences = values.map((v) => (v === null || values[0] === null ? null : near(v - values[0], unit(name))));
    const times = differences.map((d, k) => {
      if (d === null || d === 0) return d;
      const size = Math.max(Math.abs(values[0] as number), Math.abs(values[k] as number));
      return sd !== null && sd > UNMOVED * size ? d / sd : null;
    });
    return { name, unit: unit(name), sd, values, differences, times };
  });
  const most = (o: Output) => Math.max(-1, ...o.times.slice(1).map((_, k) => Math.abs(timesAt(o, k + 1) ?? -1)));
  if (spreads) outputs.sort((a, b) => most(b) - most(a));
  return {
    keep: q.keep,
    spread: { known: true, swings: Number(q.swings), failed: 0, seed: Number(q.seed) },
    setups: swings.map(({ setup }) => ({ setup })),
    outputs,
    pending: true,
  };
}

/** The short way round, of an angle. */
function near(difference: number, unit: string): number {
  return unit === "deg" && Math.abs(difference) > 180 ? difference - 360 * Math.round(difference / 360) : difference;
}
