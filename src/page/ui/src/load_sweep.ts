// SPDX-License-Identifier: GPL-3.0-or-later
// What quickness does: swings over a range of it, when the reader asks.
import { Refusal, type SetupAsk, type Swing, api } from "./api";
import { Chart } from "./chart";
import { button, h } from "./dom";
import { type Figure, RUST } from "./figure";
import { type Load, RISES, quickness, quicknessOf, quicknessRises, setWith } from "./load_program";
import { plainName } from "./units";
import type { Shell } from "./view";

const QUICKNESSES = Array.from({ length: 13 }, (_, i) => (6 + i) / 10); // 0.6 to 1.8
const SEE = "load.quickness";
const SHOWN = ["delivered_loft_deg", "peak_handle_moment_nm", "peak_load_rate_nm_s", "head_speed_mps"];
const TITLES = ["Delivered loft", "Peak handle moment", "Peak load rate", "Head speed"];

interface Point {
  q: number;
  swing: Swing | null;
  why: string;
}

async function point(setup: SetupAsk, now: Load, file: Load, q: number, signal: AbortSignal): Promise<Point> {
  try {
    const set = setWith(setup.set as Record<string, string>, file, quicknessRises(q, now, file));
    return { q, swing: (await api.swing({ ...setup, set }, signal)).result, why: "" };
  } catch (error) {
    if (error instanceof Refusal && error.status === 422) return { q, swing: null, why: error.message };
    throw error;
  }
}

export class Sweep {
  readonly element = h("section", { class: "sweep", "aria-labelledby": "sweep-title" });
  private readonly toggle: HTMLButtonElement;
  private readonly message = h("p", { role: "status" });
  private readonly body = h("div", { class: "strips" });
  private readonly charts: Chart[];
  private running: AbortController | null = null;
  private key = ""; // what the points are of
  private points: Point[] = [];
  private apart = false; // hands and shoulders are not equally quick
  private present: Point = { q: 1, swing: null, why: "" };

  constructor(
    private readonly shell: Shell,
    pick: (q: number) => void,
  ) {
    const place = (q: number) => `at ${q.toFixed(2)} times`;
    this.charts = TITLES.map((title) => new Chart(`${title} against quickness`, { pick, sync: "sweep", place }));
    this.toggle = button("", () => this.turn(), { "aria-expanded": "false" });
    this.body.append(...this.charts.map((chart) => chart.element));
    this.element.append(
      h("header", {}, h("h2", { id: "sweep-title" }, "What quickness does"), this.toggle, h("p", { class: "fine" }, "Both rises moved together, all else as it is set. The line is the present quickness; press in a chart to take another.")),
      this.message,
      this.body,
    );
  }

  private get isOpen(): boolean {
    return this.shell.state.see[SEE] === "1";
  }
  private turn(): void {
    const see = { ...this.shell.state.see };
    if (this.isOpen) delete see[SEE];
    else see[SEE] = "1";
    this.shell.look({ see });
  }

  /** Shows what there is for these loads; asks for what there is not, but not under a hand that drags. */
  show(setup: SetupAsk, now: Load, file: Load, swing: Swing | null, held: boolean): void {
    const q = quicknessOf(now, file);
    const both = RISES.map((name) => quickness(now, file, name)).filter(Number.isFinite);
    this.apart = both.some((one) => Math.abs(one / q - 1) > 1e-3);
    this.present = { q, swing, why: "" };
    this.element.hidden = !Number.isFinite(q);
    const isOpen = this.isOpen && Number.isFinite(q);
    this.toggle.textContent = isOpen ? "Close" : `Swing at ${QUICKNESSES.length} quicknesses`;
    this.toggle.setAttribute("aria-expanded", String(isOpen));
    this.body.hidden = this.message.hidden = !isOpen;
    if (!isOpen) return this.stop();
    // The rises of the quickness itself do not count: the swings are the same.
    const key = JSON.stringify([setup.folder, setup.file, setWith(setup.set as Record<string, string>, file, quicknessRises(1, now, file))]);
    this.element.classList.toggle("old", key !== this.key);
    if (key !== this.key && !held) void this.ask(key, setup, now, file);
    else this.draw();
  }

  private async ask(key: string, setup: SetupAsk, now: Load, file: Load): Promise<void> {
    this.stop();
    const running = new AbortController();
    this.running = running;
    this.key = key;
    this.element.setAttribute("aria-busy", "true");
    this.message.textContent = `Swinging at ${QUICKNESSES.length} quicknesses…`;
    try {
      const points: Point[] = [];
      for (const q of QUICKNESSES) points.push(await point(setup, now, file, q, running.signal));
      this.points = points;
      this.element.classList.remove("old");
      this.message.textContent = points.filter((p) => p.why).map((p) => `No swing at ${p.q}: ${p.why}`).join(" ");
      this.draw();
    } catch (error) {
      if (running.signal.aborted) return;
      this.key = "";
      this.points = [];
      this.message.replaceChildren(`No swings: ${error instanceof Refusal ? error.message : String(error)} `, button("Try again", () => void this.ask(key, setup, now, file), { class: "small" }));
    }
    this.element.removeAttribute("aria-busy");
    this.running = null;
  }

  stop(): void {
    if (!this.running) return;
    this.running.abort();
    this.running = null;
    this.key = "";
    this.element.removeAttribute("aria-busy");
  }

  /** With the present swing among the others, where it is one of a quickness: what is read there is what the table says. */
  private all(): Point[] {
    const { q, swing } = this.present;
    const others = this.points.filter((p) => Math.abs(p.q - q) > 1e-6);
    const isOne = swing && !this.apart && q >= QUICKNESSES[0] && q <= (QUICKNESSES.at(-1) as number);
    return isOne ? [...others, this.present].sort((a, b) => a.q - b.q) : this.points;
  }

  private draw(): void {
    const points = this.all();
    const x = points.map((p) => p.q);
    const done = this.points.find((p) => p.swing)?.swing;
    this.body.hidden = !done;
    if (!done) return;
    const fields = [...(this.shell.fields.impact ?? [])];
    SHOWN.forEach((name, k) => {
      const figure: Figure = {
        title: TITLES[k],
        of: done.setup,
        x: { name: "quickness, times as in the file", unit: "", column: "quickness" },
        y: { name: TITLES[k], unit: fields.find((f) => f.name === name)?.unit ?? "", field: name },
        curves: [{ name: TITLES[k].toLowerCase(), colour: RUST, x, y: points.map((p) => p.swing?.impact[name] ?? null), column: plainName(name).replaceAll(" ", "_") }],
      };
      this.charts[k].show(figure, this.shell.state.units);
      this.charts[k].cursor(this.present.q);
    });
  }
}
