// SPDX-License-Identifier: GPL-3.0-or-later
// The view "Bench numbers and trims": what a workshop would measure on this club, and what cutting its tip does.
import { type Inputs, api } from "./api";
import { type Bench, type Found, benchAsk, benchBody } from "./bench_ask";
import { Bands, type BandsWants, DRAWS } from "./bench_bands";
import { JigPanel } from "./bench_jig";
import { BenchNumbers, FrequencyTable, RulesTable } from "./bench_numbers";
import { SpanCharts } from "./bench_span";
import { TrimsPart, trimBoth, trimSet } from "./bench_trims";
import { h } from "./dom";
import { Frame } from "./frame";
import { InputsPanel } from "./inputs";
import { setChanged } from "./state";
import type { Shell, View } from "./view";

const FIRST = [
  "build.tip_trim", "build.butt_trim", "build.length", "build.insertion", "build.ferrule.mass", "build.hosel_weight.mass",
  "build.tape.layers", "head.mass", "grip.mass",
];

class BenchView implements View {
  readonly element: HTMLElement;
  private readonly frame: Frame;
  private readonly inputs: InputsPanel;
  private readonly jig: JigPanel;
  private readonly bands: Bands;
  private readonly numbers: BenchNumbers;
  private readonly frequencies = new FrequencyTable();
  private readonly rules = new RulesTable();
  private readonly spans: SpanCharts;
  private readonly trims: TrimsPart;
  private found: Found | null = null;
  private given: Inputs | null = null;
  private sure: Bench | null = null; // with its spread, of what is asked now
  private asked = ""; // what the answer is of
  private shown = "";
  private dragging = false;

  constructor(private readonly shell: Shell) {
    this.frame = new Frame(shell, { name: "bench", busy: "Measuring…", none: "No bench numbers for this." });
    this.element = this.frame.element;
    this.inputs = new InputsPanel((path, value) => this.change(path, value), FIRST, "How the club is built");
    this.jig = new JigPanel((key, text) => this.set(key, text));
    this.bands = new Bands(
      (wants) => this.want(wants),
      (bench) => this.surely(bench),
    );
    this.numbers = new BenchNumbers(shell.fields.bench ?? [], (meanings) => shell.look({ meanings }));
    this.spans = new SpanCharts((at) => shell.look({ see: { ...shell.state.see, "bench.at": String(Number(at.toFixed(4))) } }));
    this.trims = new TrimsPart((tip, gesture) => this.cut(tip, gesture));
    this.frame.onField = (field) => {
      this.inputs.wrong(field);
      this.jig.wrong(field);
    };
    this.frame.lay(
      this.inputs.element,
      this.jig.element,
      h(
        "div",
        { class: "left answer" },
        this.trims.element,
        h("div", { class: "strips" }, ...this.spans.charts.map((c) => c.element)),
        this.frequencies.element,
        this.rules.element,
      ),
      h("div", { class: "right answer" }, this.bands.element, this.numbers.element, this.frame.said),
    );
  }

  // ---------------------------------------------------------------- changing

  private change(path: string, value: string | null): void {
    if (value === "") return this.showInputs();
    this.shell.alter({ set: setChanged(this.shell.state.set, path, value) });
  }

  /** Another jig; an empty key is all of it as usual. */
  private set(key: string, text: string | null): void {
    const ask = { ...this.shell.state.ask };
    for (const name of Object.keys(ask)) if (name === `bench.${key}` || (!key && name.startsWith("bench."))) delete ask[name];
    if (key && text !== null) ask[`bench.${key}`] = text;
    this.shell.alter({ ask });
  }

  private want({ on, draws, seed }: Partial<BandsWants>): void {
    const ask = { ...this.shell.state.ask };
    const put = (name: string, value: string, usual: string) => {
      if (value === usual || !value) delete ask[name];
      else ask[name] = value;
    };
    if (on !== undefined) put("bench.sure", on ? "1" : "", "");
    if (draws !== undefined) put("bench.draws", draws, DRAWS.usual);
    if (seed !== undefined) put("bench.seed", seed, "1");
    this.shell.alter({ ask });
  }

  private get wants(): BandsWants {
    const { ask } = this.shell.state;
    return { on: ask["bench.sure"] === "1", draws: ask["bench.draws"] ?? DRAWS.usual, seed: ask["bench.seed"] ?? "1" };
  }

  private cut(tip: number, gesture?: string): void {
    if (!this.found || !this.given) return;
    this.dragging = gesture !== undefined;
    this.shell.alter({ set: { ...this.shell.state.set, ...trimSet(this.given, tip, trimBoth(this.found.trims.result)) } }, gesture);
    this.dragging = false;
  }

  // ---------------------------------------------------------------- asking

  update(): void {
    const { folder, file, set, ask, units } = this.shell.state;
    const setup = { folder, file, set };
    const body = benchBody(setup, ask);
    const key = JSON.stringify(body);
    const run = (signal: AbortSignal) => Promise.all([api.inputs(setup, signal), benchAsk(setup, body, signal)]);
    const asked = this.frame.ask(key, run, ([inputs, found]) => this.took(key, inputs.result, found), this.dragging);
    if (!asked) this.show();
    else if (!this.dragging) this.jig.show(ask, this.found?.bench.result ?? null, units);
  }

  private took(key: string, inputs: Inputs, found: Found): void {
    this.given = inputs;
    this.found = found;
    this.sure = null;
    this.asked = key;
    this.shown = "";
    this.frame.notes(found.bench, found.trims);
    this.show();
  }

  /** The long run has ended: the same numbers, and how sure they are. */
  private surely(bench: Bench): void {
    this.sure = bench;
    this.shown = "";
    this.show();
  }

  // ---------------------------------------------------------------- showing

  private showInputs(): void {
    if (this.given) this.inputs.show(this.given, this.shell.state.set, this.shell.state.units);
  }

  private show(): void {
    if (!this.found) return;
    const { units, meanings, see, ask } = this.shell.state;
    const { bench, trims, shaft } = this.found;
    const now = JSON.stringify(benchBody({ folder: this.shell.state.folder, file: this.shell.state.file, set: this.shell.state.set }, ask));
    if (!this.wants.on) this.sure = null;
    if (now === this.asked) this.bands.show(this.wants, JSON.parse(now), shaft.errors_known);
    const best = this.sure ?? bench.result;
    const key = JSON.stringify([units, meanings, see["bench.at"] ?? "", best === this.sure]);
    if (key === this.shown) return;
    this.shown = key;
    this.showInputs();
    this.jig.show(ask, best, units);
    this.numbers.show(best, units, meanings);
    this.frequencies.show(best, units);
    this.rules.show(best, units);
    const at = Number.parseFloat(see["bench.at"] ?? "");
    this.spans.show(best, shaft, Number.isFinite(at) ? at : null, units);
    this.trims.show(trims.result, units);
  }

  key(): boolean {
    return false;
  }

  close(): void {
    this.frame.stop();
    this.bands.stop();
  }
}

export const benchView = { name: "bench", title: "Bench numbers and trims", open: (shell: Shell): View => new BenchView(shell) };
