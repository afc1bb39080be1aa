// SPDX-License-Identifier: GPL-3.0-or-later
// What a change does: the few numbers that are asked for first, before and now.
import type { Field } from "./api";
import { button, h } from "./dom";
import { fieldsOf } from "./outputs";
import { csvText, fileName, save } from "./save";
import { type System, convert, plainName, shown, unitShown } from "./units";

export interface ChangeWords {
  title: string; // "What the sections do"
  what: string; // heads the CSV's first column: "shaft"
  before: string; // heads the numbers before: "in the file"
  fine?: string; // below
  names?: Record<string, string>; // of rows, where their own says less
  /** Rows behind which another kind of number begins. */
  breaks?: string[];
}

export interface Change {
  name: string; // of the program's value
  before: number | null; // null: there is none, or it is still to come
  now: number | null;
}

export class ChangeTable {
  readonly element: HTMLElement;
  private readonly heading = h("h2", { id: "change-title" });
  private readonly body = h("tbody");
  private readonly what = h("p", { class: "what", role: "status" });
  private readonly known: Map<string, Field>;
  private rows: Change[] = [];
  private of = "";
  private units: System = "metric";

  constructor(
    fields: Record<string, Field[]>,
    private readonly words: ChangeWords,
  ) {
    this.known = fieldsOf(fields, ["impact", "shot", "bench"]);
    const head = ["", words.before, "now", "difference"].map((t) => (t ? h("th", { scope: "col" }, t) : h("td")));
    this.element = h(
      "section",
      { class: "impact change answer", "aria-labelledby": "change-title" },
      h("header", {}, this.heading, button("CSV", () => this.save(), { class: "small", "aria-label": `Save ${words.title.toLowerCase()} as CSV` })),
      this.what,
      h("table", {}, h("thead", {}, h("tr", {}, ...head)), this.body),
      words.fine ? h("p", { class: "fine" }, words.fine) : null,
    );
  }

  show(of: string, metBall: boolean, rows: Change[], units: System): void {
    Object.assign(this, { of, rows, units });
    this.heading.textContent = metBall ? this.words.title : `${this.words.title}: no ball was met`;
    this.body.replaceChildren(...rows.map((row) => this.line(row)));
  }

  /** What has been done, in words. */
  say(text: string): void {
    this.what.textContent = text;
  }

  private unit(name: string): string {
    return this.known.get(name)?.unit ?? "";
  }
  /** Changes of a mass are grams, whatever it is. */
  private shown({ name }: Change, value: number): { number: string; unit: string } {
    const unit = this.unit(name);
    return unit === "kg" ? shown(convert(value, "kg", "g"), "g", this.units, name) : shown(value, unit, this.units, name);
  }

  private line(row: Change): HTMLElement {
    const cell = (of: string, value: number | null) => {
      if (value === null) return h("td", { "data-name": row.name, "data-of": of }, of === "before" ? "none" : "…");
      const { number, unit } = this.shown(row, value);
      const sign = of === "difference" && value > 0 && /[1-9]/.test(number) ? "+" : "";
      return h("td", { "data-name": row.name, "data-of": of }, `${sign}${number}`, unit ? h("span", { class: "unit" }, ` ${unit}`) : null);
    };
    const difference = row.before === null || row.now === null ? null : row.now - row.before;
    return h(
      "tr",
      { class: this.words.breaks?.includes(row.name) ? "break" : undefined },
      h("th", { scope: "row", title: this.known.get(row.name)?.meaning }, this.words.names?.[row.name] ?? plainName(row.name)),
      cell("before", row.before),
      cell("now", row.now),
      cell("difference", difference),
    );
  }

  private save(): void {
    const unit = ({ name }: Change) => unitShown(this.unit(name), this.units, name);
    const line = (title: string, of: (row: Change) => number | null) => [
      title,
      ...this.rows.map((row) => {
        const value = of(row);
        return value === null ? null : convert(value, this.unit(row.name), unit(row));
      }),
    ];
    save(
      `${fileName(this.of, this.words.title)}.csv`,
      "text/csv",
      csvText([
        [this.words.what, ...this.rows.map(({ name }) => plainName(name).replaceAll(" ", "_"))],
        ["", ...this.rows.map(unit)],
        line("before", (row) => row.before),
        line("now", (row) => row.now),
        line("difference", ({ before, now }) => (before === null || now === null ? null : now - before)),
      ]),
    );
  }
}
