// SPDX-License-Identifier: GPL-3.0-or-later
// The impact table: the club, the straight club beside it, and the difference.
import type { Field, Swing, Values } from "./api";
import { button, h } from "./dom";
import { csvText, fileName, save } from "./save";
import { type System, convert, plainName, shown, unitShown } from "./units";

export const GROUPS: [string, RegExp][] = [
  ["Delivery", /^(head_speed|shaft_speed|downswing|delivered|face_angle|closure|attack|path|strike|handle_lean|hands|arm)/],
  ["The shaft at impact", /^(lead|droop|tip_twist|loft|face_|lie)/],
  ["How the handle was loaded", /^(peak|grip)/],
  ["Where the shaft held its energy", /^(strain|energy_share|bend_point)/],
  ["The ball as it leaves", /^(struck|ball|smash|launch|backspin|sidespin|spin)/],
  ["Its flight", /^(carry|side|apex|flight|descent)/],
  ["The computation", /./],
];

interface Row {
  name: string;
  unit: string;
  meaning: string;
}

export function groupOf(name: string): string {
  return (GROUPS.find(([, pattern]) => pattern.test(name)) as [string, RegExp])[0];
}

export class ImpactTable {
  readonly element = h("section", { class: "impact", "aria-labelledby": "impact-title" });
  private swing: Swing | null = null;
  private units: System = "metric";

  constructor(
    private readonly fields: Record<string, Field[]>,
    private readonly meaningsSet: (on: boolean) => void,
  ) {}

  private rows(values: Values): Row[] {
    const known = new Map([...(this.fields.impact ?? []), ...(this.fields.shot ?? [])].map((f) => [f.name, f]));
    return Object.keys(values).map((name) => {
      const field = known.get(name);
      return { name, unit: field?.unit ?? "", meaning: field?.meaning ?? "" };
    });
  }

  show(swing: Swing, units: System, meanings: boolean): void {
    this.swing = swing;
    this.units = units;
    const rows = this.rows(swing.impact);
    const groups = GROUPS.map(([title]): [string, Row[]] => [title, rows.filter((r) => groupOf(r.name) === title)]);
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "impact-title" }, swing.met_ball ? "At impact" : "At the end: no ball was met"),
        button("CSV", () => this.save(), { class: "small", "aria-label": "Save the impact table as CSV" }),
        this.meanings(meanings),
      ),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "Impact table" },
        h(
          "table",
          { class: meanings ? "with-meanings" : "" },
          h(
            "thead",
            {},
            h("tr", {}, ...["", "the club", "straight club", "difference"].map((t) => (t ? h("th", { scope: "col" }, t) : h("td")))),
          ),
          ...groups.filter(([, list]) => list.length).map(([title, list]) => this.group(title, list)),
        ),
      ),
    );
  }

  private meanings(on: boolean): HTMLElement {
    const box = h("input", { type: "checkbox", checked: on });
    box.addEventListener("change", () => this.meaningsSet(box.checked));
    return h("label", { class: "check" }, box, "what they mean");
  }

  private group(title: string, rows: Row[]): HTMLElement {
    return h(
      "tbody",
      {},
      h("tr", { class: "group" }, h("th", { colspan: 4, scope: "colgroup" }, title)),
      ...rows.flatMap((row) => [
        this.line(row),
        h("tr", { class: "meaning" }, h("td", { colspan: 4 }, row.meaning)),
      ]),
    );
  }

  private cell(row: Row, value: number | null | undefined, which: string): HTMLElement {
    if (value === null || value === undefined) return h("td");
    const { number, unit } = shown(value, row.unit, this.units, row.name);
    return h("td", { "data-name": row.name, "data-of": which }, number, unit ? h("span", { class: "unit" }, ` ${unit}`) : null);
  }

  private line(row: Row): HTMLElement {
    const { impact, straight } = this.swing as Swing;
    const [a, b] = [impact[row.name], straight[row.name]];
    const difference = typeof a === "number" && typeof b === "number" ? a - b : null;
    return h(
      "tr",
      {},
      h("th", { scope: "row" }, plainName(row.name)),
      this.cell(row, a, "impact"),
      this.cell(row, b, "straight"),
      this.cell(row, difference, "difference"),
    );
  }

  private save(): void {
    if (!this.swing) return;
    const { impact, straight, setup } = this.swing;
    const rows = this.rows(impact);
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
