// SPDX-License-Identifier: GPL-3.0-or-later
// How far the errors of a measured profile move each number: a long run, begun when it is wanted.
import { Refusal, api } from "./api";
import type { Bench, Body } from "./bench_ask";
import { button, h } from "./dom";

const QUIET_MS = 350; // nothing is begun under a hand that still moves

export const DRAWS = { usual: "400", least: 200, most: 10000 };

export interface BandsWants {
  on: boolean;
  draws: string;
  seed: string;
}

export class Bands {
  readonly element = h("section", { class: "inputs bands", "aria-labelledby": "bands-title" });
  private readonly box = h("input", { type: "checkbox", id: "bands-on" });
  private readonly draws = h("input", { type: "text", inputmode: "numeric", id: "bands-draws", autocomplete: "off" });
  private readonly seed = h("input", { type: "text", inputmode: "numeric", id: "bands-seed", autocomplete: "off" });
  private readonly said = h("p", { class: "bands-said", role: "status" });
  private readonly halt = button("Stop", () => this.change({ on: false }), { class: "small", "aria-label": "Stop drawing from the errors" });
  private running: AbortController | null = null;
  private timer = 0;
  private asked = "";

  constructor(
    private readonly change: (wants: Partial<BandsWants>) => void,
    private readonly took: (bench: Bench) => void,
  ) {
    const number = (label: string, box: HTMLInputElement) => h("span", { class: "pair" }, h("label", { for: box.id }, label), box);
    this.element.append(
      h(
        "header",
        {},
        h("h2", { id: "bands-title" }, "How sure the numbers are"),
        h("label", { class: "check" }, this.box, "± from its errors"),
        number("draws", this.draws),
        number("seed", this.seed),
        this.halt,
        this.said,
      ),
    );
    this.box.addEventListener("change", () => this.change({ on: this.box.checked }));
    this.draws.addEventListener("change", () => this.change({ draws: this.draws.value.trim() }));
    this.seed.addEventListener("change", () => this.change({ seed: this.seed.value.trim() }));
    this.halt.hidden = true;
  }

  /** The question as it stands now; null when there is no answer to give a +- to. */
  show(wants: BandsWants, body: Body | null, known: boolean): void {
    this.box.checked = wants.on && known;
    this.box.disabled = !known;
    for (const [box, text] of [[this.draws, wants.draws], [this.seed, wants.seed]] as const) {
      if (document.activeElement !== box || box.value === "") box.value = text;
      box.disabled = !known || !wants.on;
    }
    if (!known || !body) {
      this.stop();
      this.asked = "";
      this.said.textContent = body ? "Nothing is known of this shaft’s errors. A profile drawn through bench readings (caber profile) has them." : "";
      return;
    }
    const key = wants.on ? JSON.stringify([body, wants]) : "";
    if (key === this.asked) return;
    this.stop();
    this.asked = key;
    this.said.textContent = wants.on ? "" : "One run for each draw: some seconds.";
    if (!wants.on) return;
    this.element.setAttribute("aria-busy", "true");
    this.timer = window.setTimeout(() => void this.run(wants, body), QUIET_MS);
  }

  private async run(wants: BandsWants, body: Body): Promise<void> {
    const running = new AbortController();
    this.running = running;
    this.halt.hidden = false;
    this.said.textContent = "Drawing from the errors…";
    const count = (text: string) => (/^\d+$/.test(text) ? Number(text) : text);
    const ask = { ...body, draws: count(wants.draws), seed: count(wants.seed) };
    try {
      const { result, notes } = await api.job<Bench>("bench_uncertainty", ask, running.signal, ({ done, total }) => {
        this.said.textContent = total ? `Drawing from the errors: ${done} of ${total}` : "Drawing from the errors…";
      });
      if (running.signal.aborted) return;
      this.end();
      this.said.textContent = this.words(result, notes ?? []);
      this.took(result);
    } catch (error) {
      if (running.signal.aborted) return;
      this.end();
      this.said.textContent = `No ±: ${error instanceof Refusal ? error.message : String(error)}`;
      const field = error instanceof Refusal ? error.field : null;
      for (const box of [this.draws, this.seed]) if (field === box.id.replace("bands-", "")) box.setAttribute("aria-invalid", "true");
    }
  }

  private words({ spread }: Bench, notes: string[]): string {
    if (!spread) return "";
    const own = (100 / Math.sqrt(2 * (spread.draws - spread.failed - 1))).toFixed(0);
    return [
      `± is one standard deviation, from ${spread.draws} draws of the profile within its errors, and itself known to ${own} %.`,
      "The true value is within it about two times in three, within twice as much 19 times in 20.",
      "It covers the errors of the measured profile only, not those of head, grip, build or this bench.",
      ...notes,
    ].join(" ");
  }

  private end(): void {
    this.running = null;
    this.halt.hidden = true;
    this.element.removeAttribute("aria-busy");
  }

  /** Gives up what runs. */
  stop(): void {
    clearTimeout(this.timer);
    this.running?.abort();
    this.end();
    for (const box of [this.draws, this.seed]) box.removeAttribute("aria-invalid");
  }
}
