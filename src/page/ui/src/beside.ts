// SPDX-License-Identifier: GPL-3.0-or-later
// The view "Side by side": two to four setups on the same load, and what differs in units of the player's own spread.
import type { Answer, Series, Swing } from "./api";
import { type Comparison, KEYS, type Question, SEED, SWINGS, SetupRefusal, type Spreads, compareAsk, early, labelsOf, questionOf, seriesAsk, setupsOf, swingsAsk } from "./beside_data";
import { type Picture, differs, pictureCsv, pictureSvg, setupSample } from "./beside_picture";
import { Setups, seen } from "./beside_setups";
import { besideShort } from "./beside_short";
import { type Align, STRIPS, alignedZero, stripFigures } from "./beside_strips";
import { BesideTable } from "./beside_table";
import { Chart } from "./chart";
import { h } from "./dom";
import { exportButtons } from "./exports";
import { Frame } from "./frame";
import { keyedTime } from "./geometry";
import { fieldsOf } from "./outputs";
import { fileName } from "./save";
import type { Shell, View } from "./view";

const ROWS = 12; // of the picture
const PICTURE_WIDTH = 760; // of one that is saved

class BesideView implements View {
  readonly element: HTMLElement;
  private readonly frame: Frame;
  private readonly setups: Setups;
  private readonly keep = h("select", { id: "beside-keep" }, h("option", { value: "load" }, "the torques of the player’s file"), h("option", { value: "delivery" }, "speed and handle: the player re-tunes"));
  private readonly swings = h("input", { id: "beside-swings", type: "text", inputmode: "numeric", autocomplete: "off" });
  private readonly seed = h("input", { id: "beside-seed", type: "text", inputmode: "numeric", autocomplete: "off" });
  private readonly short = h("div");
  private readonly marks = h("ul", { class: "key" });
  private readonly drawn = h("div", { class: "drawn" });
  private readonly lines = h("select", { id: "beside-lines", "aria-label": "Lines of the picture" }, h("option", { value: "keys" }, "what a fitter asks for first"), h("option", { value: "change" }, "what changed most"));
  private readonly align = h("select", { id: "beside-align" }, h("option", { value: "impact" }, "at impact"), h("option", { value: "start" }, "at the start"));
  private readonly table: BesideTable;
  private readonly charts: Chart[];
  private found: Comparison | null = null;
  private of: Question | null = null; // what was found is of
  private series: Series[] = [];
  private seriesOf: Question | null = null;
  private spreads: { key: string; list: Spreads } | null = null;
  private shown = "";
  private refusedAt = -1; // which setup was refused last

  constructor(private readonly shell: Shell) {
    this.frame = new Frame(shell, { name: "beside", busy: "Drawing swings for the spread…", none: "No comparison for this." });
    this.element = this.frame.element;
    this.setups = new Setups(shell);
    this.table = new BesideTable(shell.fields, {
      sortSet: (sort) => this.look("beside.sort", sort, "group"),
      meaningsSet: (meanings) => shell.look({ meanings }),
    });
    this.charts = STRIPS.map(({ title }) => new Chart(title, { pick: (x) => this.pick(x), sync: "beside", place: (x) => this.place(x) }));
    this.frame.onField = (field) => this.wrong(field);
    this.lay();
    this.listen();
  }

  private lay(): void {
    const pair = (text: string, control: HTMLElement) => h("span", { class: "pair" }, h("label", { for: control.id }, text), control);
    const exports = exportButtons({
      title: "Differences",
      file: () => fileName("differences from", this.found?.setups[0].setup ?? ""),
      svg: () => pictureSvg(this.picture() as Picture, PICTURE_WIDTH),
      csv: () => pictureCsv(this.picture() as Picture),
    });
    this.frame.lay(
      this.setups.element,
      this.setups.empty,
      h("div", { class: "controls settings" }, pair("all have in common", this.keep), pair("swings for the spread", this.swings), pair("seed", this.seed)),
      h("section", { class: "short answer", "aria-labelledby": "beside-short" }, this.short, this.frame.said),
      h("figure", { class: "strip differences answer" }, h("figcaption", {}, h("h2", {}, "Differences"), this.lines, exports), this.marks, this.drawn),
      h("div", { class: "through answer" }, h("h2", {}, "Through the swing"), pair("one over the other", this.align)),
      h("div", { class: "strips answer" }, ...this.charts.map((c) => c.element)),
      this.table.element,
    );
  }

  private listen(): void {
    const ask = (name: string, value: string, usual: string) => {
      const all = { ...this.shell.state.ask };
      delete all[name];
      if (value !== usual && value !== "") all[name] = value;
      this.shell.alter({ ask: all });
    };
    this.keep.addEventListener("change", () => ask("beside.keep", this.keep.value, "load"));
    this.swings.addEventListener("change", () => ask("beside.swings", this.swings.value.trim(), String(SWINGS)));
    this.seed.addEventListener("change", () => ask("beside.seed", this.seed.value.trim(), String(SEED)));
    this.lines.addEventListener("change", () => this.look("beside.lines", this.lines.value, "keys"));
    this.align.addEventListener("change", () => this.look("beside.align", this.align.value, "impact"));
    let width = 0;
    new ResizeObserver(() => {
      if (this.drawn.clientWidth === width) return;
      width = this.drawn.clientWidth;
      this.draw();
    }).observe(this.drawn);
  }

  private look(name: string, value: string, usual: string): void {
    this.shell.look(seen(this.shell.state, name, value === usual ? null : value));
  }

  private wrong(field: string | null): void {
    const own: Record<string, HTMLElement> = { swings: this.swings, seed: this.seed };
    for (const [name, control] of Object.entries(own)) {
      if (name === field) control.setAttribute("aria-invalid", "true");
      else control.removeAttribute("aria-invalid");
    }
    this.setups.wrong(this.refusedAt, field);
    this.refusedAt = -1;
  }

  // ---------------------------------------------------------------- asking

  update(): void {
    const q = questionOf(this.shell.state);
    const alone = q.setups.length < 2;
    this.element.classList.toggle("alone", alone);
    this.setups.show();
    this.keep.value = q.keep === "delivery" ? "delivery" : "load";
    this.swings.value = String(q.swings);
    this.seed.value = String(q.seed);
    if (alone) {
      if (this.frame.ask(JSON.stringify(q), async () => null, () => (this.found = null))) this.setups.kinLoad();
      return;
    }
    if (!this.frame.ask(JSON.stringify(q), (signal) => this.run(q, signal), ([answer, series]) => this.took(q, answer, series))) this.show();
  }

  private spreadKey({ setups, swings, seed }: Question): string {
    return JSON.stringify([setups[0], swings, seed]);
  }

  private async run(q: Question, signal: AbortSignal): Promise<[Answer<Comparison>, Series[]]> {
    try {
      const swings = await swingsAsk(q.setups, signal);
      const load = q.keep === "load";
      if (load) this.early(q, swings);
      const series = load ? seriesAsk(q.setups, [], signal).then((list) => this.seriesCame(q, list, signal)) : null;
      series?.catch(() => undefined); // given up with the rest, or said below
      const answer = await compareAsk(q, signal, (part) => this.frame.progress(part));
      return [answer, await (series ?? seriesAsk(q.setups, answer.result.setups, signal))];
    } catch (error) {
      if (error instanceof SetupRefusal) this.refusedAt = error.which;
      throw error;
    }
  }

  /** Values and differences are there at once, and with the spread of before what they are worth. */
  private early(q: Question, swings: Answer<Swing>[]): void {
    const known = fieldsOf(this.shell.fields);
    const spreads = this.spreads?.key === this.spreadKey(q) ? this.spreads.list : null;
    this.found = early(q, swings.map((s) => s.result), (name) => known.get(name)?.unit ?? "", spreads);
    this.of = q;
    this.frame.notes();
    this.frame.early(() => this.showAnew());
  }

  private seriesCame(q: Question, list: Series[], signal: AbortSignal): Series[] {
    if (signal.aborted) return list;
    [this.series, this.seriesOf] = [list, q];
    this.showAnew();
    return list;
  }

  private took(q: Question, { result, notes, cautions }: Answer<Comparison>, series: Series[]): void {
    this.found = result;
    this.of = q;
    [this.series, this.seriesOf] = [series, q];
    if (result.spread.known) this.spreads = { key: this.spreadKey(q), list: new Map(result.outputs.map((o) => [o.name, o.sd])) };
    this.frame.notes({ notes, cautions });
    this.showAnew();
    this.setups.kinLoad();
  }

  // ---------------------------------------------------------------- showing

  private showAnew(): void {
    this.shown = "";
    this.show();
  }

  private labels(): string[] {
    const q = this.of as Question;
    return labelsOf(q.setups, (this.found as Comparison).setups.map((s) => s.setup));
  }

  private show(): void {
    if (!this.found || !this.of || this.of.setups.length < 2) return;
    const { units, meanings, see } = this.shell.state;
    const key = JSON.stringify([units, meanings, see["beside.sort"], see["beside.lines"], see["beside.align"]]);
    if (key !== this.shown) {
      this.shown = key;
      this.lines.value = see["beside.lines"] === "change" ? "change" : "keys";
      this.align.value = this.aligned;
      this.short.replaceChildren(...besideShort(this.found, this.labels(), units));
      this.table.show(this.found, this.labels(), units, see["beside.sort"] === "change" ? "change" : "group", meanings);
      this.draw();
      this.stripsShow();
    }
    this.cursor();
  }

  private picture(): Picture | null {
    const { found } = this;
    if (!found || !this.of) return null;
    const rows = this.shell.state.see["beside.lines"] === "change" ? found.outputs.filter(differs).slice(0, ROWS) : KEYS.map((name) => found.outputs.find((o) => o.name === name)).filter((o) => o !== undefined && differs(o));
    return { found, labels: this.labels(), rows: rows as Picture["rows"], units: this.shell.state.units };
  }

  private draw(): void {
    const picture = this.picture();
    if (!picture) return;
    const waits = picture.found.pending && picture.found.outputs.every((o) => o.sd === null);
    const width = Math.max(300, this.drawn.clientWidth);
    this.marksShow(picture.labels);
    this.drawn.replaceChildren(waits ? h("p", { class: "waits" }, "As soon as the swings for the spread are drawn, each difference stands here beside what the player’s swings vary by.") : pictureSvg(picture, width, false));
  }

  private marksShow(labels: string[]): void {
    this.marks.replaceChildren(...labels.map((label, k) => h("li", {}, setupSample(k) as unknown as HTMLElement, h("span", {}, k ? label : `${label}: at 0`))));
  }

  // ---------------------------------------------------------------- through the swing

  private get aligned(): Align {
    return this.shell.state.see["beside.align"] === "start" ? "start" : "impact";
  }

  private stripsShow(): void {
    const q = this.seriesOf;
    if (!q || q.setups.length !== setupsOf(this.shell.state).length || !this.series.length) return;
    const labels = labelsOf(q.setups, this.series.map((s) => s.setup));
    stripFigures(this.series, labels, this.aligned).forEach((figure, i) => this.charts[i].show(figure, this.shell.state.units));
  }

  private get end(): number {
    return (this.series[0]?.columns.time_s.at(-1) as number | undefined) ?? 0;
  }
  /** Of the first setup. */
  private get time(): number {
    const time = this.shell.state.time ?? this.end;
    return this.aligned === "impact" ? Math.min(time, this.end) : time;
  }

  private cursor(): void {
    if (!this.series.length) return;
    for (const chart of this.charts) chart.cursor(this.time - alignedZero(this.series[0], this.aligned));
  }

  private pick(x: number): void {
    const t = x + alignedZero(this.series[0], this.aligned);
    const last = this.aligned === "impact" ? this.end : Math.max(...this.series.map((s) => s.columns.time_s.at(-1) as number));
    this.shell.look({ time: Math.abs(t - this.end) < 5e-4 || t > last ? null : Math.max(0, t) });
  }

  private place(x: number): string {
    if (this.aligned === "start") return `at ${x.toFixed(4)} s`;
    return x < 0 ? `${(-x * 1e3).toFixed(1)} ms before impact` : "at impact";
  }

  key(event: KeyboardEvent): boolean {
    if (!this.series.length) return false;
    const samples = this.series[0].columns.time_s as number[];
    const time = keyedTime(event, samples, this.time);
    if (time !== null) this.shell.look({ time: time === samples.at(-1) ? null : time });
    return time !== null;
  }

  close(): void {
    this.frame.stop();
    this.setups.close();
  }
}

export const besideView = { name: "beside", title: "Side by side", open: (shell: Shell): View => new BesideView(shell) };
