// SPDX-License-Identifier: GPL-3.0-or-later
// The impact table: the club, the straight club beside it, and the difference.
import type { Field, Swing, Values } from "./api";
import { button, h } from "./dom";
import { type OutputRow as Row, meaningsBox, outputGroups, outputRows, outputTable } from "./outputs";
import { csvText, fileName, save } from "./save";
import { type System, convert, plainName, shown, unitShown } from "./units";

export class ImpactTable {
  readonly element = h("section", { class: "impact", "aria-labelledby": "impact-title" });
  private swing: Swing | null = null;
  private units: System = "metric";

  constructor(
    private readonly fields: Record<string, Field[]>,
    private readonly meaningsSet: (on: boolean) => void,
  ) {}

  show(swing: Swing, units: System, meanings: boolean): void {
    this.swing = swing;
    this.units = units;
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "impact-title" }, swing.met_ball ? "At impact" : "At the end: no ball was met"),
        button("CSV", () => this.save(), { class: "small", "aria-label": "Save the impact table as CSV" }),
        meaningsBox(meanings, this.meaningsSet),
      ),
      outputTable({
        label: "Impact table",
        head: [h("tr", {}, ...["", "the club", "straight club", "difference"].map((t) => (t ? h("th", { scope: "col" }, t) : h("td"))))],
        columns: 4,
        groups: outputGroups(outputRows(Object.keys(swing.impact), this.fields)),
        cells: (row) => this.cells(row),
        meanings,
      }),
    );
  }

  private cell(row: Row, value: number | null | undefined, which: string): HTMLElement {
    if (value === null || value === undefined) return h("td");
    const { number, unit } = shown(value, row.unit, this.units, row.name);
    return h("td", { "data-name": row.name, "data-of": which }, number, unit ? h("span", { class: "unit" }, ` ${unit}`) : null);
  }

  private cells(row: Row): HTMLElement[] {
    const { impact, straight } = this.swing as Swing;
    const [a, b] = [impact[row.name], straight[row.name]];
    const difference = typeof a === "number" && typeof b === "number" ? a - b : null;
    return [this.cell(row, a, "impact"), this.cell(row, b, "straight"), this.cell(row, difference, "difference")];
  }

  private save(): void {
    if (!this.swing) return;
    const { impact, straight, setup } = this.swing;
    const rows = outputRows(Object.keys(impact), this.fields);
    const unit = (r: Row) => unitShown(r.unit, this.units, r.name);
    const row = (title: string, values: Values) => [
      title,
      ...rows.map((r) => (typeof values[r.name] === "number" ? convert(values[r.name] as number, r.unit, unit(r)) : null)),
    ];
    save(
      `${fileName(setup, "impact")}.csv`,
      "text/csv",
      csvText([
        ["club", ...rows.map((r) => plainName(r.name).replaceAll(" ", "_"))],
        ["", ...rows.map(unit)],
        row("bent", impact),
        row("straight", straight),
      ]),
    );
  }
}
