// SPDX-License-Identifier: GPL-3.0-or-later
// The readings behind the profile: how far each is from what the profile gives, and which are left out.
import type { ModelFile } from "./api";
import { Chart } from "./chart";
import { button, h } from "./dom";
import { type Curve, type Figure, GREEN, INK, NAVY, PLUM, RUST } from "./figure";
import { csvText, fileName, save } from "./save";
import { type Behind, type Fit, NONE, type Reading, readingPlace } from "./shaft_ask";
import { type System, convert, unitShown } from "./units";

const FEW = 8; // rows before "all" is asked for
const OUTSIDE = 2; // sds, beyond which one in twenty is
const KINDS: [string, string, string][] = [
  ["span", "three-point bends", RUST],
  ["cantilever", "cantilevers", NAVY],
  ["frequency", "frequencies", GREEN],
  ["twist", "twists", PLUM],
  ["other", "mass and balance", INK],
];
const LEFT_OUT = "#6d7278";

const kindOf = (r: Reading) => (KINDS.some(([kind]) => kind === r.kind) ? r.kind : "other");
const signed = (value: number, decimals: number) => {
  const text = Math.abs(value).toFixed(decimals);
  return /[1-9]/.test(text) ? `${value > 0 ? "+" : "−"}${text}` : text;
};
/** To four significant digits: readings are of any size. */
const four = (value: number) => (Math.abs(value) < 1e4 ? value.toPrecision(4) : value.toFixed(0)).replace("-", "−");

export interface ReadingsAct {
  choose(place: string): void;
  leave(reading: Reading, out: boolean): void;
  all(on: boolean): void;
}

/** How far off each is, by its place in the files. */
export function residualFigure({ shaft, readings }: Fit): Figure {
  const x = readings.map((_, i) => i + 1);
  const of = (pick: (r: Reading) => boolean) => readings.map((r) => (pick(r) ? r.residual : null));
  const dots: Curve[] = KINDS.map(([kind, name, colour]) => ({ name, colour, dots: true, x, y: of((r) => !r.left_out && kindOf(r) === kind) }));
  const out: Curve = { name: "left out", colour: LEFT_OUT, dots: true, x, y: of((r) => r.left_out) };
  const zero: Curve = { name: `within ${OUTSIDE} standard deviations`, colour: LEFT_OUT, dash: [2, 4], x, y: x.map(() => 0), low: x.map(() => -OUTSIDE), high: x.map(() => OUTSIDE), column: "within" };
  return {
    title: "How far the readings are off",
    of: shaft,
    x: { name: "reading, in the order of the files", unit: "", column: "reading" },
    y: { name: "off by, in its own standard deviations", unit: "" },
    curves: [zero, ...[...dots, out].filter((c) => c.y.some((v) => v !== null))],
  };
}

export class ReadingsPanel {
  readonly element = h("section", { class: "sheet readings answer", "aria-labelledby": "readings-title" });
  private readonly choice = h("select", { id: "readings-file", "aria-label": "Readings file" });
  private readonly body = h("div", { class: "body" });
  private readonly chart: Chart;
  private picked = -1;
  private behind: Behind | null = null;
  private units: System = "metric";
  private everything = false;
  private drawn = ""; // what the body was made of

  constructor(private readonly act: ReadingsAct) {
    this.chart = new Chart("How far the readings are off", { height: 150, pick: (x) => this.pick(Math.round(x) - 1), place: (x) => this.placeText(x) });
    this.choice.addEventListener("change", () => act.choose(this.choice.value));
    this.element.append(h("header", {}, h("h2", { id: "readings-title" }, "The readings behind the profile"), this.choice), this.body);
  }

  /** `fits`: they are of a shaft of this length. */
  show(behind: Behind | null, files: ModelFile[], units: System, everything: boolean, fits: boolean): void {
    const drawn = JSON.stringify([behind, files, units, everything, fits]);
    if (drawn === this.drawn) return;
    if (behind?.file.file !== this.behind?.file.file) this.picked = -1;
    Object.assign(this, { behind, units, everything, drawn });
    this.choose(files);
    const fit = behind?.fit?.result;
    if (behind?.refused) this.body.replaceChildren(h("p", { class: "refused", role: "alert" }, h("strong", {}, "No profile from these readings. "), behind.refused.message), this.taken());
    else if (!fit) this.body.replaceChildren(this.none(files));
    else {
      this.body.replaceChildren(fits ? "" : h("p", { class: "refused" }, "These are of a shaft of another length: their profile is not drawn in the charts."), this.agreement(fit), this.chart.element, this.table(fit));
      this.chart.show(residualFigure(fit), units);
      if (this.picked >= 0) this.chart.cursor(this.picked + 1);
    }
  }

  private choose(files: ModelFile[]): void {
    const chosen = this.behind ? `${this.behind.file.folder}/${this.behind.file.file}` : NONE;
    const option = (value: string, text: string, off = false) => h("option", { value, selected: value === chosen, disabled: off }, text);
    this.choice.replaceChildren(
      option(NONE, "no readings"),
      ...files.map((f) => option(`${f.folder}/${f.file}`, f.problem ? `${f.file}: cannot be read` : f.folder === "user" ? `${f.name} (yours)` : f.name, Boolean(f.problem))),
    );
    this.choice.value = chosen;
  }

  private none(files: ModelFile[]): HTMLElement {
    return files.length
      ? h("p", {}, "No readings are laid beside this shaft. Choose a file of readings above to see its profile and its band in the charts.")
      : h("p", {}, "There are no readings here. caber-files(5) says what a file of readings holds; it goes into the folder “readings”.");
  }

  /** The way back from too few readings. */
  private taken(): HTMLElement {
    return h("p", {}, button("Take all readings", () => this.act.choose(this.choice.value)));
  }

  // ---------------------------------------------------------------- how they agree

  private agreement({ used, left_out, reduced_chi_square, widened, symmetry, jigs }: Fit): HTMLElement {
    const s = symmetry;
    const told = s && s.difference_percent > 2 * s.difference_sd_percent;
    return h(
      "div",
      { class: "agreement" },
      h("p", {}, this.behind?.given ? "" : "The shaft’s file names no readings; these have its file’s name. ", `${used} readings in the fit, ${left_out} left out. Chi-square ${reduced_chi_square.toFixed(2)} a degree of freedom, about 1 where the stated errors are right; the band is widened by ${widened.toFixed(2)}.`, s ? ` The stiffer plane is ${s.difference_percent.toFixed(1)} ± ${s.difference_sd_percent.toFixed(1)} % stiffer than the softer${told ? "" : ", which scatter alone can make"}: a check and not a ruling.` : ""),
      h(
        "table",
        { class: "list" },
        h("thead", {}, h("tr", {}, ...["jig", "used", "left out", "mean", "rms"].map((t) => h("th", { scope: "col" }, t)))),
        h(
          "tbody",
          {},
          ...jigs.map((jig) =>
            h("tr", {}, h("th", { scope: "row" }, jig.file || jig.kind), h("td", {}, String(jig.used)), h("td", {}, String(jig.left_out)), h("td", {}, jig.mean === null ? "" : signed(jig.mean, 2)), h("td", {}, jig.rms === null ? "" : jig.rms.toFixed(2))),
          ),
        ),
      ),
    );
  }

  // ---------------------------------------------------------------- one reading

  private get readings(): Reading[] {
    return this.behind?.fit?.result.readings ?? [];
  }

  private placeText(x: number): string {
    const r = this.readings[Math.round(x) - 1];
    return r ? `${readingPlace(r)}` : "";
  }

  private pick(index: number): void {
    if (!this.readings[index]) return;
    this.picked = index;
    this.chart.cursor(index + 1);
    const fit = this.behind?.fit?.result;
    if (fit) this.body.lastElementChild?.replaceWith(this.table(fit));
    this.body.querySelector(".picked")?.scrollIntoView({ block: "nearest" });
  }

  /** The furthest off, those left out, the one that is pointed at; or all. */
  private rows(readings: Reading[]): number[] {
    const order = readings.map((_, i) => i);
    if (this.everything) return order;
    const far = [...order].sort((a, b) => Math.abs(readings[b].residual) - Math.abs(readings[a].residual)).slice(0, FEW);
    const rest = order.filter((i) => !far.includes(i) && (readings[i].left_out || i === this.picked));
    return [...far, ...rest].sort((a, b) => Number(b === this.picked) - Number(a === this.picked));
  }

  private table({ readings }: Fit): HTMLElement {
    const rows = this.rows(readings);
    return h(
      "div",
      { class: "off" },
      h(
        "header",
        {},
        h("h3", {}, this.everything ? "All readings" : "The furthest off"),
        button(this.everything ? "the furthest off" : `all ${readings.length}`, () => this.act.all(!this.everything), { class: "small", id: "readings-all" }),
        button("CSV", () => this.save(readings), { class: "small", "aria-label": "Save the readings as CSV" }),
      ),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "Readings" },
        h(
          "table",
          { class: "list" },
          h("thead", {}, h("tr", {}, ...["reading", "kind", "reads", "profile gives", "off by, sd"].map((t) => h("th", { scope: "col", class: t === "kind" ? t : undefined }, t)), h("td"))),
          h("tbody", {}, ...rows.map((i) => this.row(readings[i], i))),
        ),
      ),
    );
  }

  private row(r: Reading, i: number): HTMLElement {
    const unit = unitShown(r.unit, this.units);
    const value = (v: number) => `${four(convert(v, r.unit, unit))} ${unit}`;
    const place = readingPlace(r);
    return h(
      "tr",
      { class: [i === this.picked ? "picked" : "", r.left_out ? "out" : ""].join(" "), "data-reading": place },
      h("th", { scope: "row" }, place.replace(":", ", line "), r.outlier ? h("strong", {}, "look at the bench") : null),
      h("td", { class: "kind" }, r.kind),
      h("td", {}, value(r.value)),
      h("td", {}, value(r.predicted)),
      h("td", {}, signed(r.residual, 1)),
      h("td", {}, button(r.left_out ? "take back" : "leave out", () => this.act.leave(r, !r.left_out), { class: "small", id: `reading-${i}`, "aria-label": `${r.left_out ? "take back" : "leave out"} ${place}` })),
    );
  }

  private save(readings: Reading[]): void {
    save(
      `${fileName(this.behind?.fit?.result.shaft ?? "", "readings")}.csv`,
      "text/csv",
      csvText([
        ["kind", "file", "line", "unit", "value", "standard_deviation", "profile_gives", "off_by", "left_out"],
        ["", "", "", "", "its own", "its own", "its own", "standard deviations", ""],
        ...readings.map((r) => [r.kind, r.file, r.line, r.unit, r.value, r.sigma, r.predicted, r.residual, r.left_out ? "yes" : "no"]),
      ]),
    );
  }
}
