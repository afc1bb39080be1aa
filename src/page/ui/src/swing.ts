// SPDX-License-Identifier: GPL-3.0-or-later
// The view "One swing": player and club from two sides, strips through time, and the impact table.
import { type Answer, type Inputs, type Series, type Swing, api } from "./api";
import type { Chart } from "./chart";
import { button, h } from "./dom";
import { Frame } from "./frame";
import { keyedTime } from "./geometry";
import { ImpactTable } from "./impact";
import { InputsPanel } from "./inputs";
import { fileName, saveCanvas } from "./save";
import { Stage } from "./stage";
import { STRIPS, stripCharts, stripFigure } from "./strip";
import { buildOf } from "./swing_build";
import { AS_IT_WAS, PICTURES, Turner, turnRead, turnWrite } from "./swing_turn";
import { FACTOR_MOST, SLOWS, setChanged } from "./state";
import type { Shell, View } from "./view";

class SwingView implements View {
  readonly element: HTMLElement;
  private readonly frame: Frame;
  private readonly pictures = h("div", { class: "pictures" });
  private readonly scrub = h("input", { type: "range", id: "scrub", min: 0, max: 1000, step: 1, "aria-label": "Time" });
  private readonly clock = h("output", { class: "clock", for: "scrub" });
  private readonly play: HTMLButtonElement;
  private readonly slow = h("select", { id: "slow", "aria-label": "Speed of playing" });
  private readonly drawn = h("input", { type: "range", id: "drawn", min: 1, max: FACTOR_MOST, step: 0.5 });
  private readonly drawnSays = h("output", { for: "drawn" });
  private readonly inputs: InputsPanel;
  private readonly table: ImpactTable;
  private readonly strips: Chart[];
  private readonly turners = PICTURES.map((_, i) => new Turner(i, (turn) => this.shell.look({ see: turnWrite(this.shell.state.see, i, turn) })));
  private readonly labels = PICTURES.map(({ name }, i) => h("span", { class: i ? "label second" : "label" }, name));
  private readonly straighten = button("as they were", () => this.asTheyWere(), { class: "small" });
  private stage: Stage | null = null;
  private series: Series | null = null;
  private swing: Swing | null = null;
  private given: Inputs | null = null;
  private shownUnits = "";
  private playing = 0;

  constructor(private readonly shell: Shell) {
    this.frame = new Frame(shell, { name: "swing", busy: "Computing the swing…", none: "No swing for this." });
    this.element = this.frame.element;
    this.inputs = new InputsPanel((path, value) => this.change(path, value));
    this.table = new ImpactTable(shell.fields, (meanings) => shell.look({ meanings }));
    this.frame.onField = (field) => this.inputs.wrong(field);
    this.strips = stripCharts((t) => this.pick(t));
    this.play = button("Play", () => this.toggle(), { class: "play" });
    this.lay();
    this.listen();
  }

  private lay(): void {
    for (const s of SLOWS) this.slow.append(h("option", { value: s }, `${s} × slower`));
    try {
      this.stage = new Stage();
      this.pictures.append(this.stage.canvas);
      this.stage.canvas.setAttribute("role", "img");
      this.pictures.append(...this.turners.map((t) => t.element));
    } catch {
      this.pictures.append(
        h("p", { class: "empty" }, "This browser cannot draw in three dimensions (no WebGL). Charts and table are complete without it."),
      );
    }
    this.pictures.append(...this.labels, this.straighten);
    const stage = h(
      "section",
      { class: "stage", "aria-label": "Player and club" },
      this.pictures,
      h(
        "div",
        { class: "controls" },
        this.play,
        this.slow,
        this.scrub,
        this.clock,
        button("impact", () => this.pick(Number.POSITIVE_INFINITY), { class: "small" }),
      ),
      h(
        "div",
        { class: "controls" },
        h("label", { for: "drawn" }, "bending drawn"),
        this.drawn,
        this.drawnSays,
        h("span", { class: "legend" }, h("i", { class: "bent" }), "the club", h("i", { class: "straight" }), "straight club"),
        button("PNG", () => this.savePicture(), { class: "small", "aria-label": "Save the picture as PNG" }),
      ),
      h("p", { class: "fine" }, "The grey body is a sketch; the thin line is the way of the face’s middle, as it is."),
    );
    this.frame.lay(
      this.inputs.element,
      h("div", { class: "left answer" }, stage, h("div", { class: "strips" }, ...this.strips.map((s) => s.element))),
      h("div", { class: "right answer" }, this.table.element, this.frame.said),
    );
  }

  private listen(): void {
    this.scrub.addEventListener("input", () => this.pick((Number(this.scrub.value) / 1000) * this.end));
    this.drawn.addEventListener("input", () => this.shell.look({ factor: Number(this.drawn.value) }));
    this.slow.addEventListener("change", () => this.shell.look({ slow: Number(this.slow.value) }));
    new ResizeObserver(() => this.draw(true)).observe(this.pictures);
  }

  private get end(): number {
    const time = this.series?.columns.time_s;
    return time ? (time[time.length - 1] as number) : 0;
  }
  private get time(): number {
    return Math.min(this.end, this.shell.state.time ?? this.end);
  }

  private pick(t: number): void {
    this.stop();
    this.shell.look({ time: t >= this.end ? null : Math.max(0, t) });
  }

  /** Both pictures from where they were seen at first. */
  private asTheyWere(): void {
    const { see } = this.shell.state;
    this.shell.look({ see: PICTURES.reduce((all, _, i) => turnWrite(all, i, AS_IT_WAS), see) });
  }

  // ---------------------------------------------------------------- changing

  private change(path: string, value: string | null): void {
    if (value === "") return this.showInputs(); // another one is to be seen
    this.shell.alter({ set: setChanged(this.shell.state.set, path, value) });
  }

  // ---------------------------------------------------------------- asking

  update(): void {
    const { folder, file, set } = this.shell.state;
    const setup = { folder, file, set };
    const run = (signal: AbortSignal) => Promise.all([api.inputs(setup, signal), api.swing(setup, signal), api.series(setup, signal)]);
    const asked = this.frame.ask(JSON.stringify(setup), run, ([inputs, swing, series]) => this.took(inputs.result, swing, series.result));
    if (asked) this.stop();
    else this.show();
  }

  private took(inputs: Inputs, swing: Answer<Swing>, series: Series): void {
    this.given = inputs;
    this.swing = swing.result;
    this.series = series;
    this.shownUnits = "";
    this.stage?.load(series, buildOf(inputs));
    this.frame.notes(swing);
    this.show();
  }

  // ---------------------------------------------------------------- showing

  private showInputs(): void {
    if (this.given) this.inputs.show(this.given, this.shell.state.set, this.shell.state.units);
  }

  private show(): void {
    if (!this.series || !this.swing) return;
    const { units, meanings, factor, slow } = this.shell.state;
    const key = `${units} ${meanings}`;
    if (key !== this.shownUnits) {
      this.shownUnits = key;
      this.showInputs();
      this.table.show(this.swing, units, meanings);
      for (const [i, strip] of STRIPS.entries()) this.strips[i].show(stripFigure(strip, this.series), units);
    }
    this.slow.value = String(slow);
    this.drawn.value = String(factor);
    this.drawnSays.textContent = factor === 1 ? "× 1, as it is" : `× ${factor}, exaggerated`;
    this.draw(false);
  }

  private draw(sized: boolean): void {
    if (!this.series) return;
    const t = this.time;
    const before = this.end - t;
    this.scrub.value = String(Math.round((t / this.end) * 1000));
    this.clock.textContent = before > 0 ? `${t.toFixed(4)} s, ${(before * 1e3).toFixed(1)} ms to go` : `${t.toFixed(4)} s, ${this.series.met_ball ? "impact" : "end"}`;
    this.scrub.setAttribute("aria-valuetext", this.clock.textContent);
    for (const strip of this.strips) strip.cursor(t);
    this.turned();
    if (!this.stage) return;
    const { clientWidth: width, clientHeight: height } = this.pictures;
    if (sized || !this.stage.canvas.style.width) this.stage.resize(width, height);
    this.stage.draw(t, this.shell.state.factor);
    this.stage.canvas.setAttribute(
      "aria-label",
      `Player and club down the line and face on at ${this.clock.textContent}, bending drawn ${this.drawnSays.textContent}`,
    );
  }

  private turned(): void {
    const turns = PICTURES.map((_, i) => turnRead(this.shell.state.see, i));
    const is = turns.map(({ about, up }) => Boolean(about || up));
    turns.forEach((turn, i) => {
      this.stage?.turn(i, turn);
      this.turners[i].show(turn);
      this.labels[i].textContent = PICTURES[i].name + (is[i] ? ", turned" : "");
    });
    // A button that goes away would take the focus with it.
    this.straighten.hidden = !this.stage || !(is[0] || is[1] || document.activeElement === this.straighten);
  }

  private savePicture(): void {
    if (!this.stage || !this.swing) return;
    this.stage.draw(this.time, this.shell.state.factor);
    const from = this.stage.canvas;
    const canvas = document.createElement("canvas");
    const f = from.width / Math.max(1, from.clientWidth);
    canvas.width = from.width;
    canvas.height = from.height + 28 * f;
    const c = canvas.getContext("2d") as CanvasRenderingContext2D;
    c.fillStyle = "#fff";
    c.fillRect(0, 0, canvas.width, canvas.height);
    c.drawImage(from, 0, 28 * f);
    c.scale(f, f);
    c.fillStyle = "#22303c";
    c.font = "600 13px system-ui, sans-serif";
    c.fillText(`${this.swing.setup}: ${this.clock.textContent}; bending drawn ${this.drawnSays.textContent}`, 8, 19);
    saveCanvas(`${fileName(this.swing.setup, "picture")}.png`, canvas);
  }

  // ---------------------------------------------------------------- playing

  private toggle(): void {
    if (this.playing) return this.stop();
    if (!this.series) return;
    let from = this.time >= this.end ? 0 : this.time;
    let last = performance.now();
    this.play.textContent = "Pause";
    const step = (now: number) => {
      from += (now - last) / 1e3 / this.shell.state.slow;
      last = now;
      const over = from >= this.end;
      this.shell.look({ time: over ? null : from });
      if (over) return this.stop();
      this.playing = requestAnimationFrame(step);
    };
    this.playing = requestAnimationFrame(step);
  }

  private stop(): void {
    cancelAnimationFrame(this.playing);
    this.playing = 0;
    this.play.textContent = "Play";
  }

  key(event: KeyboardEvent): boolean {
    const time = this.series && keyedTime(event, this.series.columns.time_s as number[], this.time);
    if (event.key === " ") this.toggle();
    else if (time !== null) this.pick(time);
    else return false;
    return true;
  }

  close(): void {
    this.stop();
    this.frame.stop();
  }
}

export const swingView = { name: "swing", title: "One swing", open: (shell: Shell): View => new SwingView(shell) };
