// SPDX-License-Identifier: GPL-3.0-or-later
// What the page asks the program: /api/v1, see caber-serve(1).

export interface Answer<T> {
  result: T;
  notes: string[] | null;
  cautions: string[] | null;
}

export interface ModelFile {
  folder: string;
  kind: string;
  file: string;
  name: string;
  note: string;
  problem?: string;
}

export interface Unit {
  unit: string;
  of: string;
  times: number;
  over: number;
  zero: number;
}

export interface Field {
  name: string;
  unit: string;
  meaning: string;
}

export type InputValue = number | string | boolean | null | { time_s: number[]; value_si: number[] };

export interface Input {
  path: string;
  value: InputValue;
  unit?: string;
  least?: number | null;
  most?: number | null;
  meaning: string;
  used: boolean;
  words?: string[];
}

export interface Inputs {
  setup: string;
  shaft: string;
  head: string;
  grip: string;
  player: string;
  inputs: Input[];
  text: string;
}

export type Values = Record<string, number | null>;

export interface Swing {
  setup: string;
  met_ball: boolean;
  impact: Values;
  straight: Values;
  ball: { coefficients: string; impact: { outside_range: string[] }; straight: { outside_range: string[] } };
}

export interface Series {
  setup: string;
  met_ball: boolean;
  columns: Record<string, (number | null)[]>;
  places_m: number[];
  moment_nm: number[][];
  curvature_per_m: number[][];
  trail_mm: number[][];
  out_of_plane_mm: number[][];
}

export interface SetupAsk {
  folder: string;
  file: string;
  set: Record<string, string | number | boolean>;
}

/** Why there is no answer; `field` and the like are null when not known. */
export class Refusal extends Error {
  status = 0;
  file: string | null = null;
  line: number | null = null;
  field: string | null = null;
}

const BUSY = 503;
const TRIES = 4;

function pause(ms: number, signal?: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(resolve, ms);
    signal?.addEventListener("abort", () => (clearTimeout(timer), reject(signal.reason)), { once: true });
  });
}

async function refusal(answer: Response): Promise<Refusal> {
  const said = await answer.json().catch(() => null);
  const error = said?.error ?? { message: `The program answered with status ${answer.status}.` };
  const refused = new Refusal(error.message);
  return Object.assign(refused, {
    status: answer.status,
    file: error.file ?? null,
    line: error.line ?? null,
    field: error.field ?? null,
  });
}

function posted(body: unknown): RequestInit {
  return { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
}

async function ask<T>(path: string, body: unknown, signal?: AbortSignal): Promise<Answer<T>> {
  for (let attempt = 1; ; attempt++) {
    let answer: Response;
    try {
      answer = await fetch(`/api/v1/${path}`, {
        signal,
        ...(body === undefined ? {} : posted(body)),
      });
    } catch (error) {
      if (signal?.aborted) throw error;
      throw new Refusal("The program does not answer. Start “caber serve” again, then press Try again.");
    }
    if (answer.ok) return answer.json();
    if (answer.status !== BUSY || attempt === TRIES) throw await refusal(answer);
    await pause(500 * attempt, signal);
  }
}

/** What a job says of itself. */
export interface JobState {
  job: number;
  run: string;
  state: string;
  done: number;
  total: number;
}

/** Until the job has ended: its stream, and after a break of it the job itself. */
function jobEnd(job: number, signal: AbortSignal, progress: (state: JobState) => void): Promise<void> {
  return new Promise((resolve, reject) => {
    const events = new EventSource(`/api/v1/jobs/${job}/events`);
    const over = (then: () => void) => (events.close(), then());
    const read = (event: Event) => JSON.parse((event as MessageEvent<string>).data) as JobState;
    events.addEventListener("progress", (event) => progress(read(event)));
    events.addEventListener("end", () => over(resolve));
    events.addEventListener("error", () => {
      if (events.readyState === EventSource.CLOSED) over(() => reject(new Refusal("The program does not answer. Start “caber serve” again, then press Try again.")));
    });
    signal.addEventListener("abort", () => over(() => reject(signal.reason)), { once: true });
  });
}

/** A long run: begun, followed, and its result; given up when the signal says so or the page is left. */
async function runJob<T>(run: string, body: unknown, signal: AbortSignal, progress: (state: JobState) => void): Promise<Answer<T>> {
  // Begun without the signal: what has a number can be ended by it.
  const { job } = (await ask<JobState>("jobs", { run, ask: body })).result;
  const cancel = () => void fetch(`/api/v1/jobs/${job}/cancel`, { ...posted({}), keepalive: true }).catch(() => undefined);
  addEventListener("pagehide", cancel);
  try {
    signal.throwIfAborted();
    await jobEnd(job, signal, progress);
  } catch (error) {
    cancel();
    throw error;
  } finally {
    removeEventListener("pagehide", cancel);
  }
  return ask<T>(`jobs/${job}/result`, undefined, signal);
}

export const api = {
  files: () => ask<{ files: ModelFile[]; user_folder: boolean }>("files", undefined),
  fields: () => ask<Record<string, Field[]>>("fields", undefined),
  units: () => ask<Unit[]>("units", undefined),
  inputs: (setup: SetupAsk, signal: AbortSignal) => ask<Inputs>("inputs", { setup }, signal),
  swing: (setup: SetupAsk, signal: AbortSignal) => ask<Swing>("swing", { setup }, signal),
  series: (setup: SetupAsk, signal: AbortSignal) => ask<Series>("series", { setup }, signal),
  /** Any other path of the interface, by POST. */
  post: <T>(path: string, body: unknown, signal: AbortSignal) => ask<T>(path, body, signal),
  job: runJob,
};
