// SPDX-License-Identifier: GPL-3.0-or-later
// What every view has around its own: what is being computed, what was refused and why, notes and cautions.
// A part of a view that shows an answer has the class "answer": it is hidden while there is none, and marked while
// what it shows is of the question before.
import { type Answer, Refusal } from "./api";
import { button, h } from "./dom";
import type { Shell } from "./view";

export interface FrameWords {
  name: string; // of the view: the class of its element
  busy: string; // "Computing the swing…"
  none: string; // "No swing for this."
}

export class Frame {
  readonly element: HTMLElement;
  readonly said = h("div", { class: "said answer" });
  readonly message = h("div", { class: "message", role: "alert" });
  private readonly busy = h("p", { class: "busy", role: "status" });
  private running: AbortController | null = null;
  private next: (() => void) | null = null; // what waits for the one that runs
  private asked = "";
  private answers = 0;
  /** A value was not allowed: its field, and null when all is well. */
  onField: (field: string | null) => void = () => {};

  constructor(
    private readonly shell: Shell,
    private readonly words: FrameWords,
  ) {
    this.element = h("main", { class: `view ${words.name} nothing`, id: "main" }, this.message, this.busy);
  }

  lay(...children: Node[]): void {
    this.element.append(...children);
  }

  /**
   * Asks, unless `key` is what was asked last; `took` then shows the answer. Under a hand that drags (live), what is
   * being computed is shown and the newest question waits; else an older question is given up.
   * Returns whether there was something to ask.
   */
  ask<T>(key: string, run: (signal: AbortSignal) => Promise<T>, took: (answer: T) => void, live = false): boolean {
    if (key === this.asked) return false;
    this.asked = key;
    const go = () => void this.run(run, took);
    if (live && this.running) this.next = go;
    else {
      this.stop();
      go();
    }
    return true;
  }

  private async run<T>(run: (signal: AbortSignal) => Promise<T>, took: (answer: T) => void): Promise<void> {
    const running = new AbortController();
    this.running = running;
    this.element.setAttribute("aria-busy", "true");
    this.progress(null);
    try {
      const answer = await run(running.signal);
      if (running.signal.aborted) return;
      this.good();
      took(answer);
      this.element.dataset.answer = String(++this.answers);
    } catch (error) {
      if (running.signal.aborted) return;
      this.refused(error instanceof Refusal ? error : new Refusal(String(error)), () => void this.run(run, took));
    }
    this.running = null;
    const { next } = this;
    this.next = null;
    if (next) return next();
    this.busy.textContent = "";
    this.element.removeAttribute("aria-busy");
  }

  /** A first part of the answer is there: it is shown while the rest is computed. */
  early(show: () => void): void {
    this.good();
    show();
  }

  /** How far a long computation is: done of total, null when not known. */
  progress(part: { done: number; total: number } | null): void {
    this.busy.textContent = part?.total ? `${this.words.busy} ${part.done} of ${part.total}` : this.words.busy;
  }

  /** Gives up what is being computed. */
  stop(): void {
    this.running?.abort();
    this.running = null;
    this.next = null;
    this.busy.textContent = "";
    this.element.removeAttribute("aria-busy");
  }

  /** The next ask counts, whatever it is. */
  forget(): void {
    this.asked = "";
  }

  private good(): void {
    this.message.replaceChildren();
    this.element.classList.remove("stale", "nothing");
    this.onField(null);
  }

  refused(error: Refusal, again: () => void): void {
    // "--set PATH: PATH: what": once is enough.
    const message = error.message.replace(/^--set ([^:]+): \1: /, "$1: ").replace(/^--set /, "");
    const where = [error.file, error.line ? `line ${error.line}` : null, error.field]
      .filter((part) => part && !message.includes(part))
      .join(", ");
    const nothing = this.element.classList.contains("nothing");
    this.onField(error.field);
    if (!nothing) this.element.classList.add("stale");
    this.message.replaceChildren(
      h("p", {}, h("strong", {}, `${this.words.none} `), message),
      where ? h("p", {}, `Where: ${where}`) : "",
      nothing ? "" : h("p", {}, "What is shown below is of what was asked before."),
      h(
        "p",
        {},
        this.shell.canUndo() ? button("Undo that change", () => this.shell.undo()) : "",
        Object.keys(this.shell.state.set).length ? button("As in the file", () => this.shell.alter({ set: {} })) : "",
        button("Try again", again),
      ),
    );
  }

  /** What the program says beside an answer. */
  notes(...answers: Pick<Answer<unknown>, "notes" | "cautions">[]): void {
    const all = (which: "notes" | "cautions") => [...new Set(answers.flatMap((a) => a[which] ?? []))];
    this.said.replaceChildren(
      ...all("notes").map((note) => h("p", { class: "note" }, note)),
      ...all("cautions").map((caution) => h("p", {}, caution)),
    );
  }
}
