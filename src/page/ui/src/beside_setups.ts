// SPDX-License-Identifier: GPL-3.0-or-later
// The setups that are laid beside one another: each with what was changed in it, taken in, copied, taken out.
import { type Inputs, type ModelFile, Refusal, type SetupAsk, api } from "./api";
import { changesOf, setupsOf } from "./beside_data";
import { Kin, keyOf } from "./beside_kin";
import { setupSample } from "./beside_picture";
import { button, h } from "./dom";
import { InputsPanel } from "./inputs";
import { BESIDE_MOST, type Setup, type State, setChanged } from "./state";
import type { Shell } from "./view";

const OPEN = "beside.open";
const RELATIONS: [ReturnType<Kin["relation"]>, string][] = [
  ["shaft", "the same player, another shaft"],
  ["head", "the same player and shaft, another head"],
  ["player", "the same club, another player"],
  ["more", "more than one thing is another"],
  ["", "all others"],
];

/** What of a state has its setups in this order. */
function laid(setups: Setup[]): Partial<State> {
  const [{ folder, file, set }, ...beside] = setups;
  return { folder, file, set, beside };
}

/** `see` with a name set, or without it. */
export function seen(state: State, name: string, value: string | null): Partial<State> {
  const see = { ...state.see };
  delete see[name];
  if (value !== null) see[name] = value;
  return { see };
}

export class Setups {
  readonly element = h("section", { class: "beside-setups", "aria-label": "Setups" });
  readonly empty = h("section", { class: "beside-empty", "aria-labelledby": "beside-empty-title" });
  private readonly list = h("ul", { class: "cards" });
  private readonly editor: Editor;
  private readonly kin: Kin;
  private wrongAt = -1;

  constructor(private readonly shell: Shell) {
    this.kin = new Kin(shell.setups, () => this.show());
    this.editor = new Editor(shell, (setups) => this.alter(setups));
    this.element.append(this.list, this.editor.element);
  }

  close(): void {
    this.kin.stop();
    this.editor.stop();
  }

  /** Which of them was refused, and by which field. */
  wrong(which: number, field: string | null): void {
    this.editor.wrong(which === this.open ? field : null);
    if (which === this.wrongAt) return;
    this.wrongAt = which;
    this.show();
  }

  private get open(): number {
    const at = Number.parseInt(this.shell.state.see[OPEN] ?? "", 10) - 1;
    return at >= 0 && at < setupsOf(this.shell.state).length ? at : -1;
  }

  nameOf(setup: Setup): string {
    return this.shell.setups.find((f) => keyOf(f) === keyOf(setup))?.name ?? setup.file;
  }

  /** What is there besides is asked for once the view has its first answer. */
  kinLoad(): void {
    void this.kin.load();
  }

  // ---------------------------------------------------------------- changing

  private alter(setups: Setup[], open?: number | null): void {
    const change: Partial<State> = laid(setups);
    if (open !== undefined) Object.assign(change, seen(this.shell.state, OPEN, open === null ? null : String(open + 1)));
    this.wrongAt = -1;
    this.shell.alter(change);
  }

  private add(more: Setup[], open?: number): void {
    const setups = setupsOf(this.shell.state).concat(more).slice(0, 1 + BESIDE_MOST);
    this.alter(setups, open);
  }

  private remove(k: number): void {
    this.alter(setupsOf(this.shell.state).filter((_, i) => i !== k), this.open === k ? null : undefined);
    document.getElementById("beside-add")?.focus();
  }

  private first(k: number): void {
    const setups = setupsOf(this.shell.state);
    this.alter([setups[k], ...setups.filter((_, i) => i !== k)], null);
    document.getElementById("beside-change-1")?.focus();
  }

  private copy(k: number): void {
    const setups = setupsOf(this.shell.state);
    this.add([{ ...setups[k], set: { ...setups[k].set } }], setups.length);
  }

  private toggle(k: number): void {
    this.shell.look(seen(this.shell.state, OPEN, this.open === k ? null : String(k + 1)));
  }

  // ---------------------------------------------------------------- showing

  show(): void {
    const setups = setupsOf(this.shell.state);
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.id : "";
    this.list.replaceChildren(...setups.map((setup, k) => this.card(setup, k, setups.length)), setups.length <= BESIDE_MOST ? this.adder(setups) : "");
    if (focused.startsWith("beside-")) document.getElementById(focused)?.focus();
    this.editor.show(setups, this.open);
    this.emptyShow(setups);
  }

  private made(setup: Setup): string {
    const made = this.kin.of(setup);
    const known = this.shell.setups.some((f) => keyOf(f) === keyOf(setup));
    return made ? `${made.shaft}, ${made.head}; ${made.player} swings` : known ? "" : "There is no such setup.";
  }

  private card(setup: Setup, k: number, count: number): HTMLElement {
    const name = this.nameOf(setup);
    const changes = changesOf(setup.set);
    const open = this.open === k;
    const act = (text: string, id: string, run: () => void, label: string, more = {}) => button(text, run, { class: "small", id: `beside-${id}-${k + 1}`, "aria-label": `${text}: ${label}`, ...more });
    const who = `${k + 1} ${name}`;
    return h(
      "li",
      { class: ["card", open ? "open" : "", k === this.wrongAt ? "wrong" : ""].join(" ").trim(), "data-setup": k + 1 },
      h("p", { class: "who" }, setupSample(k) as unknown as HTMLElement, h("strong", {}, who), k === 0 && count > 1 ? h("span", { class: "unit" }, "the others are held against it") : null),
      h("p", { class: "made" }, this.made(setup)),
      changes.length ? h("p", { class: "changes" }, changes.join("; ")) : null,
      h(
        "p",
        { class: "acts" },
        act(open ? "done" : "change…", "change", () => this.toggle(k), who, { "aria-expanded": open ? "true" : "false" }),
        count <= BESIDE_MOST ? act("copy", "copy", () => this.copy(k), who) : null,
        k > 0 ? act("make first", "first", () => this.first(k), who) : null,
        count > 1 ? act("remove", "remove", () => this.remove(k), who) : null,
      ),
    );
  }

  /** All that could be laid beside it, in groups of how they stand to the first. */
  private adder(setups: Setup[]): HTMLElement {
    const groups = RELATIONS.map(([relation, title]) => ({ title, list: this.shell.setups.filter((f) => this.kin.relation(setups[0], f) === relation) }));
    const select = h(
      "select",
      { id: "beside-add", "aria-label": "Lay a setup beside" },
      h("option", { value: "" }, "lay a setup beside…"),
      ...groups.filter(({ list }) => list.length).map(({ title, list }) => h("optgroup", { label: title }, ...list.map((f) => h("option", { value: keyOf(f) }, f.folder === "user" ? `${f.name} (yours)` : f.name)))),
    );
    select.addEventListener("change", () => {
      const found = this.shell.setups.find((f) => keyOf(f) === select.value);
      if (found) this.add([{ folder: found.folder, file: found.file, set: {} }]);
    });
    select.addEventListener("focus", () => this.kinLoad());
    return h("li", { class: "card adder" }, select, button("this one with a change", () => this.copy(0), { id: "beside-own", class: "small" }));
  }

  private emptyShow(setups: Setup[]): void {
    if (setups.length > 1) return this.empty.replaceChildren();
    const name = this.nameOf(setups[0]);
    const near = (relation: string) => this.shell.setups.filter((f) => this.kin.relation(setups[0], f) === relation);
    const take = (list: ModelFile[]) => () => this.add(list.map(({ folder, file }) => ({ folder, file, set: {} })));
    const shafts = near("shaft");
    const offer = (list: ModelFile[], what: string) => list.slice(0, BESIDE_MOST).map((f) => h("li", {}, button(f.name, take([f]), { "data-file": keyOf(f) }), h("span", {}, what)));
    this.empty.replaceChildren(
      h("h2", { id: "beside-empty-title" }, "Nothing is beside it yet"),
      h("p", {}, `Two to four setups are swung here with the same load, and what differs is held against what the player’s own swings vary by. Lay one beside ${name}:`),
      h(
        "ul",
        {},
        shafts.length > 1 ? h("li", {}, button(`${shafts.slice(0, BESIDE_MOST).map((f) => f.name).join(" and ")}`, take(shafts.slice(0, BESIDE_MOST)), { class: "main" }), h("span", {}, "all at once: the same player, the other shafts")) : "",
        ...offer(shafts, "the same player, another shaft"),
        ...offer(near("head"), "the same player and shaft, another head"),
        ...offer(near("player"), "the same club, another player"),
        h("li", {}, button("This setup with a change", () => this.copy(0)), h("span", {}, "another tip trim, head mass, or a part of the shaft firmer or softer")),
      ),
      h("p", { class: "unit" }, "Any other is chosen from the list above."),
    );
  }
}

// ---------------------------------------------------------------- what is different in one

const FIRST = ["build.tip_trim", "build.butt_trim", "head.mass", "head.loft", "grip.mass", "player.load.grip.rise", "player.load.grip.release"];

class Editor {
  readonly element = h("div", { class: "beside-editor" });
  private readonly panel: InputsPanel;
  private readonly firmer: HTMLButtonElement;
  private readonly said = h("p", { class: "unit", role: "status" });
  private given: Inputs | null = null;
  private asked = "";
  private running: AbortController | null = null;
  private at = -1;
  private setups: Setup[] = [];
  private field: string | null = null;

  constructor(
    private readonly shell: Shell,
    private readonly alter: (setups: Setup[]) => void,
  ) {
    this.panel = new InputsPanel((path, value) => this.change(path, value), FIRST, "What is different");
    this.firmer = button("a part of the shaft firmer or softer", () => this.section(), { class: "small", id: "beside-section" });
    this.element.append(this.panel.element, this.said);
    this.element.hidden = true;
  }

  stop(): void {
    this.running?.abort();
  }

  wrong(field: string | null): void {
    this.field = field;
    this.panel.wrong(field);
  }

  show(setups: Setup[], at: number): void {
    this.element.hidden = at < 0;
    if (at !== this.at) {
      [this.given, this.asked] = [null, ""];
      this.panel.element.replaceChildren();
    }
    [this.setups, this.at] = [setups, at];
    if (at < 0) return;
    const key = JSON.stringify(setups[at]);
    if (key !== this.asked) void this.ask(setups[at], key);
    else this.fill();
  }

  private async ask(setup: SetupAsk, key: string): Promise<void> {
    this.asked = key;
    this.running?.abort();
    const running = new AbortController();
    this.running = running;
    try {
      this.given = (await api.inputs(setup, running.signal)).result;
      this.said.textContent = "";
      this.fill();
    } catch (error) {
      if (running.signal.aborted) return;
      // The view says it in full; here the fields stay, so that it can be put right.
      this.said.textContent = error instanceof Refusal ? "This change is not allowed: see above." : String(error);
      this.panel.wrong(error instanceof Refusal ? error.field : null);
    }
  }

  private fill(): void {
    const setup = this.setups[this.at];
    if (!this.given || !setup) return;
    this.panel.show(this.given, setup.set as Record<string, string>, this.shell.state.units);
    this.panel.wrong(this.field);
    this.panel.element.firstElementChild?.append(this.firmer);
  }

  private put(set: Record<string, string>): void {
    this.alter(this.setups.map((setup, k) => (k === this.at ? { ...setup, set } : setup)));
  }

  private change(path: string, value: string | null): void {
    if (value === "") return this.fill(); // another one is to be seen
    this.put(setChanged(this.setups[this.at].set, path, value));
  }

  /** A section more: the tip's third a tenth firmer, to be altered. */
  private section(): void {
    const length = this.given?.inputs.find((i) => i.path === "shaft.length")?.value;
    if (typeof length !== "number") return;
    const there = this.given?.inputs.map((i) => /^shaft[.]sections\[(\d+)\]/.exec(i.path)?.[1]).filter((n) => n !== undefined) ?? [];
    const at = `shaft.sections[${Math.max(-1, ...there.map(Number)) + 1}]`;
    this.put({ ...this.setups[this.at].set, [`${at}.from`]: "0 mm", [`${at}.to`]: `${Math.round(length / 3)} mm`, [`${at}.ei_scale`]: "1.1" });
  }
}
