// SPDX-License-Identifier: GPL-3.0-or-later
// Every output of every setup, with its difference from the first and how that stands to what swings vary by.
import type { Field } from "./api";
import { type Comparison, type Output, differenceText, spreadText, timesAt, wordsOf } from "./beside_data";
import { button, h } from "./dom";
import { type OutputRow, meaningsBox, outputGroups, outputRows, outputTable } from "./outputs";
import { csvText, fileName, save } from "./save";
import { type System, convert, numberText, unitShown } from "./units";

export interface TableSettings {
  sortSet: (sort: string) => void;
  meaningsSet: (on: boolean) => void;
}

export class BesideTable {
  readonly element = h("section", { class: "impact beside-table answer", "aria-labelledby": "beside-all" });
  private readonly sort = h("select", { id: "beside-sort" }, h("option", { value: "group" }, "by group"), h("option", { value: "change" }, "what changed most first"));
  private found: Comparison | null = null;
  private labels: string[] = [];
  private units: System = "metric";

  constructor(
    private readonly fields: Record<string, Field[]>,
    private readonly settings: TableSettings,
  ) {
    this.sort.addEventListener("change", () => settings.sortSet(this.sort.value));
  }

  show(found: Comparison, labels: string[], units: System, sort: string, meanings: boolean): void {
    [this.found, this.labels, this.units] = [found, labels, units];
    const focused = document.activeElement instanceof HTMLElement && this.element.contains(document.activeElement) ? document.activeElement : null;
    this.sort.value = sort;
    // In the order of the table of one swing, or in the command's: that which changed most first.
    const known = (this.fields.impact ?? []).concat(this.fields.shot ?? []).map((f) => f.name);
    const names = found.outputs.map((o) => o.name);
    if (sort === "group") names.sort((a, b) => known.indexOf(a) - known.indexOf(b));
    const rows = outputRows(names, this.fields);
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "beside-all" }, "Every output"),
        h("span", { class: "pair" }, h("label", { for: "beside-sort" }, "sorted"), this.sort),
        meaningsBox(meanings, this.settings.meaningsSet),
        button("CSV", () => this.save(), { class: "small", "aria-label": "Save the comparison as CSV" }),
      ),
      outputTable({
        label: "Every output of all setups",
        head: this.head(),
        columns: (found.spread.known ? 4 : 3) + 3 * (labels.length - 1),
        groups: sort === "group" ? outputGroups(rows) : [["", rows]],
        cells: (row) => this.cells(row),
        meanings,
      }),
    );
    focused?.focus();
  }

  private head(): HTMLTableRowElement[] {
    const others = this.labels.slice(1);
    const known = this.found?.spread.known;
    const column = (text: string, which?: string) => h("th", { scope: "col", class: which }, text);
    return [
      h("tr", {}, h("td"), h("td"), h("th", { scope: "colgroup", colspan: known ? 2 : 1 }, this.labels[0]), ...others.map((label) => h("th", { scope: "colgroup", colspan: 3, class: "first" }, label))),
      h("tr", {}, h("td"), column("unit"), column("value"), known ? column("sd of swings") : null, ...others.flatMap((_, k) => [column("value", "first"), column(`${k + 2} less 1`), column(known ? "beside the sd" : "of the larger", "words")])),
    ];
  }

  private cells({ name }: OutputRow): HTMLElement[] {
    const { found, units } = this;
    const o = found?.outputs.find((one) => one.name === name) as Output;
    const unit = unitShown(o.unit, units, name);
    const of = (which: string, text: string, more = "") => h("td", { "data-name": name, "data-of": which, class: more || undefined }, text);
    const value = (k: number) => {
      const v = o.values[k];
      return v === null ? "" : numberText(convert(v, o.unit, unit), unit, name);
    };
    const bare = (text: string) => (unit ? text.replace(` ${unit}`, "") : text);
    const others = this.labels.slice(1).flatMap((_, i) => {
      const k = i + 1;
      const [difference, times] = [o.differences[k], timesAt(o, k)];
      const much = found?.spread.known && times !== null && Math.abs(times) >= 0.8 ? "much" : "";
      return [
        of(`value${k + 1}`, value(k), "first"),
        of(`difference${k + 1}`, difference === null ? "" : bare(differenceText(difference, o.unit, units, name)), much),
        of(`times${k + 1}`, times === null ? (found?.pending && difference !== null ? "…" : "") : wordsOf(times, Boolean(found?.spread.known)), `words ${much}`),
      ];
    });
    const sd = found?.spread.known ? [of("sd", o.sd === null ? "" : spreadText(o.sd, o.unit, units, name))] : [];
    return [h("td", { class: "unit" }, unit), of("value1", value(0)), ...sd, ...others];
  }

  /** A row for each output of each setup, as the command's: that which changed most first. */
  private save(): void {
    if (!this.found) return;
    const { setups, outputs } = this.found;
    const rows = outputs.flatMap((o) => {
      const unit = unitShown(o.unit, this.units, o.name);
      const shown = (v: number | null) => (v === null ? null : convert(v, o.unit, unit));
      const change = (v: number | null) => (v === null ? null : convert(v, o.unit, unit) - convert(0, o.unit, unit));
      return setups.map((_, k) => [this.labels[k], o.name, unit, shown(o.values[k]), change(o.differences[k]), change(o.sd), o.times[k]]);
    });
    save(`${fileName("side by side", setups[0].setup)}.csv`, "text/csv", csvText([["setup", "output", "unit", "value", "difference", "sd", "times"], ...rows]));
  }
}
