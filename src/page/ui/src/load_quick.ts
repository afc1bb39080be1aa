// SPDX-License-Identifier: GPL-3.0-or-later
// The quickness of the transition as one handle.
import { h, button } from "./dom";
import { type Load, RISES, quickness, quicknessOf, rateMost, round } from "./load_program";
import { type System, shown } from "./units";

const LEAST = 0.5; // of the slider
const MOST = 2;
const ALLOWED: [number, number] = [0.1, 10]; // of a number
const STEP = 0.01;
const TOGETHER_MS = 1000; // keys within it are one step of undo

/** "1.30 times as quick as in the file" */
export function quicknessWords(q: number): string {
  return Math.abs(q - 1) < STEP / 2 ? "as in the file" : `${q.toFixed(2)} times as quick as in the file`;
}

export class Quickness {
  readonly element: HTMLElement;
  private readonly slider = h("input", { type: "range", id: "quickness", min: LEAST, max: MOST, step: STEP });
  private readonly number = h("input", {
    type: "text", id: "quickness-number", inputmode: "decimal", autocomplete: "off", "aria-label": "Quickness, times as in the file",
    "aria-describedby": "quickness-says", title: `${ALLOWED[0]} to ${ALLOWED[1]}`,
  });
  private readonly says = h("p", { class: "says", id: "quickness-says", role: "status" });
  private readonly means = h("dl");
  private readonly back: HTMLButtonElement;
  private gesture = 0;
  private keyed = 0;
  private q = 1;

  /** `set` takes a quickness; `gesture` is empty for a change that stands alone. */
  constructor(set: (q: number, gesture: string) => void) {
    this.back = button("as in the file", () => set(1, ""), { class: "small" });
    this.slider.addEventListener("pointerdown", () => this.gesture++);
    this.slider.addEventListener("keydown", (event) => {
      if (event.timeStamp - this.keyed > TOGETHER_MS) this.gesture++;
      this.keyed = event.timeStamp;
    });
    this.slider.addEventListener("input", () => set(Number(this.slider.value), `quickness ${this.gesture}`));
    this.number.addEventListener("change", () => this.typed(set));
    const marks = ["half as quick", "as in the file", "1.5 times", "twice as quick"];
    this.element = h(
      "section",
      { class: "quickness", "aria-labelledby": "quickness-title" },
      h(
        "div",
        { class: "handle-of-it" },
        h("h2", { id: "quickness-title" }, h("label", { for: "quickness" }, "Transition quickness")),
        h("div", { class: "range" }, this.slider, h("div", { class: "marks-below", "aria-hidden": "true" }, ...marks.map((m) => h("span", {}, m)))),
        h("span", { class: "entry" }, this.number, h("span", { class: "unit" }, "×")),
        this.back,
      ),
      this.says,
      this.means,
    );
  }

  private typed(set: (q: number, gesture: string) => void): void {
    const q = Number(this.number.value.trim());
    const good = q >= ALLOWED[0] && q <= ALLOWED[1];
    this.number.toggleAttribute("aria-invalid", !good);
    if (good) set(round(q, STEP / 10), "");
    else this.says.textContent = `“${this.number.value}” is not allowed: a number from ${ALLOWED[0]} to ${ALLOWED[1]}, such as 1.3.`;
  }

  show(now: Load, file: Load, units: System): void {
    const q = quicknessOf(now, file);
    const there = Number.isFinite(q);
    this.q = q;
    this.slider.disabled = this.number.disabled = !there;
    this.back.disabled = !there || RISES.every((name) => !now.rises(name) || Math.abs(quickness(now, file, name) - 1) < 1e-6);
    this.number.removeAttribute("aria-invalid");
    if (there) {
      this.slider.value = String(q);
      this.number.value = q.toFixed(2);
      this.slider.setAttribute("aria-valuetext", quicknessWords(q));
    }
    this.says.textContent = this.words(now, file);
    this.means.replaceChildren(...this.meaning(now, file, units));
  }

  private words(now: Load, file: Load): string {
    const [hands, shoulders] = RISES.map((name) => quickness(now, file, name));
    const [isHands, isShoulders] = [hands, shoulders].map(Number.isFinite);
    if (!isHands && !isShoulders) return "Neither the hands’ couple nor the shoulders’ torque is a program that rises: both follow the player’s file, so there is no quickness to change.";
    if (!isHands) return `The shoulders’ torque rises ${quicknessWords(shoulders)}. The hands follow the player’s file.`;
    if (!isShoulders) return `The hands’ couple rises ${quicknessWords(hands)}. The shoulders follow the player’s file.`;
    if (Math.abs(hands / shoulders - 1) > 1e-3)
      return `The hands’ couple rises ${quicknessWords(hands)}, the shoulders’ torque ${quicknessWords(shoulders)}: moved apart. The slider moves both.`;
    return Math.abs(this.q - 1) < STEP / 2
      ? "Both rise as in the player’s file. The slider makes both quicker or slower; all else stays."
      : `Both rise ${quicknessWords(hands)} (${Math.round(hands * 100)} %); all else is as it was.`;
  }

  private meaning(now: Load, file: Load, units: System): HTMLElement[] {
    const one = (name: string, unit: string, value: (load: Load) => number) => {
      const text = (load: Load) => Object.values(shown(value(load), unit, units)).join(" ");
      if (![now, file].every((load) => Number.isFinite(value(load)))) return null;
      return h("div", {}, h("dt", {}, name), h("dd", {}, text(now), h("small", {}, ` (file ${text(file)})`)));
    };
    const rise = (name: (typeof RISES)[number]) => (load: Load) => (load.rises(name) ? load.number(name) : Number.NaN);
    return [
      one("hands’ couple rises in", "s", rise("grip.rise")),
      one("and by at most", "N m/s", (load) => (load.rises("grip.rise") ? rateMost(load) : Number.NaN)),
      one("shoulders’ torque to 63 % in", "s", rise("hub.rise")),
    ].filter((part) => part !== null);
  }
}
