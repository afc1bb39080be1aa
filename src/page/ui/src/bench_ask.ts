// SPDX-License-Identifier: GPL-3.0-or-later
// What the view of the bench asks the program, and what comes back: as caber bench --json and --trim-table --json.
import { type Answer, type SetupAsk, Refusal, api } from "./api";

export interface Jig {
  clamp_m: number;
  tip_mass_kg: number;
  torque_nm: number;
  load_n: number;
  span_m: number;
  span_load_n: number;
}

export interface Rule {
  name: string;
  figure: number | null;
  stands: string;
  limit: string;
}

interface Lists {
  span_at_m: number[];
  span_deflection_mm: number[];
  span_ei_nm2: number[];
  frequencies_hz: number[];
}

/** One of the four of a spread: of each value, and of each list. */
export type Share = Record<string, number> & Partial<Lists> & { frequency_table?: number[][] };

export interface Spread {
  draws: number;
  failed: number;
  seed: number;
  sd: Share;
  mean: Share;
  low: Share;
  high: Share;
}

export interface Bench extends Lists {
  setup: string;
  shaft: string;
  jig: Jig;
  swing_weight: string;
  frequency_table: { clamp_m: number[]; tip_mass_kg: number[]; cpm: number[][] };
  rules: Rule[];
  spread?: Spread;
}

/** A value of the bench by its name. */
export const benchValue = (bench: Bench, name: string): number => (bench as unknown as Record<string, number>)[name];

export interface Trim {
  tip_trim_mm: number;
  butt_trim_mm: number;
  as_it_is: boolean;
  short_mm?: number; // by which the shaft is too short; then there are no values
  mouth_diameter_mm?: number;
  cpm?: number;
  twist_deg?: number;
  swing_weight?: string;
  swing_moment_kgm?: number;
  loft_change_deg?: number;
  peak_handle_moment_nm?: number;
  lead_deflection_mm?: number;
  met_ball?: boolean;
}

export interface Trims {
  setup: string;
  kept: string;
  trims: Trim[];
}

export interface ShaftCurve {
  length_m: number;
  tip_trim_m: number;
  butt_trim_m: number;
  errors_known: boolean;
  curve: { at_m: number[]; ei_nm2: number[] };
}

/** How the bench is set: each by the key of the program's interface. */
export interface JigField {
  key: string;
  label: string;
  unit: string; // of the answer
  of?: keyof Jig;
  list?: boolean;
  meaning: string;
}

export const JIG: JigField[] = [
  { key: "clamp", label: "clamp", unit: "m", list: true, meaning: "butt in the clamp; several after commas make a table, all else is read with the first" },
  { key: "tip_mass", label: "mass on the tip", unit: "kg", list: true, meaning: "for the frequency; 0 is the built club; several after commas make a table" },
  { key: "torque", label: "torque", unit: "N m", of: "torque_nm", meaning: "at the tip, for the twist" },
  { key: "load", label: "load", unit: "N", of: "load_n", meaning: "across the tip, for the static bend" },
  { key: "span", label: "span", unit: "m", of: "span_m", meaning: "between the supports of the three-point bend" },
  { key: "span_load", label: "load on the span", unit: "N", of: "span_load_n", meaning: "in its middle" },
  { key: "modes", label: "modes", unit: "", meaning: "how many frequencies of the clamped club are listed" },
];

export type Body = Record<string, unknown>;

/** The body of a question: the setup and what of the jig is not as usual ("bench.clamp": "5 in,6 in"). */
export function benchBody(setup: SetupAsk, ask: Record<string, string>): Body {
  const body: Body = { setup };
  for (const { key, list } of JIG) {
    const text = ask[`bench.${key}`];
    if (text === undefined) continue;
    if (key === "modes") body[key] = /^\d+$/.test(text) ? Number(text) : text;
    else body[key] = list ? text.split(",").map((t) => t.trim()) : text;
  }
  return body;
}

/** The bench says "a clamp of 5 m is not allowed": the clamp is the field that is wrong. */
function fieldOf(error: unknown): unknown {
  const said = error instanceof Refusal && error.field === "bench" ? /^bench: a ([a-z ]+) of /.exec(error.message) : null;
  if (said) (error as Refusal).field = said[1].replace(" ", "_");
  return error;
}

export interface Found {
  bench: Answer<Bench>;
  trims: Answer<Trims>;
  shaft: ShaftCurve;
}

export async function benchAsk(setup: SetupAsk, body: Body, signal: AbortSignal): Promise<Found> {
  try {
    const [bench, trims, shaft] = await Promise.all([
      api.post<Bench>("bench", body, signal),
      api.post<Trims>("trims", body, signal),
      api.post<ShaftCurve>("shaft", { setup }, signal),
    ]);
    return { bench, trims, shaft: shaft.result };
  } catch (error) {
    throw fieldOf(error);
  }
}
