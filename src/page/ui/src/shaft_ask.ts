// SPDX-License-Identifier: GPL-3.0-or-later
// What the view of the shaft asks: the shaft and its swing as in the file and with the sections, what a bench would say
// of both, and the readings behind the profile.
import { type Answer, type ModelFile, Refusal, type SetupAsk, type Swing, api } from "./api";
import { setWithout } from "./sections";
import type { State } from "./state";

export interface Station {
  at_m: number;
  ei_nm2: number; // of the stiffer plane
  ei_2_nm2: number; // of the softer one
  ei_sd_percent: number | null;
  gj_nm2: number;
  gj_sd_percent: number | null;
  mass_kg_m: number;
}

export interface ShaftAnswer {
  setup: string;
  shaft: string;
  note: string;
  length_m: number;
  hold_m: number;
  errors_known: boolean;
  stations: Station[];
  sections: unknown[];
  curve: Record<"at_m" | "ei_nm2" | "ei_2_nm2" | "gj_nm2", number[]>;
}

export interface Reading {
  kind: string;
  file: string;
  line: number;
  unit: string;
  value: number;
  sigma: number;
  predicted: number;
  residual: number;
  left_out: boolean;
  outlier: boolean;
  orientation_deg?: number | null;
}

export interface Fit {
  shaft: string;
  length_m: number;
  used: number;
  left_out: number;
  reduced_chi_square: number;
  widened: number;
  symmetry: { difference_percent: number; difference_sd_percent: number } | null;
  stations: (Station & { bend_seen: boolean; twist_seen: boolean })[];
  jigs: { kind: string; file: string; used: number; left_out: number; rms: number | null; mean: number | null }[];
  readings: Reading[];
}

export type Bench = Record<string, unknown> & { tip_trim_mm: number; butt_trim_mm: number; insertion_mm: number };

/** One state of the shaft, and what comes of it. */
export interface Case {
  shaft: Answer<ShaftAnswer>;
  swing: Answer<Swing>;
  bench: Bench | null; // null = not asked, or the bench says no
}

/** The readings that stand behind the profile, or why they say nothing. */
export interface Behind {
  file: ModelFile;
  given: boolean; // chosen by the reader, not by its name
  fit: Answer<Fit> | null;
  refused: Refusal | null;
}

export interface Answered {
  before: Case;
  now: Case;
  scale: [number, number]; // least and most that a section may have
  files: ModelFile[]; // of readings
  behind: Behind | null;
}

// ---------------------------------------------------------------- which readings

const READINGS = "shaft.readings";
const WITHOUT = "shaft.without";
export const NONE = "none";
const place = (file: ModelFile) => `${file.folder}/${file.file}`;
export const readingPlace = (r: { file: string; line: number }) => `${r.file}:${r.line}`;

/** Those that are left out by hand, of this readings file. */
export function withoutRead(ask: State["ask"], file: ModelFile): { file: string; line: number }[] {
  const [of, ...list] = (ask[WITHOUT] ?? "").split(";");
  if (of !== place(file)) return [];
  return list.map((item) => ({ file: item.slice(0, item.lastIndexOf(":")), line: Number(item.slice(item.lastIndexOf(":") + 1)) }));
}

export function withoutWrite(ask: State["ask"], file: ModelFile, list: { file: string; line: number }[]): State["ask"] {
  const next = { ...ask };
  delete next[WITHOUT];
  if (list.length) next[WITHOUT] = [place(file), ...list.map(readingPlace)].join(";");
  return next;
}

export function readingsWrite(ask: State["ask"], chosen: string): State["ask"] {
  const next: State["ask"] = { ...ask, [READINGS]: chosen };
  delete next[WITHOUT];
  return next;
}

/** A shaft file does not say which readings it is from: those of the same file name are taken, unless others are
 * chosen. */
function readingsFind(files: ModelFile[], ask: State["ask"], shaft: string): { file: ModelFile; given: boolean } | null {
  const readings = files.filter((f) => f.kind === "readings" && !f.problem);
  const asked = ask[READINGS];
  if (asked) {
    const file = readings.find((f) => place(f) === asked);
    return file ? { file, given: true } : null;
  }
  const own = files.filter((f) => f.kind === "shaft" && f.name === shaft);
  const file = readings.find((f) => own.some((s) => s.folder === f.folder && s.file === f.file));
  return file ? { file, given: false } : null;
}

// ---------------------------------------------------------------- asking

/** Keeps what a drag does not change. */
export class ShaftAsk {
  private files: Promise<ModelFile[]> | null = null;
  private before: { key: string; answer: Omit<Answered, "now" | "behind" | "files"> } | null = null;
  private behind: { key: string; answer: Behind | null } | null = null;

  /** During a drag (not whole) only what follows it. */
  async ask(state: State, whole: boolean, signal: AbortSignal): Promise<Answered> {
    const { folder, file, set, ask } = state;
    const setup = { folder, file, set };
    const plain = { folder, file, set: setWithout(set) };
    const same = JSON.stringify(plain) === JSON.stringify(setup);
    const [before, own] = await Promise.all([this.beforeAsk(plain, signal), same ? null : this.caseAsk(setup, whole, signal)]);
    const files = await this.filesAsk(signal);
    return { ...before, files: files.filter((f) => f.kind === "readings"), now: own ?? before.before, behind: await this.behindAsk(files, ask, before.before, signal) };
  }

  private filesAsk(signal: AbortSignal): Promise<ModelFile[]> {
    this.files ??= api.files().then((answer) => answer.result.files);
    this.files.catch(() => (this.files = null));
    signal.throwIfAborted();
    return this.files;
  }

  private async caseAsk(setup: SetupAsk, whole: boolean, signal: AbortSignal): Promise<Case> {
    const [shaft, swing, bench] = await Promise.all([
      api.post<ShaftAnswer>("shaft", { setup }, signal),
      api.post<Swing>("swing", { setup }, signal),
      whole ? this.benchAsk(setup, signal) : null,
    ]);
    return { shaft, swing, bench };
  }

  /** A club that no jig can hold is still a club. */
  private async benchAsk(setup: SetupAsk, signal: AbortSignal): Promise<Bench | null> {
    try {
      return (await api.post<Bench>("bench", { setup }, signal)).result;
    } catch (error) {
      if (error instanceof Refusal) return null;
      throw error;
    }
  }

  private async beforeAsk(setup: SetupAsk, signal: AbortSignal): Promise<Omit<Answered, "now" | "behind" | "files">> {
    const key = JSON.stringify(setup);
    if (this.before?.key === key) return this.before.answer;
    const before = await this.caseAsk(setup, true, signal);
    const scale = await this.scaleAsk(setup, before.shaft.result.sections.length, signal);
    this.before = { key, answer: { before, scale } };
    return this.before.answer;
  }

  /** What the program allows of a scale: it says so of a section that is there. */
  private async scaleAsk(setup: SetupAsk, own: number, signal: AbortSignal): Promise<[number, number]> {
    const at = `shaft.sections[${own}]`;
    const set = { ...setup.set, [`${at}.from`]: 0, [`${at}.to`]: "1 mm" };
    const { inputs } = (await api.inputs({ ...setup, set }, signal)).result;
    const found = inputs.find((input) => input.path === `${at}.ei_scale`);
    return [found?.least ?? 0, found?.most ?? Number.POSITIVE_INFINITY];
  }

  private async behindAsk(files: ModelFile[], ask: State["ask"], before: Case, signal: AbortSignal): Promise<Behind | null> {
    const found = readingsFind(files, ask, before.shaft.result.shaft);
    const without = found ? withoutRead(ask, found.file) : [];
    const key = JSON.stringify([found, without]);
    if (this.behind?.key === key) return this.behind.answer;
    let answer: Behind | null = null;
    if (found) {
      const { folder, file } = found.file;
      try {
        answer = { ...found, refused: null, fit: await api.post<Fit>("profile", { readings: { folder, file }, without }, signal) };
      } catch (error) {
        if (!(error instanceof Refusal && error.status)) throw error;
        answer = { ...found, fit: null, refused: error };
      }
    }
    this.behind = { key, answer };
    return answer;
  }
}
