// SPDX-License-Identifier: GPL-3.0-or-later
// The view "The player's load": the load program, drawn and dragged, and what the club makes of it.
import { type Answer, type Inputs, type Series, type SetupAsk, type Swing, Refusal, api } from "./api";
import { ChangeTable, type ChangeWords } from "./change_table";
import { h } from "./dom";
import { Frame } from "./frame";
import { keyedTime } from "./geometry";
import { InputsPanel } from "./inputs";
import { LoadCharts } from "./load_charts";
import { Load, type LoadAnswer, quicknessRises, setWith } from "./load_program";
import { Quickness } from "./load_quick";
import { Sweep } from "./load_sweep";
import { setChanged } from "./state";
import type { Shell, View } from "./view";

/** Inputs as numbers, in the order of the swing. */
const NUMBERS = [
  ...["onset", "rise", "peak", "release", "fall", "late_onset", "late_rise", "late"].map((name) => `player.load.grip.${name}`),
  ...["peak", "rise", "omega_max"].map((name) => `player.load.hub.${name}`),
  ...["top", "closing", "square"].map((name) => `player.load.roll.${name}`),
];

/** What is asked of a load first. */
const ROWS = [
  "peak_handle_moment_nm", "peak_handle_moment_time_s", "peak_load_rate_nm_s", "peak_lag_mm", "strain_energy_peak_j", "bend_point_m",
  "downswing_time_s", "head_speed_mps", "delivered_loft_deg", "face_angle_deg", "attack_angle_deg", "launch_angle_deg", "carry_m",
];
const WORDS: ChangeWords = {
  title: "What it does",
  what: "load",
  before: "in the file",
  names: { peak_handle_moment_time_s: "when", strain_energy_peak_j: "most strain energy", downswing_time_s: "time to impact" },
  breaks: ["peak_load_rate_nm_s", "bend_point_m"],
};

/** A swing and its course; the load of its player. */
interface Swung {
  load: Load;
  swing: Answer<Swing> | null; // there is none: refused
  series: Series | null;
}
interface Whole {
  now: Swung;
  inputs: Inputs;
}

class LoadView implements View {
  readonly element: HTMLElement;
  private readonly frame: Frame;
  private readonly quick: Quickness;
  private readonly charts: LoadCharts;
  private readonly table: ChangeTable;
  private readonly sweep: Sweep;
  private readonly inputs: InputsPanel;
  private readonly numbers: string[] = [];
  private readonly program: HTMLElement[];
  private file: (Swung & { key: string }) | null = null;
  private now: Swung | null = null;
  private given: Inputs | null = null;
  private held = false; // a gesture goes on
  private wanted: { values: Record<string, number>; set: string } | null = null; // asked for, not answered yet
  private taken = 0; // times a quickness was taken from a chart
  private takenAt = 0;

  constructor(private readonly shell: Shell) {
    this.frame = new Frame(shell, { name: "load", busy: "Computing the swing…", none: "No swing for this." });
    this.element = this.frame.element;
    this.quick = new Quickness((q, gesture) => this.quickness(q, gesture));
    this.charts = new LoadCharts((t) => this.pick(t), (values, gesture) => this.change(values, gesture));
    this.table = new ChangeTable(shell.fields, WORDS);
    this.sweep = new Sweep(shell, (q) => this.take(q));
    this.inputs = new InputsPanel((path, value) => this.input(path, value), this.numbers, "The load in numbers");
    this.frame.onField = (field) => this.inputs.wrong(field);
    this.program = [this.quick.element, this.charts.main, this.charts.rest, this.sweep.element];
    for (const part of this.program) part.hidden = true;
    this.frame.lay(
      this.quick.element,
      this.charts.main,
      h("div", { class: "side" }, this.frame.message, this.table.element, this.frame.said),
      this.charts.rest,
      this.sweep.element,
      this.inputs.element,
    );
    for (const event of ["pointerup", "pointercancel", "keyup"]) this.element.addEventListener(event, () => this.release());
  }

  // ---------------------------------------------------------------- changing

  private change(values: Record<string, number>, gesture: string): void {
    const file = this.file?.load;
    if (!file || !Object.keys(values).length) return;
    const set = setWith(this.shell.state.set, file, values);
    if (JSON.stringify(set) === JSON.stringify(this.shell.state.set)) return;
    this.held = this.charts.held = gesture !== "";
    this.wanted = { values: { ...this.wanted?.values, ...values }, set: JSON.stringify(set) };
    this.shell.alter({ set }, gesture);
  }

  private quickness(q: number, gesture: string): void {
    if (this.file && this.now) this.change(quicknessRises(q, this.now.load, this.file.load), gesture);
  }

  /** From a chart of the sweep. */
  private take(q: number): void {
    const now = performance.now();
    if (now - this.takenAt > 1000) this.taken++;
    this.takenAt = now;
    this.quickness(Math.round(Math.max(0.1, q) * 100) / 100, `taken ${this.taken}`);
  }

  private input(path: string, value: string | null): void {
    if (value === "") return this.showInputs(); // another one is to be seen
    this.shell.alter({ set: setChanged(this.shell.state.set, path, value) });
  }

  /** The hand is off: what stayed as it was under it may follow. */
  private release(): void {
    if (!this.held) return;
    this.held = this.charts.held = false;
    this.show();
  }

  private pick(t: number): void {
    this.shell.look({ time: t >= this.end ? null : Math.max(0, t) });
  }
  private get end(): number {
    const time = (this.now?.series ?? this.file?.series)?.columns.time_s;
    return time ? (time[time.length - 1] as number) : 0;
  }
  private get time(): number {
    return this.shell.state.time ?? this.end;
  }

  // ---------------------------------------------------------------- asking

  update(): void {
    const { folder, file, set } = this.shell.state;
    const setup = { folder, file, set };
    if (JSON.stringify(set) !== this.wanted?.set) this.wanted = null; // it is another state's
    const asked = this.frame.ask(JSON.stringify(setup), (signal) => this.run(setup, this.held, signal), (whole) => this.took(whole, set), this.held);
    if (!asked) this.show();
    else if (this.wanted && this.now && this.file) {
      // The handle goes with the hand; its curve follows with the answer.
      const load = this.now.load.with(this.wanted.values);
      this.quick.show(load, this.file.load, this.shell.state.units);
      this.charts.points(load, this.shell.state.units);
    }
  }

  /** The file's own load and swing; kept until another file is chosen. */
  private async ofFile(setup: SetupAsk, signal: AbortSignal): Promise<Swung> {
    const key = `${setup.folder}/${setup.file}`;
    if (this.file?.key === key) return this.file;
    const own = { ...setup, set: {} };
    const [load, ...swung] = await Promise.all([
      api.post<LoadAnswer>("load", { setup: own }, signal),
      ...[api.swing(own, signal), api.series(own, signal)].map((answer) => answer.catch((error) => (error instanceof Refusal && error.status === 422 ? null : Promise.reject(error)))),
    ]);
    const [swing, series] = swung as [Answer<Swing> | null, Answer<Series> | null];
    this.file = { key, load: new Load(load.result), swing, series: series?.result ?? null };
    return this.file;
  }

  /** The program stays where the swing is refused: it can be dragged back. Under a hand all inputs but the load's are
   * those that they were. */
  private async run(setup: SetupAsk, isHeld: boolean, signal: AbortSignal): Promise<Whole> {
    const inputs = isHeld && this.given ? this.given : null;
    const swung = Promise.all([api.swing(setup, signal), api.series(setup, signal), inputs ?? api.inputs(setup, signal).then((answer) => answer.result)]);
    swung.catch(() => undefined); // said below
    const [, load] = await Promise.all([this.ofFile(setup, signal), api.post<LoadAnswer>("load", { setup }, signal)]);
    if (signal.aborted) throw signal.reason;
    const now: Swung = { load: new Load(load.result), swing: null, series: null };
    const [swing, series, given] = await swung.catch((error) => {
      if (!signal.aborted) {
        this.now = now;
        this.show();
      }
      throw error;
    });
    const own = new Map(load.result.inputs.map((input) => [input.path, input]));
    return {
      now: { load: now.load, swing, series: series.result },
      inputs: { ...given, inputs: given.inputs.map((input) => own.get(input.path) ?? input) },
    };
  }

  private took({ now, inputs }: Whole, set: Record<string, string>): void {
    this.now = now;
    if (JSON.stringify(set) === this.wanted?.set) this.wanted = null;
    this.given = inputs;
    if (now.swing) this.frame.notes(now.swing);
    this.show();
  }

  // ---------------------------------------------------------------- showing

  private showProgram(now: Swung, file: Swung): void {
    const { units } = this.shell.state;
    for (const part of this.program) part.hidden = false;
    this.element.classList.add("drawn");
    const load = this.wanted ? now.load.with(this.wanted.values) : now.load;
    this.quick.show(load, file.load, units);
    this.charts.show({ now: load, file: file.load, series: now.series, fileSeries: file.series }, units);
  }

  private show(): void {
    const { now, file } = this;
    if (!now || !file) return;
    const { folder, file: name, set, units } = this.shell.state;
    this.showProgram(now, file);
    this.charts.cursor(this.time);
    this.sweep.show({ folder, file: name, set }, now.load, file.load, now.swing?.result ?? null, this.held);
    if (!now.swing) return;
    const [before, after] = [file.swing?.result.impact, now.swing.result.impact]; // the file's own load may meet no ball
    this.table.show(now.swing.result.setup, now.swing.result.met_ball, ROWS.map((row) => ({ name: row, before: before?.[row] ?? null, now: after[row] ?? null })), units);
    if (!this.held) this.showInputs();
  }

  private showInputs(): void {
    if (!this.given) return;
    const used = new Set(this.given.inputs.filter((i) => i.used).map((i) => i.path));
    this.numbers.splice(0, this.numbers.length, ...NUMBERS.filter((path) => used.has(path)));
    this.inputs.show(this.given, this.shell.state.set, this.shell.state.units);
  }

  key(event: KeyboardEvent): boolean {
    const samples = this.now?.series?.columns.time_s as number[] | undefined;
    const time = samples ? keyedTime(event, samples, Math.min(this.time, this.end)) : null;
    if (time !== null) this.pick(time);
    return time !== null;
  }

  close(): void {
    this.frame.stop();
    this.sweep.stop();
  }
}

export const loadView = { name: "load", title: "The player’s load", open: (shell: Shell): View => new LoadView(shell) };
