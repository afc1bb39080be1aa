// SPDX-License-Identifier: GPL-3.0-or-later
// What the view "Spread" asks beside the setup: how many swings, whose random numbers, the fairway, and which setup is
// laid beside it; and how far the swings are, with a button that stops them.
import type { ModelFile } from "./api";
import { button, h } from "./dom";
import { USUAL, besideOf } from "./spread_data";
import type { Setup, State } from "./state";
import { convert, unitShown } from "./units";
import type { Shell } from "./view";

const NONE = "no";
const asNumber = (text: string) => String(Number(Number(text).toPrecision(5)));

export class SpreadAsk {
  readonly element: HTMLElement;
  private readonly swings = this.box("swings", "numeric");
  private readonly seed = this.box("seed", "numeric");
  private readonly fairway = this.box("fairway", "decimal");
  private readonly fairwayUnit = h("span", { class: "unit" });
  private readonly beside = h("select", { id: "spread-beside" });
  private readonly bar = h("progress", { "aria-label": "Swings" });
  private readonly done = h("span", { class: "done" });
  private readonly run: HTMLElement;

  constructor(
    private readonly shell: Shell,
    stop: () => void,
  ) {
    this.run = h("div", { class: "run", hidden: true }, this.bar, this.done, button("Stop", stop, { class: "small" }));
    this.beside.addEventListener("change", () => this.lay(this.beside.value));
    this.element = h(
      "section",
      { class: "asked", "aria-labelledby": "asked-title" },
      h("h2", { id: "asked-title" }, "From swing to swing"),
      this.field("swings", "swings drawn", this.swings),
      this.field("fairway", "width of the fairway", this.fairway, this.fairwayUnit),
      this.field("seed", "seed of the draw", this.seed),
      this.field("beside", "beside it", this.beside),
      this.run,
    );
  }

  private box(key: string, inputmode: string): HTMLInputElement {
    const box = h("input", { id: `spread-${key}`, type: "text", inputmode, autocomplete: "off" });
    box.addEventListener("change", () => this.alter(key, box.value.trim()));
    return box;
  }

  private field(key: string, name: string, ...controls: HTMLElement[]): HTMLElement {
    return h("span", { class: "pair" }, h("label", { for: `spread-${key}` }, name), ...controls);
  }

  private alter(key: string, text: string): void {
    const ask = { ...this.shell.state.ask };
    const value = key === "fairway" && text && !/[a-z]/i.test(text) ? `${text} ${this.unit}` : text;
    if (!value || value === USUAL[key]) delete ask[`spread.${key}`];
    else ask[`spread.${key}`] = value;
    this.shell.alter({ ask });
  }

  /** Lays another setup beside it. The player swings both: what was changed of the player is changed of both; the file
   * itself stays as it is, so that what was changed can be held against it. */
  private lay(place: string): void {
    const { state } = this.shell;
    const ask = { ...state.ask };
    delete ask["spread.beside"];
    if (place === NONE) return this.shell.alter({ ask: { ...ask, "spread.beside": NONE } });
    const [folder, file] = place.split("/", 2);
    const itself = folder === state.folder && file === state.file;
    const set = itself ? {} : Object.fromEntries(Object.entries(state.set).filter(([path]) => isPlayers(path)));
    this.shell.alter({ ask, beside: [{ folder, file, set }, ...state.beside.slice(1)] });
  }

  private get unit(): string {
    return unitShown("m", this.shell.state.units, "carry_m");
  }

  show(): void {
    const { state, setups } = this.shell;
    const asked = (key: string) => state.ask[`spread.${key}`] ?? USUAL[key];
    this.swings.value = asked("swings");
    this.seed.value = asked("seed");
    // A width with a unit of lengths is shown in the reader's; anything else as it was given.
    const [, number, unit] = /^([\d.]+) (m|yd)$/.exec(asked("fairway")) ?? [];
    this.fairway.value = number ? asNumber(String(convert(Number(number), unit, this.unit))) : asked("fairway");
    this.fairwayUnit.textContent = number ? this.unit : "";
    this.besideShow(setups, state);
  }

  private besideShow(setups: ModelFile[], state: State): void {
    const second = besideOf(state);
    const place = (s: Pick<Setup, "folder" | "file">) => `${s.folder}/${s.file}`;
    const name = (s: ModelFile) => {
      const itself = place(s) === place(state) ? `${s.name}, as in its file` : s.folder === "user" ? `${s.name} (yours)` : s.name;
      return second && place(s) === place(second) && Object.keys(second.set).length ? `${itself} (changed)` : itself;
    };
    this.beside.replaceChildren(
      h("option", { value: NONE }, "nothing"),
      ...setups.map((s) => h("option", { value: place(s) }, name(s))),
      second && !setups.some((s) => place(s) === place(second)) ? h("option", { value: place(second) }, second.file) : "",
    );
    this.beside.value = second ? place(second) : NONE;
  }

  /** How far it is; null when nothing runs. */
  progress(part: { done: number; total: number } | null): void {
    this.run.hidden = !part;
    this.done.textContent = !part ? "" : part.total ? `${part.done} of ${part.total} swings` : "about to begin";
    if (!part) return;
    if (part.total) {
      this.bar.max = part.total;
      this.bar.value = part.done;
    } else this.bar.removeAttribute("value");
  }

  /** Marks what was not allowed. */
  wrong(field: string | null): void {
    for (const [key, box] of Object.entries({ swings: this.swings, seed: this.seed, fairway: this.fairway }))
      if (key === field) box.setAttribute("aria-invalid", "true");
      else box.removeAttribute("aria-invalid");
  }
}

/** Of the player, not of the club; a path of the player may be shortened by its first word. */
export function isPlayers(path: string): boolean {
  return !/^(air|ball|build|grip|head|name|note|settings|shaft)\b/.test(path);
}
