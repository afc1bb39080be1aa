// SPDX-License-Identifier: GPL-3.0-or-later
// What a load does: as in the file, now, and the difference.
import type { Field, Swing } from "./api";
import { button, h } from "./dom";
import { csvText, fileName, save } from "./save";
import { type System, convert, plainName, shown, unitShown } from "./units";

const ROWS = [
  "peak_handle_moment_nm", "peak_handle_moment_time_s", "peak_load_rate_nm_s", "peak_lag_mm", "strain_energy_peak_j", "bend_point_m",
  "downswing_time_s", "head_speed_mps", "delivered_loft_deg", "face_angle_deg", "attack_angle_deg", "launch_angle_deg", "carry_m",
];
const WORDS: Record<string, string> = {
  peak_handle_moment_time_s: "when",
  strain_energy_peak_j: "most strain energy",
  downswing_time_s: "time to impact",
};

export class BeforeAndNow {
  readonly element = h("section", { class: "impact answer", "aria-labelledby": "load-answer" });
  private before: Swing | null = null;
  private now: Swing | null = null;
  private units: System = "metric";

  constructor(private readonly fields: Record<string, Field[]>) {}

  private field(name: string): Field | undefined {
    return [...(this.fields.impact ?? []), ...(this.fields.shot ?? [])].find((f) => f.name === name);
  }

  /** `before` is null where the file's own load meets no ball. */
  show(before: Swing | null, now: Swing, units: System): void {
    Object.assign(this, { before, now, units });
    const head = ["", "in the file", "now", "difference"].map((text) => (text ? h("th", { scope: "col" }, text) : h("td")));
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "load-answer" }, now.met_ball ? "What it does" : "What it does: no ball was met"),
        button("CSV", () => this.save(), { class: "small", "aria-label": "Save what it does as CSV" }),
      ),
      h("table", {}, h("thead", {}, h("tr", {}, ...head)), h("tbody", {}, ...ROWS.map((name) => this.row(name)))),
    );
  }

  private values(name: string): (number | null)[] {
    const [a, b] = [this.before, this.now].map((swing) => swing?.impact[name] ?? null);
    return [a, b, a === null || b === null ? null : b - a];
  }

  private row(name: string): HTMLElement {
    const unit = this.field(name)?.unit ?? "";
    const to = unitShown(unit, this.units, name);
    const cell = (value: number | null, of: string) =>
      h("td", { "data-name": name, "data-of": of }, value === null ? "none" : shown(value, unit, this.units, name).number);
    const [before, now, difference] = this.values(name);
    return h(
      "tr",
      { title: this.field(name)?.meaning },
      h("th", { scope: "row" }, WORDS[name] ?? plainName(name), to ? h("span", { class: "unit" }, `, ${to}`) : null),
      cell(before, "file"),
      cell(now, "impact"),
      cell(difference, "difference"),
    );
  }

  private save(): void {
    if (!this.now) return;
    const unit = (name: string) => this.field(name)?.unit ?? "";
    const to = (name: string) => unitShown(unit(name), this.units, name);
    const all = ROWS.map((name) => this.values(name).map((v) => (v === null ? null : convert(v, unit(name), to(name)))));
    save(
      `${fileName(this.now.setup, "what the load does")}.csv`,
      "text/csv",
      csvText([
        ["load", ...ROWS.map((name) => plainName(name).replaceAll(" ", "_"))],
        ["", ...ROWS.map(to)],
        ...["as in the file", "now", "difference"].map((title, k) => [title, ...all.map((v) => v[k])]),
      ]),
    );
  }
}
