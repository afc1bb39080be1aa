// SPDX-License-Identifier: GPL-3.0-or-later
// The page around its views: the address, the choice of a setup, units, undo.
import { type Field, type ModelFile, Refusal, api } from "./api";
import { besideView } from "./beside";
import { button, h } from "./dom";
import { loadView } from "./load";
import { spreadView } from "./spread";
import { History, type State, type Step, stateRead, stateWrite, stepOf, unitsRemember } from "./state";
import { shaftView } from "./shaft";
import { swingView } from "./swing";
import { type System, unitsLoad } from "./units";
import type { Shell, View, ViewKind } from "./view";

const VIEWS: ViewKind[] = [
  swingView,
  besideView,
  shaftView,
  loadView,
  spreadView,
];
const ADDRESS_MS = 250; // browsers bound how often an address may change

class Page implements Shell {
  state: State = stateRead(location.hash);
  fields: Record<string, Field[]> = {};
  private readonly history = new History();
  private readonly root = document.getElementById("page") as HTMLElement;
  private readonly chooser = h("select", { id: "setup" });
  private readonly undoButton = button("Undo", () => this.undo());
  private readonly redoButton = button("Redo", () => this.redo());
  private readonly units = h("select", { id: "units" }, h("option", { value: "metric" }, "metric"), h("option", { value: "trade" }, "trade"));
  private readonly links = h("nav", { "aria-label": "Views" });
  private readonly copied = h("span", { class: "copied", role: "status" });
  setups: ModelFile[] = [];
  private files: ModelFile[] = [];
  private gesture = ""; // whose changes are one step
  private kind: ViewKind | null = null;
  private view: View | null = null;
  private addressTimer = 0;
  private written = location.hash; // the address that the state has had

  async start(): Promise<void> {
    this.root.replaceChildren(h("p", { class: "empty", role: "status" }, "Asking the program what there is…"));
    try {
      const [files, fields, units] = await Promise.all([api.files(), api.fields(), api.units()]);
      this.fields = fields.result;
      unitsLoad(units.result);
      this.files = files.result.files.filter((f) => f.kind === "setup");
      this.setups = this.files.filter((f) => !f.problem);
    } catch (error) {
      const why = error instanceof Refusal ? error.message : String(error);
      this.root.replaceChildren(
        h("main", { class: "empty" }, h("h1", {}, "Nothing to show yet"), h("p", { role: "alert" }, why), button("Try again", () => void this.start())),
      );
      return;
    }
    this.lay();
    this.listen();
    this.show();
  }

  private lay(): void {
    this.chooser.replaceChildren(
      ...this.files.map((f) =>
        h("option", { value: `${f.folder}/${f.file}`, disabled: Boolean(f.problem) }, f.problem ? `${f.file}: cannot be read` : f.folder === "user" ? `${f.name} (yours)` : f.name),
      ),
    );
    this.root.replaceChildren(
      h("a", { class: "skip", href: "#main" }, "To the view"),
      h(
        "header",
        { class: "top" },
        h("h1", {}, "caber"),
        this.links,
        h("span", { class: "pair" }, h("label", { for: "setup" }, "setup"), this.chooser),
        h("span", { class: "gap" }),
        this.undoButton,
        this.redoButton,
        h("span", { class: "pair" }, h("label", { for: "units" }, "units"), this.units),
        button("Copy link", () => void this.copy()),
        this.copied,
      ),
    );
    this.root.querySelector(".skip")?.addEventListener("click", (event) => {
      event.preventDefault();
      const main = document.getElementById("main");
      main?.setAttribute("tabindex", "-1");
      main?.focus();
    });
    this.root.append(h("div", { id: "view" }), h("footer", {}, "caber computes here, on this machine; nothing is sent or fetched. ", h("a", { href: "licences.txt" }, "Licences of what the page contains")));
  }

  private listen(): void {
    this.chooser.addEventListener("change", () => {
      const [folder, file] = this.chooser.value.split("/", 2);
      this.alter({ folder, file, set: {} });
    });
    this.units.addEventListener("change", () => {
      const units = this.units.value as System;
      unitsRemember(units);
      this.look({ units });
    });
    addEventListener("hashchange", () => this.opened());
    addEventListener("keydown", (event) => this.key(event));
  }

  /** Another address, by hand or by the browser's own buttons. */
  private opened(): void {
    this.written = location.hash;
    const next = stateRead(location.hash);
    if (stateWrite(next) === stateWrite(this.state)) return;
    if (JSON.stringify(stepOf(next)) !== JSON.stringify(stepOf(this.state))) this.history.keep(stepOf(this.state));
    this.state = next;
    this.show();
  }

  private key(event: KeyboardEvent): void {
    const target = event.target as HTMLElement;
    const typing = target.matches("input[type=text], textarea");
    if ((event.ctrlKey || event.metaKey) && !typing) {
      if (event.key === "z") this.undo();
      else if (event.key === "y" || event.key === "Z") this.redo();
      else return;
      event.preventDefault();
    } else if (!event.ctrlKey && !event.metaKey && !event.altKey && !target.matches("input:not([type=range]), select, button, a") && this.view?.key(event)) event.preventDefault();
  }

  // ---------------------------------------------------------------- the shell of the views

  look(change: Partial<State>): void {
    Object.assign(this.state, change);
    this.show();
  }

  alter(change: Partial<State>, gesture = ""): void {
    const goesOn = gesture !== "" && gesture === this.gesture;
    if (!goesOn) this.history.keep(stepOf(this.state));
    this.gesture = gesture;
    this.state = { ...this.state, ...change };
    this.address(!goesOn);
    this.show();
  }

  canUndo(): boolean {
    return this.history.canUndo;
  }
  undo(): void {
    this.step(this.history.undo(stepOf(this.state)));
  }
  private redo(): void {
    this.step(this.history.redo(stepOf(this.state)));
  }
  private step(step: Step | undefined): void {
    if (!step) return;
    this.gesture = "";
    this.state = { ...this.state, ...step };
    this.address(true);
    this.show();
  }

  // ---------------------------------------------------------------- address and view

  private address(isStep: boolean): void {
    clearTimeout(this.addressTimer);
    const write = () => {
      // Another address is there, and its event is still to come: that counts.
      if (location.hash !== this.written) return;
      const hash = stateWrite(this.state);
      if (hash === location.hash) return;
      if (isStep) history.pushState(null, "", hash);
      else history.replaceState(null, "", hash);
      this.written = location.hash;
    };
    if (isStep) write();
    else this.addressTimer = window.setTimeout(write, ADDRESS_MS);
  }

  private async copy(): Promise<void> {
    const link = new URL(stateWrite(this.state), location.href).href;
    try {
      await navigator.clipboard.writeText(link);
      this.copied.textContent = "copied";
    } catch {
      this.copied.textContent = "the address bar has it";
    }
    setTimeout(() => (this.copied.textContent = ""), 3000);
  }

  private show(): void {
    const place = document.getElementById("view") as HTMLElement;
    const [first] = this.setups;
    if (!first) {
      place.replaceChildren(
        h("main", { class: "empty", id: "main" }, h("h2", {}, "There is no setup"), h("p", {}, "Start the program with --models and the folder that has setups, shafts, heads, grips and players, or with --folder and one of yours, as caber-serve(1) says.")),
      );
      return;
    }
    if (!this.state.file) Object.assign(this.state, { folder: first.folder, file: first.file });
    const kind = VIEWS.find((v) => v.name === this.state.view) ?? VIEWS[0];
    this.state.view = kind.name;
    if (kind !== this.kind) {
      this.view?.close();
      this.kind = kind;
      this.view = kind.open(this);
      place.replaceChildren(this.view.element);
    }
    this.chooser.value = `${this.state.folder}/${this.state.file}`;
    this.units.value = this.state.units;
    this.undoButton.disabled = !this.history.canUndo;
    this.redoButton.disabled = !this.history.canRedo;
    const name = this.files.find((f) => f.folder === this.state.folder && f.file === this.state.file)?.name;
    document.title = `${name ?? this.state.file}, ${kind.title.toLowerCase()}: caber`;
    this.linksShow(kind);
    this.address(false);
    this.view?.update();
  }

  private linksShow(open: ViewKind): void {
    if (this.links.childElementCount === VIEWS.length && this.links.querySelector("[aria-current]")?.textContent === open.title) return;
    this.links.replaceChildren(
      ...VIEWS.map((v) => h("a", { href: `#/${v.name}`, "aria-current": v === open ? "page" : undefined, onclick: (event: Event) => (event.preventDefault(), this.look({ view: v.name })) }, v.title)),
    );
  }
}

void new Page().start();
