// SPDX-License-Identifier: GPL-3.0-or-later
// The view "Spread": where the balls go, what varies and why.
import { type Answer, type Inputs, type JobState, Refusal, api } from "./api";
import { h } from "./dom";
import { Frame } from "./frame";
import { InputsPanel } from "./inputs";
import { SpreadAsk, isPlayers } from "./spread_ask";
import { SpreadCounts } from "./spread_counts";
import { type Found, HABIT_PATHS, type Question, Reading, type Scatter, besideOf, foundOf, questionOf } from "./spread_data";
import { LandingPicture } from "./spread_landing";
import { SpreadTable } from "./spread_table";
import { SpreadWhy } from "./spread_why";
import { SpreadShort } from "./spread_words";
import { type State, setChanged } from "./state";
import type { Shell, View } from "./view";

type Kept = Answer<Found>;

/** What was found, by its question (what the setups' files said, not their names): what undo brings back is there at
 * once. */
const KEPT = new Map<string, Kept>();
const KEPT_MOST = 12;

function keep(key: string, found: Kept): Kept {
  KEPT.set(key, found);
  for (const [oldest] of KEPT) if (KEPT.size > KEPT_MOST) KEPT.delete(oldest);
  return found;
}

class SpreadView implements View {
  readonly element: HTMLElement;
  private readonly frame: Frame;
  private readonly ask: SpreadAsk;
  private readonly inputs: InputsPanel;
  private readonly whose = h("p", { class: "whose" });
  private readonly short: SpreadShort;
  private readonly landing = new LandingPicture();
  private readonly counts: SpreadCounts;
  private readonly why: SpreadWhy;
  private readonly table: SpreadTable;
  private readonly columns: HTMLElement;
  private given: Inputs | null = null;
  private inputsIn = ""; // units
  private found: Found | null = null;
  private shown: Partial<State> = {}; // how what is found was shown last
  private part: { done: number; total: number } | null = null;

  constructor(private readonly shell: Shell) {
    this.frame = new Frame(shell, { name: "spread", busy: "Swinging…", none: "No spread for this." });
    this.element = this.frame.element;
    const look = (key: string, value: string) => shell.look({ see: { ...shell.state.see, [key]: value } });
    this.ask = new SpreadAsk(shell, () => this.giveUp());
    this.inputs = new InputsPanel((path, value) => this.change(path, value), HABIT_PATHS, "The player’s habits: sd from swing to swing");
    this.short = new SpreadShort(this.frame.said);
    this.counts = new SpreadCounts(look);
    this.why = new SpreadWhy(look);
    this.table = new SpreadTable((meanings) => shell.look({ meanings }));
    this.frame.onField = (field) => (this.ask.wrong(field), this.inputs.wrong(field), this.lacking(field));
    this.columns = h("div", { class: "columns answer" }, this.short.element, h("div", { class: "column" }, this.landing.element, this.counts.element), this.why.element);
    this.element.addEventListener("keydown", (event) => void this.key(event));
    this.frame.lay(
      this.ask.element,
      this.inputs.element,
      h("section", { class: "lacking", "aria-labelledby": "lacking-title" },
        h("h2", { id: "lacking-title" }, "No two swings are alike, but by how much?"),
        h("p", {}, "Swings are drawn from a player’s habits: how much the rise of the couple, the release, the place of the ball and others vary from one swing to the next, each as a standard deviation. None is given for this player."),
        h("p", {}, "Give at least one of them above, such as 3 % for the rise or 6 mm for where the ball lies; or in the player’s file under “repeat”, as caber-files(5) says, and it is there every time."),
      ),
      this.columns,
      h("div", { class: "column answer" }, this.why.closer, this.table.element),
    );
  }

  /** The one error that is no mistake: a player without habits. */
  private lacking(field: string | null): void {
    this.element.classList.toggle("no-habits", field === "player.repeat");
  }

  // ---------------------------------------------------------------- changing

  /** One player swings both clubs: what is changed of the player is changed of both, unless the second is the same file,
   * laid there to hold the change against. */
  private get both(): boolean {
    const { state } = this.shell;
    const second = besideOf(state);
    return second !== undefined && (second.folder !== state.folder || second.file !== state.file);
  }

  private change(path: string, value: string | null): void {
    if (value === "") return this.inputsShow(); // another one is to be seen
    const { state } = this.shell;
    const alter: Partial<State> = { set: setChanged(state.set, path, value) };
    if (this.both && (!path || isPlayers(path))) {
      const [second, ...others] = state.beside;
      const own = { ...second, set: Object.fromEntries(Object.entries(second.set).filter(([p]) => !isPlayers(p))) };
      alter.beside = [path ? { ...second, set: setChanged(second.set, path, value) } : own, ...others];
    }
    this.shell.alter(alter);
  }

  // ---------------------------------------------------------------- asking

  update(): void {
    const question = questionOf(this.shell.state);
    const key = JSON.stringify(question);
    this.ask.show();
    if (this.inputsIn !== this.shell.state.units) this.inputsShow();
    const asked = this.frame.ask(key, (signal) => this.run(question, signal), (kept) => this.took(kept));
    if (!asked) this.show();
  }

  private async run(question: Question, signal: AbortSignal): Promise<Kept> {
    this.progress({ done: 0, total: 0 });
    try {
      const inputs = (await Promise.all(question.setups.map((setup) => api.inputs(setup, signal)))).map((answer) => answer.result);
      if (!signal.aborted) this.give(inputs[0]);
      const key = JSON.stringify([inputs.map((i) => i.text), question.swings, question.seed, question.fairway]);
      const before = KEPT.get(key);
      if (before) return before;
      const answer = await api.job<Scatter>("scatter", question, signal, (state) => signal.aborted || this.progress(state));
      return keep(key, { ...answer, result: foundOf(answer.result, inputs) });
    } finally {
      if (!signal.aborted) this.progress(null);
    }
  }

  private progress(part: Pick<JobState, "done" | "total"> | null): void {
    this.part = part;
    this.ask.progress(part);
    if (part) this.frame.progress(part);
  }

  /** By the reader's own button: what was found before stays. */
  private giveUp(): void {
    const { done, total } = this.part ?? { done: 0, total: 0 };
    this.frame.stop();
    this.progress(null);
    this.frame.refused(new Refusal(total ? `It was stopped after ${done} of ${total} swings.` : "It was stopped before it began."), () => {
      this.element.querySelector(".message")?.replaceChildren();
      this.frame.forget();
      this.update();
    });
  }

  private took(answer: Kept): void {
    this.found = answer.result;
    this.shown = {};
    this.frame.notes(answer);
    this.show();
  }

  // ---------------------------------------------------------------- showing

  private give(inputs: Inputs): void {
    this.given = inputs;
    this.inputsShow();
  }

  private inputsShow(): void {
    if (!this.given) return;
    this.inputsIn = this.shell.state.units;
    this.inputs.show(this.given, this.shell.state.set, this.shell.state.units);
    this.whose.textContent = this.both ? "One player swings both: a change of the player is of both setups." : besideOf(this.shell.state) ? "A change is of the first; the second is as in the file." : "";
    if (this.whose.textContent) this.inputs.element.append(this.whose);
  }

  private show(): void {
    if (!this.found) return;
    const { units, meanings, see } = this.shell.state;
    const reading = new Reading(this.shell.fields, units);
    if (units !== this.shown.units) {
      this.columns.classList.toggle("of-two", this.found.setups.length > 1);
      this.short.show(this.found, reading);
      this.landing.show(this.found, reading);
    }
    if (units !== this.shown.units || meanings !== this.shown.meanings) this.table.show(this.found, reading, meanings);
    if (units !== this.shown.units || see !== this.shown.see) {
      this.counts.show(this.found, reading, see);
      this.why.show(this.found, reading, see);
    }
    this.shown = { units, meanings, see };
  }

  /** Escape stops what runs, from a button too; a list that is open has it for itself. */
  key(event: KeyboardEvent): boolean {
    if (event.key !== "Escape" || !this.part || (event.target as HTMLElement).matches("select")) return false;
    this.giveUp();
    return true;
  }

  close(): void {
    this.frame.stop();
  }
}

export const spreadView = { name: "spread", title: "Spread", open: (shell: Shell): View => new SpreadView(shell) };
