// SPDX-License-Identifier: GPL-3.0-or-later
// What the sections do: the few numbers that are asked for first, before and now.
import type { Field } from "./api";
import { button, h } from "./dom";
import { csvText, fileName, save } from "./save";
import type { Answered, Case } from "./shaft_ask";
import { type System, convert, plainName, shown, unitShown } from "./units";

const SWING = [
  "delivered_loft_deg", "loft_change_deg", "launch_angle_deg", "backspin_rpm", "carry_m", "head_speed_mps", "face_angle_deg",
  "closure_rate_deg_s", "lead_deflection_mm", "droop_mm", "peak_lag_mm", "peak_handle_moment_nm",
];
const BENCH = ["cpm", "shaft_mass_kg"];
const WORDS: Record<string, string> = { delivered_loft_deg: "dynamic loft", shaft_mass_kg: "shaft, as cut", lead_deflection_mm: "lead" };

interface Row {
  name: string;
  unit: string;
  meaning: string;
  before: number | null;
  now: number | null; // null while it is still to come
}

export class ShaftAnswerTable {
  readonly element = h("section", { class: "impact effect answer", "aria-labelledby": "effect-title" });
  private readonly body = h("tbody");
  private readonly what = h("p", { class: "what", role: "status" });
  private rows: Row[] = [];
  private setup = "";
  private units: System = "metric";

  constructor(private readonly fields: Record<string, Field[]>) {
    const head = ["", "before", "now", "difference"].map((t) => (t ? h("th", { scope: "col" }, t) : h("td")));
    this.element.append(
      h("header", {}, h("h2", { id: "effect-title" }, "What the sections do"), button("CSV", () => this.save(), { class: "small", "aria-label": "Save what the sections do as CSV" })),
      this.what,
      h("table", {}, h("thead", {}, h("tr", {}, ...head)), this.body),
      h("p", { class: "fine" }, "Before: the same club and player, with the shaft as in its file."),
    );
  }

  private rowsOf(before: Case, now: Case): Row[] {
    const known = new Map([...(this.fields.impact ?? []), ...(this.fields.shot ?? []), ...(this.fields.bench ?? [])].map((f) => [f.name, f]));
    const number = (value: unknown) => (typeof value === "number" ? value : null);
    const row = (name: string, a: unknown, b: unknown): Row => ({ name, unit: known.get(name)?.unit ?? "", meaning: known.get(name)?.meaning ?? "", before: number(a), now: number(b) });
    return [
      ...SWING.map((name) => row(name, before.swing.result.impact[name], now.swing.result.impact[name])),
      ...BENCH.map((name) => row(name, before.bench?.[name], now.bench?.[name])),
    ].filter((r) => r.before !== null || r.now !== null);
  }

  show({ before, now }: Answered, units: System): void {
    this.setup = now.swing.result.setup;
    this.units = units;
    this.rows = this.rowsOf(before, now);
    this.body.replaceChildren(...this.rows.map((row) => this.line(row)));
  }

  /** What has been done, said once a gesture is over. */
  say(text: string, missed: boolean): void {
    this.what.textContent = missed ? `${text}. The ball is not met.` : `${text}.`;
  }

  private line(row: Row): HTMLElement {
    const cell = (of: string, value: number | null, sign = "") => {
      if (value === null) return h("td", { "data-name": row.name, "data-of": of }, "…");
      const { number, unit } = this.shown(row, value);
      return h("td", { "data-name": row.name, "data-of": of }, `${sign}${number}`, unit ? h("span", { class: "unit" }, ` ${unit}`) : null);
    };
    const difference = row.before === null || row.now === null ? null : row.now - row.before;
    return h(
      "tr",
      {},
      h("th", { scope: "row", title: row.meaning }, WORDS[row.name] ?? plainName(row.name)),
      cell("before", row.before),
      cell("now", row.now),
      cell("difference", difference, difference !== null && /[1-9]/.test(this.shown(row, difference).number) && difference > 0 ? "+" : ""),
    );
  }

  private shown(row: Row, value: number): { number: string; unit: string } {
    return row.unit === "kg" ? shown(convert(value, "kg", "g"), "g", this.units, row.name) : shown(value, row.unit, this.units, row.name);
  }

  private save(): void {
    const unit = (row: Row) => unitShown(row.unit, this.units, row.name);
    const value = (row: Row, v: number | null) => (v === null ? null : convert(v, row.unit, unit(row)));
    save(
      `${fileName(this.setup, "sections")}.csv`,
      "text/csv",
      csvText([
        ["shaft", ...this.rows.map((r) => r.name.replace(/_(mps|mm|deg_s|deg|nm|rpm|m|kg)$/, ""))],
        ["", ...this.rows.map(unit)],
        ["before", ...this.rows.map((r) => value(r, r.before))],
        ["now", ...this.rows.map((r) => value(r, r.now))],
      ]),
    );
  }
}
