// SPDX-License-Identifier: GPL-3.0-or-later
// What a workshop would measure, as numbers: each with its unit and, where it is known, its +-.
import type { Field } from "./api";
import { type Bench, benchValue } from "./bench_ask";
import { jigNumber, jigUnit } from "./bench_jig";
import { button, h } from "./dom";
import { csvText, fileName, save } from "./save";
import { type System, convert, decimalsOf, shown, unitShown } from "./units";

/** Groups as a fitter goes through them at the bench, and what each value is called there. */
export const GROUPS: [string, [string, string][]][] = [
  ["Frequency and twist", [["cpm", "frequency"], ["cpm_droop", "frequency, droop"], ["twist_deg", "twist"]]],
  ["Static bend", [["tip_deflection_mm", "tip deflection"], ["tip_slope_deg", "tip slope"], ["bend_point_m", "bend point"], ["bend_point_curvature_m", "sharpest bend"]]],
  [
    "Weight and balance",
    [
      ["shaft_mass_kg", "shaft"], ["head_mass_kg", "head"], ["club_mass_kg", "club"], ["balance_point_m", "balance point"],
      ["swing_moment_kgm", "swing moment"], ["swing_weight", "swing weight"],
      ["inertia_butt_kgm2", "inertia, butt"], ["inertia_balance_kgm2", "inertia, balance"],
    ],
  ],
  [
    "As it is cut and built",
    [
      ["playing_length_m", "playing length"], ["playing_length_in", "in inches"], ["face_length_m", "length to the face"],
      ["tip_trim_mm", "tip trim"], ["butt_trim_mm", "butt trim"], ["insertion_mm", "in the hosel"], ["mouth_diameter_mm", "at the hosel"],
      ["grip_diameter_mm", "grip"], ["loft_deg", "loft"], ["lie_deg", "lie"], ["face_deg", "face"],
    ],
  ],
  [
    "At address, held at the hands, head off the ground",
    [
      ["address_droop_mm", "droop"], ["address_lead_mm", "lead"], ["address_lie_change_deg", "lie change"],
      ["address_loft_change_deg", "loft change"], ["address_face_rotation_deg", "face rotation"],
    ],
  ],
];

export const RULES: Record<string, string> = {
  length_m: "length",
  length_local_m: "length, local rule",
  bending_difference_percent: "bends alike",
  twisting_difference_percent: "twists alike",
  head_volume_cm3: "head volume",
  head_inertia_gcm2: "head inertia",
  characteristic_time_us: "characteristic time",
};
const RULE_UNITS: [RegExp, string][] = [[/_m$/, "m"], [/_percent$/, "%"], [/_gcm2$/, "g cm2"], [/_cm3$/, "cm3"], [/_us$/, "µs"]];

/** kg m of a point of swing weight: 1.75 in oz, as the program's own scale has it. */
const POINT = 1.75 * 0.0254 * 0.028349523125;

/** "± 0.1"; "± <0.1" when it is less than what is shown; "" when the shaft's errors do not move the value. */
export function plusText(sd: number | undefined, unit: string, units: System, name = ""): string {
  if (!sd || !(sd > 0)) return "";
  const to = unitShown(unit, units, name);
  const places = Math.max(0, decimalsOf(to, name));
  const text = convert(sd, unit, to).toFixed(places);
  return Number(text) > 0 ? `± ${text}` : `± <${(10 ** -places).toFixed(places)}`;
}

interface Line {
  name: string;
  label: string;
  number: string;
  unit: string; // as shown
  plus: string;
  meaning: string;
}

export class BenchNumbers {
  readonly element = h("section", { class: "impact numbers", "aria-labelledby": "numbers-title" });
  private bench: Bench | null = null;
  private units: System = "metric";

  constructor(
    private readonly fields: Field[],
    private readonly meaningsSet: (on: boolean) => void,
  ) {}

  show(bench: Bench, units: System, meanings: boolean): void {
    this.bench = bench;
    this.units = units;
    const groups: [string, Line[]][] = GROUPS.map(([title, list]) => [title, list.flatMap(([name, label]) => this.line(name, label))]);
    groups.push(["Frequencies of the clamped club, with its head", this.modes(bench)]);
    const box = h("input", { type: "checkbox", checked: meanings });
    box.addEventListener("change", () => this.meaningsSet(box.checked));
    const leans = this.leans(bench);
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "numbers-title" }, "On the bench"),
        button("CSV", () => this.save(), { class: "small", "aria-label": "Save the bench numbers as CSV" }),
        h("label", { class: "check" }, box, "what they mean"),
      ),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "Bench numbers" },
        h("table", { class: meanings ? "with-meanings" : "" }, ...groups.map(([title, lines]) => this.group(title, lines))),
      ),
      ...(leans ? [leans] : []),
    );
  }

  /** Where the draws lean to one side: their mean is off the value by more than a third of the +-. */
  private leans(bench: Bench): HTMLElement | null {
    const { spread } = bench;
    if (!spread) return null;
    const off = GROUPS.flatMap(([, list]) => list).filter(([name]) => Math.abs(spread.mean[name] - benchValue(bench, name)) > spread.sd[name] / 3);
    const said = off.flatMap(([name, label]) => {
      const unit = this.field(name)?.unit ?? "";
      const text = (value: number) => shown(value, unit, this.units, name).number;
      if (text(spread.mean[name]) === text(benchValue(bench, name))) return [];
      return [`${label}: ${text(spread.mean[name])} is the mean of the draws; 95 % of them from ${text(spread.low[name])} to ${text(spread.high[name])} ${unitShown(unit, this.units, name)}`];
    });
    return said.length ? h("p", { class: "fine leans" }, `Where the draws lean to one side: ${said.join("; ")}.`) : null;
  }

  private field(name: string): Field | undefined {
    return this.fields.find((f) => f.name === name);
  }

  private line(name: string, label: string): Line[] {
    const { spread } = this.bench as Bench;
    if (name === "playing_length_in" && this.units === "trade") return []; // then the line before says it
    if (name === "swing_weight") {
      const points = spread ? (spread.sd.swing_moment_kgm as number) / POINT : 0;
      return [{ name, label, number: (this.bench as Bench).swing_weight, unit: "", plus: points > 0 ? `± ${points < 0.05 ? "<0.1" : points.toFixed(1)}` : "", meaning: "the swing moment as a letter and points" }];
    }
    const value = benchValue(this.bench as Bench, name);
    const field = this.field(name);
    if (typeof value !== "number") return []; // of this head it is not known
    const own = name === "playing_length_in" ? "metric" : this.units;
    const { number, unit } = shown(value, field?.unit ?? "", own, name);
    return [{ name, label, number, unit, plus: plusText(spread?.sd[name], field?.unit ?? "", own, name), meaning: field?.meaning ?? "" }];
  }

  private modes(bench: Bench): Line[] {
    return bench.frequencies_hz.map((f, i) => {
      const { number, unit } = shown(f, "Hz", this.units);
      return { name: `frequency_${i + 1}_hz`, label: String(i + 1), number, unit, plus: plusText(bench.spread?.sd.frequencies_hz?.[i], "Hz", this.units), meaning: "" };
    });
  }

  private group(title: string, lines: Line[]): HTMLElement {
    return h(
      "tbody",
      {},
      h("tr", { class: "group" }, h("th", { colspan: 3, scope: "colgroup" }, title)),
      ...lines.flatMap(({ name, label, number, unit, plus, meaning }) => [
        h(
          "tr",
          {},
          h("th", { scope: "row" }, label),
          h("td", { "data-name": name, "data-of": "impact" }, number, unit ? h("span", { class: "unit" }, ` ${unit}`) : null),
          h("td", { class: "plus", "data-plus": name }, plus),
        ),
        meaning && h("tr", { class: "meaning" }, h("td", { colspan: 3 }, meaning)),
      ]),
    );
  }

  /** A column a value; of a spread its rows below. */
  private save(): void {
    const bench = this.bench as Bench;
    const names = GROUPS.flatMap(([, list]) => list.map(([name]) => name)).filter((n) => n !== "swing_weight" && typeof benchValue(bench, n) === "number");
    const unit = (name: string) => this.field(name)?.unit ?? "";
    const to = (name: string) => (name === "playing_length_in" ? "in" : unitShown(unit(name), this.units, name));
    const rows: (string | number | null)[][] = [
      ["of", ...names.map((n) => this.field(n)?.unit ? n.replace(/_(mm|deg|kg|kgm|kgm2|m)$/, "") : n), "swing_weight", ...bench.frequencies_hz.map((_, i) => `frequency_${i + 1}`)],
      ["", ...names.map(to), "", ...bench.frequencies_hz.map(() => "Hz")],
      ["value", ...names.map((n) => convert(benchValue(bench, n), unit(n), to(n))), bench.swing_weight, ...bench.frequencies_hz],
    ];
    for (const part of ["sd", "mean", "low", "high"] as const) {
      const share = bench.spread?.[part];
      if (share) rows.push([part, ...names.map((n) => convert(share[n], unit(n), to(n))), null, ...(share.frequencies_hz ?? [])]);
    }
    save(`${fileName(bench.setup, "bench")}.csv`, "text/csv", csvText(rows));
  }
}

// ---------------------------------------------------------------- frequencies by clamp and tip mass

export class FrequencyTable {
  readonly element = h("section", { class: "bench-card", "aria-labelledby": "cpm-title" });
  private bench: Bench | null = null;
  private units: System = "metric";

  private mass(kg: number): string {
    return kg > 0 ? `${jigNumber(kg * 1e3)} g` : "as built";
  }

  show(bench: Bench, units: System): void {
    this.bench = bench;
    this.units = units;
    const { clamp_m, tip_mass_kg, cpm } = bench.frequency_table;
    const unit = jigUnit("m", units);
    const sd = bench.spread?.sd.frequency_table;
    this.element.replaceChildren(
      h("header", {}, h("h2", { id: "cpm-title" }, "Frequency by clamp and tip mass, cpm"), button("CSV", () => this.save(), { class: "small", "aria-label": "Save the table of frequencies as CSV" })),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "Frequencies by clamp and tip mass" },
        h(
          "table",
          { class: "bench-grid" },
          h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "butt in the clamp"), ...tip_mass_kg.map((m) => h("th", { scope: "col" }, this.mass(m))))),
          h(
            "tbody",
            {},
            ...clamp_m.map((clamp, i) =>
              h(
                "tr",
                {},
                h("th", { scope: "row" }, `${jigNumber(convert(clamp, "m", unit))} ${unit}`),
                ...cpm[i].map((value, j) => h("td", { "data-cpm": `${i} ${j}` }, shown(value, "cpm", units).number, sd ? h("span", { class: "plus" }, ` ${plusText(sd[i][j], "cpm", units)}`) : null)),
              ),
            ),
          ),
        ),
      ),
      h("p", { class: "fine" }, "Face direction; of the bare shaft with the mass on its tip, or of the built club."),
    );
  }

  private save(): void {
    const { setup, frequency_table: t } = this.bench as Bench;
    const unit = jigUnit("m", this.units);
    const names = t.tip_mass_kg.map((m) => (m > 0 ? `with_${jigNumber(m * 1e3)}_g` : "as_built"));
    save(
      `${fileName(setup, "frequencies")}.csv`,
      "text/csv",
      csvText([["clamp", ...names], [unit, ...names.map(() => "cpm")], ...t.clamp_m.map((c, i) => [convert(c, "m", unit), ...t.cpm[i]])]),
    );
  }
}

// ---------------------------------------------------------------- the rules

export class RulesTable {
  readonly element = h("section", { class: "bench-card", "aria-labelledby": "rules-title" });

  show(bench: Bench, units: System): void {
    const figure = (name: string, value: number | null) => {
      if (value === null) return "";
      const unit = RULE_UNITS.find(([pattern]) => pattern.test(name))?.[1] ?? "";
      const { number, unit: to } = shown(value, unit, units, name);
      return `${number} ${to}`;
    };
    this.element.replaceChildren(
      h("header", {}, h("h2", { id: "rules-title" }, "Beside the limits of the Equipment Rules")),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "Limits of the Equipment Rules" },
        h(
          "table",
          { class: "bench-grid" },
          h("thead", {}, h("tr", {}, ...["", "here", "stands", "limit"].map((t) => (t ? h("th", { scope: "col" }, t) : h("td"))))),
          h(
            "tbody",
            {},
            ...bench.rules.map((rule) =>
              h(
                "tr",
                { "data-rule": rule.name },
                h("th", { scope: "row" }, RULES[rule.name] ?? rule.name),
                h("td", {}, figure(rule.name, rule.figure)),
                h("td", { class: `stands ${rule.stands.replace(" ", "-")}` }, rule.stands),
                h("td", { class: "limit" }, rule.limit),
              ),
            ),
          ),
        ),
      ),
      h("p", { class: "fine" }, "A check, never a ruling: what conforms is decided by the rules bodies, by tests of their own. Ask them."),
    );
  }
}
