// SPDX-License-Identifier: GPL-3.0-or-later
// The view "The shaft": its profile with bands, sections dragged firmer or softer, what the swing answers, and the
// readings behind the profile.
import { Chart, type Handle } from "./chart";
import type { ChangeTable } from "./change_table";
import { button, h } from "./dom";
import { Frame } from "./frame";
import { type Asked, type Piece, type Scale, type Whole, cutMoved, isChanged, pieceScaled, piecesRead, piecesText, piecesWrite } from "./sections";
import { shaftChanges, shaftTable } from "./shaft_answer";
import { type Answered, type Reading, ShaftAsk, readingsWrite, withoutRead, withoutWrite } from "./shaft_ask";
import { type Moves, STIFFNESSES, type Stiffness, TITLES, readingsFit, shaftFigure, shaftHandles } from "./shaft_charts";
import { PartsPanel } from "./shaft_parts";
import { ReadingsPanel } from "./shaft_readings";
import { SectionsTable } from "./shaft_sections";
import { shown } from "./units";
import type { Shell, View } from "./view";

const HEIGHT = 215;
const [APART, TENTHS, ALL] = ["shaft.apart", "shaft.tenths", "shaft.all"]; // of `see`

class ShaftView implements View {
  readonly element: HTMLElement;
  private readonly frame: Frame;
  private readonly asks = new ShaftAsk();
  private readonly charts = {} as Record<Stiffness, Chart>;
  private readonly name = h("h2");
  private readonly about = h("p", { class: "made" });
  private readonly apart = h("input", { type: "checkbox", id: "together" });
  private readonly plain = button("all as in the file", () => this.pieces(this.now().map((p) => ({ ...p, ei: 1, gj: 1, mass: 1 }))), { class: "small" });
  private readonly table: ChangeTable;
  private readonly sections = new SectionsTable((pieces) => this.pieces(pieces));
  private readonly readings: ReadingsPanel;
  private readonly parts: PartsPanel;
  private answered: Answered | null = null;
  private moving = false; // under the reader's hand
  private start: { gesture: string; pieces: Piece[] } = { gesture: "", pieces: [] };

  constructor(private readonly shell: Shell) {
    this.frame = new Frame(shell, { name: "shaft", busy: "Computing the shaft…", none: "No shaft for this." });
    this.element = this.frame.element;
    for (const what of STIFFNESSES) this.charts[what] = new Chart(TITLES[what], { height: HEIGHT, sync: "shaft" });
    this.table = shaftTable(shell.fields);
    this.parts = new PartsPanel(shell.fields, (output) => this.see(TENTHS, output));
    this.readings = new ReadingsPanel({
      choose: (place) => shell.alter({ ask: readingsWrite(shell.state.ask, place) }),
      leave: (reading, out) => this.leave(reading, out),
      all: (on) => this.see(ALL, on ? "1" : ""),
    });
    this.frame.onField = (field) => this.sections.wrong(field, this.whole().own);
    this.lay();
    this.listen();
  }

  private lay(): void {
    const about = h(
      "section",
      { class: "sheet answer", "aria-label": "The shaft" },
      h("header", {}, this.name, this.about, h("label", { class: "check" }, this.apart, "EI and GJ together"), this.plain),
      h("p", { class: "fine" }, "Drag the points up for firmer and down for softer, and those at the foot along the shaft; or reach them with Tab and use the arrow keys."),
    );
    for (const what of STIFFNESSES) this.charts[what].element.classList.add("answer");
    this.frame.lay(
      h("div", { class: "left" }, about, this.charts.ei.element, this.charts.gj.element, this.sections.element, this.parts.element, this.readings.element),
      h("div", { class: "right" }, this.table.element, this.frame.said),
    );
  }

  private listen(): void {
    this.apart.addEventListener("change", () => this.see(APART, this.apart.checked ? "" : "1"));
    for (const event of ["pointerup", "pointercancel", "lostpointercapture", "keyup", "focusout"]) this.element.addEventListener(event, () => this.settle());
  }

  // ---------------------------------------------------------------- changing

  private see(name: string, value: string): void {
    const see = { ...this.shell.state.see };
    delete see[name];
    if (value) see[name] = value;
    this.shell.look({ see });
  }

  private whole(): Whole {
    const file = this.answered?.before.shaft.result;
    return { length: (file?.length_m ?? 0) * 1e3, own: file?.sections.length ?? 0 };
  }
  private now(): Piece[] {
    return piecesRead(this.shell.state, this.whole());
  }

  private pieces(pieces: Piece[], gesture = ""): void {
    const { set, ask }: Asked = piecesWrite(this.shell.state, this.whole(), pieces);
    this.shell.alter({ set, ask }, gesture);
  }

  /** EI and GJ go together as they stood when the hand took hold. */
  private scale(index: number, what: Stiffness, scale: number, gesture: string): void {
    if (gesture !== this.start.gesture) this.start = { gesture, pieces: this.now() };
    this.moving = true;
    const scales: Partial<Record<Scale, number>> = { [what]: scale };
    if (this.apart.checked) {
      const other = what === "ei" ? "gj" : "ei";
      const [from] = [this.start.pieces[index]];
      const [least, most] = (this.answered as Answered).scale;
      scales[other] = Math.min(most, Math.max(least, Number(((from[other] * scale) / from[what]).toFixed(3))));
    }
    this.pieces(pieceScaled(this.now(), index, scales), gesture);
  }

  private cut(index: number, to: number, gesture: string): void {
    this.moving = true;
    this.pieces(cutMoved(this.now(), index, to), gesture);
  }

  private settle(): void {
    if (!this.moving) return;
    this.moving = false;
    this.update();
  }

  private leave(reading: Reading, out: boolean): void {
    const file = this.answered?.behind?.file;
    if (!file) return;
    const { ask } = this.shell.state;
    const others = withoutRead(ask, file).filter((r) => r.file !== reading.file || r.line !== reading.line);
    this.shell.alter({ ask: withoutWrite(ask, file, out ? [...others, reading] : others) });
  }

  // ---------------------------------------------------------------- asking

  update(): void {
    const { state } = this.shell;
    const { folder, file, set, ask } = state;
    const whole = !this.moving;
    const own = Object.entries(ask).filter(([name]) => name.startsWith("shaft.r") || name.startsWith("shaft.w"));
    const key = JSON.stringify([folder, file, set, own, whole]);
    const asked = this.frame.ask(key, (signal) => this.asks.ask({ ...state }, whole, signal), (answered) => this.took(answered), this.moving);
    if (asked && this.moving && this.answered) this.handles(this.answered, this.now()); // the curves follow with the answer
    else this.show();
  }

  private took(answered: Answered): void {
    this.answered = answered;
    const { now, behind } = answered;
    if (!this.moving) this.frame.notes(now.shaft, now.swing, ...(behind?.fit ? [behind.fit] : []));
    this.show();
  }

  // ---------------------------------------------------------------- showing

  private show(): void {
    const { answered } = this;
    if (!answered) return;
    const { state } = this.shell;
    const { units, see } = state;
    const pieces = this.now();
    const file = answered.before.shaft.result;
    this.name.textContent = file.shaft;
    this.about.textContent = this.aboutText(answered);
    this.apart.checked = see[APART] !== "1";
    this.plain.hidden = !pieces.some(isChanged);
    this.curves(answered, pieces);
    const { setup, met_ball } = answered.now.swing.result;
    this.table.show(setup, met_ball, shaftChanges(answered), units);
    if (this.moving) return;
    this.table.say(`${piecesText(pieces)}.`);
    this.sections.show(pieces, units);
    this.readings.show(answered.behind, answered.files, units, see[ALL] === "1", readingsFit(answered));
    this.parts.show(see[TENTHS] ?? "", { folder: state.folder, file: state.file, set: state.set }, this.whole().length, units, true);
  }

  private curves(answered: Answered, pieces: Piece[]): void {
    const handles = this.handles(answered, pieces);
    for (const what of STIFFNESSES) this.charts[what].show(shaftFigure(what, answered, pieces, handles[what]), this.shell.state.units);
  }

  private handles(answered: Answered, pieces: Piece[]): Record<Stiffness, Handle[]> {
    const length = (mm: number) => Object.values(shown(mm, "mm", this.shell.state.units)).join(" ");
    const moves: Moves = {
      scale: (index, what, scale, gesture) => this.scale(index, what, scale, gesture),
      cut: (index, to, gesture) => this.cut(index, to, gesture),
    };
    const handles = {} as Record<Stiffness, Handle[]>;
    for (const what of STIFFNESSES) this.charts[what].handles((handles[what] = shaftHandles(what, answered, pieces, length, moves)));
    return handles;
  }

  /** The shaft, and what else than sections the reader has changed. */
  private aboutText({ before }: Answered): string {
    const { length_m, errors_known } = before.shaft.result;
    const other = Object.entries(this.shell.state.set).filter(([path]) => !path.startsWith("shaft.sections["));
    const long = Object.values(shown(length_m * 1e3, "mm", this.shell.state.units)).join(" ").replace(".0 ", " ");
    const errors = errors_known ? "" : "; its file does not say how sure it is, so it has no band";
    return `${long} uncut${errors}${other.length ? `. Also changed: ${other.map(([path, value]) => `${path} = ${value}`).join(", ")}` : ""}`;
  }

  key(): boolean {
    return false;
  }

  close(): void {
    this.frame.stop();
    this.parts.stop();
  }
}

export const shaftView = { name: "shaft", title: "The shaft", open: (shell: Shell): View => new ShaftView(shell) };
