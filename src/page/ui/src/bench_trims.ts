// SPDX-License-Identifier: GPL-3.0-or-later
// What cutting the tip does: charts with a point to drag along the cut, and the table with a button a row.
import type { Inputs } from "./api";
import type { Trim, Trims } from "./bench_ask";
import { Chart } from "./chart";
import { button, h } from "./dom";
import { type Figure, GREEN, NAVY, PLUM, RUST, curveAt } from "./figure";
import { csvText, fileName, save } from "./save";
import { type System, convert, shown, unitShown } from "./units";

interface Shown {
  key: keyof Trim;
  title: string; // of its chart; without one, in the table alone
  column: string;
  unit: string;
  colour: string;
}

const SHOWN: Shown[] = [
  { key: "cpm", title: "Frequency over the cut", column: "frequency", unit: "cpm", colour: RUST },
  { key: "twist_deg", title: "Twist over the cut", column: "twist", unit: "deg", colour: NAVY },
  { key: "loft_change_deg", title: "Loft change over the cut", column: "loft change", unit: "deg", colour: GREEN },
  { key: "lead_deflection_mm", title: "Lead over the cut", column: "lead", unit: "mm", colour: PLUM },
];

/** A cut as a text that an input takes: to a thousandth of a millimetre. */
const cutText = (mm: number) => `${Number(mm.toFixed(3))} mm`;

/** What is changed so that the tip is cut by `tip` and the playing length stays. With a length wanted, the cut that
 * follows from it is left to the program. */
export function trimSet(inputs: Inputs, tip: number, both: number): Record<string, string> {
  const value = (path: string) => inputs.inputs.find((i) => i.path === path)?.value;
  const wanted = Number(value("build.length") ?? 0) > 0;
  const tipCut = { "build.tip_trim": cutText(tip) };
  const buttCut = { "build.butt_trim": cutText(both - tip) };
  if (!wanted) return { ...tipCut, ...buttCut };
  return value("build.order") === "butt-first" ? buttCut : tipCut;
}

/** All that is cut from this shaft, tip and butt, mm. */
export function trimBoth(trims: Trims): number {
  const own = trims.trims.find((t) => t.as_it_is) as Trim;
  return own.tip_trim_mm + own.butt_trim_mm;
}

export class TrimsPart {
  readonly charts = SHOWN.map((s) => new Chart(s.title, { sync: "trims" }));
  readonly element: HTMLElement;
  private readonly table = h("section", { class: "bench-card", "aria-labelledby": "trims-title" });
  private trims: Trims | null = null;
  private units: System = "metric";

  constructor(private readonly cut: (tip: number, gesture?: string) => void) {
    this.element = h("div", { class: "trims" }, h("div", { class: "strips" }, ...this.charts.map((c) => c.element)), this.table);
  }

  show(trims: Trims, units: System): void {
    this.trims = trims;
    this.units = units;
    const rows = trims.trims.filter((t) => t.short_mm === undefined);
    SHOWN.forEach((s, i) => {
      const figure = this.figure(s, rows);
      this.charts[i].show(figure, units);
      this.handle(i, figure, (rows.find((t) => t.as_it_is) as Trim).tip_trim_mm);
    });
    this.tableShow();
  }

  private figure(s: Shown, rows: Trim[]): Figure {
    const own = rows.filter((t) => t.as_it_is);
    const line = (list: Trim[]) => ({ x: list.map((t) => t.tip_trim_mm), y: list.map((t) => t[s.key] as number) });
    return {
      title: s.title,
      of: (this.trims as Trims).setup,
      x: { name: "cut from the tip", unit: "mm", column: "tip_trim" },
      y: { name: s.column, unit: s.unit },
      curves: [
        { name: s.column, colour: s.colour, ...line(rows), column: s.column.replaceAll(" ", "_") },
        { name: "as it is", colour: s.colour, dots: true, ...line(own) },
      ],
    };
  }

  private handle(i: number, figure: Figure, at: number): void {
    const [curve] = figure.curves;
    const least = curve.x[0];
    const most = curve.x[curve.x.length - 1];
    const grain = this.units === "trade" ? 0.254 : 0.1; // a hundredth of an inch, a tenth of a millimetre
    const { number, unit } = shown(at, "mm", this.units);
    this.charts[i].handles([
      {
        name: "cut from the tip", x: at, y: curveAt(curve, at) ?? (curve.y[0] as number), moves: "x",
        step: this.units === "trade" ? 1.27 : 1, least, most, text: `${number} ${unit}`, colour: curve.colour,
        move: (x, _, gesture) => {
          const tip = Math.min(most, Math.max(least, Math.round(x / grain) * grain));
          for (const k of SHOWN.keys()) this.handle(k, this.figure(SHOWN[k], (this.trims as Trims).trims.filter((t) => t.short_mm === undefined)), tip);
          this.cut(tip, gesture);
        },
      },
    ]);
  }

  // ---------------------------------------------------------------- the table

  private tableShow(): void {
    const { trims, kept } = this.trims as Trims;
    const mm = unitShown("mm", this.units);
    const unitsOf = [mm, mm, mm, "cpm", "deg", "", "deg", unitShown("N m", this.units), mm];
    const heads = ["cut from tip", "butt", "at the hosel", "frequency", "twist", "swing weight", "loft change", "handle moment", "lead", ""];
    this.table.replaceChildren(
      h("header", {}, h("h2", { id: "trims-title" }, "What cutting the tip does"), button("CSV", () => this.save(), { class: "small", "aria-label": "Save the table of trims as CSV" })),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "Table of trims" },
        h(
          "table",
          { class: "bench-grid" },
          h("thead", {}, h("tr", {}, ...heads.map((t, i) => (t ? h("th", { scope: "col" }, t, unitsOf[i] ? h("span", { class: "unit" }, ` ${unitsOf[i]}`) : null) : h("td"))))),
          h("tbody", {}, ...trims.map((t) => this.row(t))),
        ),
      ),
      h("p", { class: "fine" }, `Kept: the ${kept} (what is cut more from the tip is cut less from the butt), head, grip and player. Drag the mark on a chart, or take a row: all numbers follow. Loft change, moment and lead are of this player’s swing.`),
    );
  }

  private row(t: Trim): HTMLElement {
    const cell = (key: keyof Trim, unit: string) => {
      const value = t[key];
      return h("td", { "data-trim": key }, typeof value === "number" ? shown(value, unit, this.units, key).number : String(value));
    };
    const cuts = [
      h("th", { scope: "row", "data-trim": "tip_trim_mm" }, shown(t.tip_trim_mm, "mm", this.units, "mouth_diameter_mm").number),
      h("td", { "data-trim": "butt_trim_mm" }, shown(t.butt_trim_mm, "mm", this.units, "mouth_diameter_mm").number),
    ];
    if (t.short_mm !== undefined) {
      const { number, unit } = shown(t.short_mm, "mm", this.units);
      return h("tr", {}, ...cuts, h("td", { colspan: 8, class: "too-short" }, `the shaft is ${number} ${unit} too short for this length`));
    }
    const words = `${shown(t.tip_trim_mm, "mm", this.units, "mouth_diameter_mm").number} ${unitShown("mm", this.units)}`;
    return h(
      "tr",
      { class: t.as_it_is ? "own" : "" },
      ...cuts,
      cell("mouth_diameter_mm", "mm"), cell("cpm", "cpm"), cell("twist_deg", "deg"), cell("swing_weight", ""), cell("loft_change_deg", "deg"),
      cell("peak_handle_moment_nm", "N m"), cell("lead_deflection_mm", "mm"),
      h("td", {}, t.as_it_is ? "as it is" : button("cut so", () => this.cut(t.tip_trim_mm), { class: "small", "aria-label": `cut so: ${words} from the tip` })),
    );
  }

  private save(): void {
    const { setup, trims } = this.trims as Trims;
    const columns: [keyof Trim, string, string][] = [
      ["tip_trim_mm", "tip_trim", "mm"], ["butt_trim_mm", "butt_trim", "mm"], ["mouth_diameter_mm", "mouth_diameter", "mm"],
      ...SHOWN.map((s): [keyof Trim, string, string] => [s.key, s.column.replaceAll(" ", "_"), s.unit]),
      ["peak_handle_moment_nm", "peak_handle_moment", "N m"], ["swing_moment_kgm", "swing_moment", "kg m"], ["swing_weight", "swing_weight", ""],
    ];
    const cell = (t: Trim, [key, , unit]: [keyof Trim, string, string]) => {
      const value = t[key];
      return typeof value === "number" ? convert(value, unit, unitShown(unit, this.units)) : typeof value === "string" ? value : null;
    };
    save(
      `${fileName(setup, "trims")}.csv`,
      "text/csv",
      csvText([columns.map(([, name]) => name), columns.map(([, , unit]) => unitShown(unit, this.units)), ...trims.map((t) => columns.map((c) => cell(t, c)))]),
    );
  }
}
