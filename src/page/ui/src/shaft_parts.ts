// SPDX-License-Identifier: GPL-3.0-or-later
// What each tenth of the shaft does: the change of one number of the swing by 10 % more EI or GJ there.
import { type Answer, type Field, Refusal, type SetupAsk, api } from "./api";
import { Chart } from "./chart";
import { button, h } from "./dom";
import { type Figure, NAVY, RUST } from "./figure";
import { type System, plainName, shown } from "./units";

type Lists = Record<string, (number | null)[]>;

/** The whole shaft: to first order, and swung anew. */
type Whole = Record<"first" | "anew", Record<string, number | null>>;

export interface Sensitivity {
  sensitivity: {
    setup: string;
    from_mm: number[];
    to_mm: number[];
    bends_mm: number[];
    ei: { parts: { first: Lists }; whole: Whole };
    gj: { parts: { first: Lists }; whole: Whole };
  };
}

const OUTPUTS = ["loft_change_deg", "face_rotation_deg", "head_speed_mps", "lead_deflection_mm", "droop_mm", "peak_lag_mm", "closure_rate_deg_s", "delivered_loft_deg", "face_angle_deg"];
const WORDS: Record<string, string> = { delivered_loft_deg: "dynamic loft", lead_deflection_mm: "lead" };

export function partsFigure({ sensitivity: s }: Sensitivity, output: string, unit: string, length: number): Figure {
  const bends = s.bends_mm.map((mm) => mm > 0);
  const x = [0, ...s.from_mm.map((from, i) => (from + s.to_mm[i]) / 2), length];
  const y = (of: "ei" | "gj") => [null, ...s[of].parts.first[output].map((v, i) => (bends[i] ? v : null)), null];
  const name = WORDS[output] ?? plainName(output);
  return {
    title: `What 10 % more in a tenth does to the ${name}`,
    of: s.setup,
    x: { name: "from the tip of the uncut shaft", unit: "mm", column: "from_the_tip" },
    y: { name: `change of ${name}`, unit, field: output },
    curves: [
      { name: "10 % more EI", colour: RUST, x, y: y("ei"), column: "more_ei" },
      { name: "10 % more GJ", colour: NAVY, dash: [7, 4], x, y: y("gj"), column: "more_gj" },
      { name: "middles of the tenths", colour: RUST, dots: true, x, y: y("ei"), column: "middles_ei" },
    ],
    reach: [0],
  };
}

export class PartsPanel {
  readonly element = h("section", { class: "sheet parts answer", "aria-labelledby": "parts-title" });
  private readonly open = button("Show", () => this.look(this.output ? "" : OUTPUTS[0]), { class: "small", id: "parts-open" });
  private readonly choice = h("select", { id: "parts-output", "aria-label": "Of what" });
  private readonly status = h("p", { role: "status", class: "fine" });
  private readonly chart = new Chart("What each tenth does", { height: 150 });
  private readonly body = h("div", { class: "body" });
  private output = "";
  private asked = "";
  private running: AbortController | null = null;
  private answer: Answer<Sensitivity> | null = null;
  private length = 0;
  private units: System = "metric";

  constructor(
    private readonly fields: Record<string, Field[]>,
    private readonly look: (output: string) => void,
  ) {
    this.choice.append(...OUTPUTS.map((name) => h("option", { value: name }, WORDS[name] ?? plainName(name))));
    this.choice.addEventListener("change", () => look(this.choice.value));
    this.element.append(h("header", {}, h("h2", { id: "parts-title" }, "What each tenth of the shaft does"), this.choice, this.open), this.body);
  }

  /** `settled`: no drag goes on; what is then asked is of the shaft as it is now. */
  show(output: string, setup: SetupAsk, length: number, units: System, settled: boolean): void {
    this.output = OUTPUTS.includes(output) ? output : "";
    Object.assign(this, { length, units });
    this.open.textContent = this.output ? "Hide" : "Show";
    this.open.setAttribute("aria-expanded", String(Boolean(this.output)));
    this.choice.hidden = !this.output;
    if (!this.output) return this.body.replaceChildren();
    this.choice.value = this.output;
    if (!this.body.childElementCount) this.body.append(this.status, this.chart.element);
    const key = JSON.stringify(setup);
    if (settled && key !== this.asked) void this.ask(key, setup);
    else this.draw();
  }

  private async ask(key: string, setup: SetupAsk): Promise<void> {
    this.stop();
    this.asked = key;
    const running = new AbortController();
    this.running = running;
    this.element.setAttribute("aria-busy", "true");
    this.status.textContent = "Computing some hundred swings…";
    try {
      const answer = await api.job<Sensitivity>("sensitivity", { setup }, running.signal, () => {});
      if (running.signal.aborted) return;
      this.answer = answer;
      this.draw();
    } catch (error) {
      if (running.signal.aborted) return;
      this.asked = "";
      this.answer = null;
      this.status.textContent = `Not found: ${error instanceof Refusal ? error.message : String(error)}`;
      this.draw();
    }
    this.running = null;
    this.element.removeAttribute("aria-busy");
  }

  private draw(): void {
    this.chart.element.hidden = !this.answer;
    if (!this.answer || !this.output) return;
    const unit = this.fields.impact?.find((f) => f.name === this.output)?.unit ?? "";
    this.status.textContent = this.wholeText(unit);
    this.chart.show(partsFigure(this.answer.result, this.output, unit, this.length), this.units);
  }

  /** How far the first order goes: where it is not what a swing anew gives, tenths do not simply add up. */
  private wholeText(unit: string): string {
    const { ei, gj } = (this.answer as Answer<Sensitivity>).result.sensitivity;
    const value = (v: number | null) => (v === null ? "nothing" : Object.values(shown(v, unit, this.units, this.output)).join(" "));
    const one = ({ first, anew }: Whole, of: string) => `10 % more ${of} in the whole shaft: ${value(first[this.output])} to first order, ${value(anew[this.output])} swung anew`;
    return `To first order: small changes of several tenths add up. ${one(ei.whole, "EI")}. ${one(gj.whole, "GJ")}. Where the two are far apart, what rings in the shaft at impact has changed its phase.`;
  }

  stop(): void {
    this.running?.abort();
    this.running = null;
    this.element.removeAttribute("aria-busy");
  }
}
