// SPDX-License-Identifier: GPL-3.0-or-later
// The inputs that can be changed, each by its path, as --set does.
import type { Input, Inputs } from "./api";
import { button, h } from "./dom";
import { type System, convert, unitShown } from "./units";

/** Those that stand there from the start, in words of the workshop. */
const FIRST: string[] = [
  "player.load.grip.peak", "player.load.grip.rise", "player.load.grip.release", "player.load.grip.late", "player.load.hub.peak",
  "player.start.cock", "build.tip_trim", "head.mass",
];

const WORDS: [string, string][] = [
  ["player.load.grip.peak", "hands’ couple"],
  ["player.load.grip.onset", "couple begins"],
  ["player.load.grip.rise", "time to rise"],
  ["player.load.grip.release", "release begins"],
  ["player.load.grip.fall", "time to fall"],
  ["player.load.grip.late", "late couple"],
  ["player.load.grip.late_onset", "late couple begins"],
  ["player.load.grip.late_rise", "late couple’s rise"],
  ["player.load.hub.peak", "shoulders’ torque"],
  ["player.load.hub.rise", "shoulders’ time to rise"],
  ["player.load.hub.omega_max", "arm speed without torque"],
  ["player.load.roll.top", "roll at the top"],
  ["player.load.roll.closing", "closing at square"],
  ["player.load.roll.square", "club angle at square"],
  ["player.start.cock", "cock at the start"],
  ["build.tip_trim", "cut from the tip"],
  ["head.mass", "head mass"],
  // how much a habit varies from swing to swing
  ["player.repeat.rise", "± rise"],
  ["player.repeat.peak", "± couple"],
  ["player.repeat.release", "± release"],
  ["player.repeat.hub", "± shoulders"],
  ["player.repeat.arm", "± arms"],
  ["player.repeat.square", "± square"],
  ["player.repeat.direction", "± direction"],
  ["player.repeat.ahead", "± ball ahead"],
  ["player.repeat.out", "± ball out"],
  ["player.repeat.height", "± ball height"],
];

export function inputName(path: string): string {
  return WORDS.find(([p]) => p === path)?.[1] ?? path.replace(/^player\./, "").replaceAll(".", ", ").replaceAll("_", " ");
}

/** At most five significant digits, and none that say nothing. */
function numberField(value: number): string {
  return String(Number(value.toPrecision(5)));
}

export class InputsPanel {
  readonly element = h("section", { class: "inputs", "aria-labelledby": "inputs-title" });
  private given: Inputs | null = null;
  private asked: string[] = []; // shown because the reader wanted it

  constructor(
    private readonly change: (path: string, value: string | null) => void,
    private readonly first: string[] = FIRST,
    private readonly title = "What makes the swing",
  ) {}

  show(given: Inputs, set: Record<string, string>, units: System): void {
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.id : "";
    this.given = given;
    const paths = [...new Set([...this.first, ...this.asked, ...Object.keys(set).map((p) => this.full(p))])];
    const rows = paths.map((p) => this.find(p)).filter((i): i is Input => i !== undefined && typeof i.value !== "object");
    const changed = Object.keys(set).length;
    this.element.replaceChildren(
      h("header", {}, h("h2", { id: "inputs-title" }, this.title), this.made(given), this.more(given, paths)),
      h("div", { class: "fields" }, ...rows.map((input) => this.row(input, set, units))),
    );
    if (changed)
      this.element.firstElementChild?.append(
        button(`as in the file (${changed} changed)`, () => this.change("", null), { class: "small" }),
      );
    if (focused) document.getElementById(focused)?.focus();
  }

  /** Marks the input that was not allowed; the next swing shows all anew. */
  wrong(path: string | null): void {
    for (const control of this.element.querySelectorAll("[aria-invalid]")) control.removeAttribute("aria-invalid");
    if (path) document.getElementById(`in-${this.full(path)}`)?.setAttribute("aria-invalid", "true");
  }

  private made(given: Inputs): HTMLElement {
    return h("p", { class: "made" }, `${given.player} swings ${given.shaft} with ${given.head}`);
  }

  private find(path: string): Input | undefined {
    return this.given?.inputs.find((input) => input.path === path);
  }
  /** A path of the player may be shortened by its first word. */
  private full(path: string): string {
    return this.find(path) ? path : `player.${path}`;
  }

  private more(given: Inputs, there: string[]): HTMLElement {
    const free = given.inputs.filter((i) => i.used && typeof i.value !== "object" && !/(^|\.)(name|note)$/.test(i.path) && !there.includes(i.path));
    const select = h(
      "select",
      { id: "more-inputs", "aria-label": "Another input" },
      h("option", { value: "" }, "another input…"),
      ...free.map((i) => h("option", { value: i.path }, i.path)),
    );
    select.addEventListener("change", () => {
      this.asked.push(select.value);
      this.change(select.value, "");
      document.getElementById(`in-${select.value}`)?.focus();
    });
    return select;
  }

  private row(input: Input, set: Record<string, string>, units: System): HTMLElement {
    const own = Object.keys(set).find((p) => this.full(p) === input.path);
    const id = `in-${input.path}`;
    const control = input.words ? this.words(input, id) : typeof input.value === "boolean" ? this.words({ ...input, words: ["true", "false"] }, id) : this.number(input, id, units);
    return h(
      "div",
      { class: own ? "field changed" : "field" },
      h("label", { for: id }, inputName(input.path)),
      control,
      own ? button("back", () => this.change(own, null), { class: "small", "aria-label": `back: ${inputName(input.path)} as in the file` }) : null,
      h("small", { id: `${id}-about` }, input.meaning),
    );
  }

  private words(input: Input, id: string): HTMLElement {
    const select = h("select", { id, "aria-describedby": `${id}-about` });
    for (const word of input.words ?? []) select.append(h("option", { selected: word === String(input.value) }, word));
    select.addEventListener("change", () => this.change(input.path, select.value));
    return select;
  }

  private number(input: Input, id: string, units: System): HTMLElement {
    const from = input.unit ?? "";
    const to = unitShown(from, units);
    const here = (v: number) => numberField(convert(v, from, to));
    const isNumber = typeof input.value === "number";
    const box = h("input", {
      id,
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      "aria-describedby": `${id}-about`,
      value: isNumber ? here(input.value as number) : String(input.value ?? ""),
      title:
        typeof input.least === "number" && typeof input.most === "number"
          ? `${here(input.least)} to ${here(input.most)} ${to}`
          : undefined,
    });
    box.addEventListener("change", () => {
      const text = box.value.trim().replace("−", "-");
      this.change(input.path, isNumber && to && text ? `${text} ${to}` : text || null);
    });
    return h("span", { class: "entry" }, box, to ? h("span", { class: "unit" }, to) : null);
  }
}
