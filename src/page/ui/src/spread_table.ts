// SPDX-License-Identifier: GPL-3.0-or-later
// What varies: every output over the swings of one setup, or of two beside each other.
import { button, h, svg } from "./dom";
import { INK } from "./figure";
import { GROUPS, groupOf } from "./outputs";
import { csvText, fileName, save } from "./save";
import { type Found, MARKS, type Reading, type Span, type Spread, causesOf, habitName, outputName, percentText } from "./spread_data";

const [WIDE, HIGH] = [150, 11]; // px, of the small picture of a setup

/** Percentiles of one setup: a line from the first to the last, a box over the middle half, the median, and the usual
 * swing as a diamond. */
function percentilesDraw(s: Spread, i: number, x: (v: number) => string): SVGElement[] {
  const [p5, p25, p50, p75, p95] = s.percentiles.map(x);
  const y = HIGH * i + HIGH / 2;
  const { colour } = MARKS[i];
  const usual = Number(x(s.usual));
  return [
    svg("line", { x1: p5, x2: p95, y1: y, y2: y, stroke: colour, "stroke-width": 1.5, "stroke-dasharray": i ? "3 2" : "" }),
    svg("rect", { x: p25, y: y - 3.5, width: Math.max(1, Number(p75) - Number(p25)).toFixed(1), height: 7, fill: i ? "#fff" : colour, stroke: colour }),
    svg("line", { x1: p50, x2: p50, y1: y - 4.5, y2: y + 4.5, stroke: i ? colour : "#fff", "stroke-width": 2 }),
    svg("path", { d: `M${usual} ${y - 4}l3.5 4l-3.5 4l-3.5 -4z`, fill: "#fff", stroke: INK }),
  ];
}

function percentilesSvg(spreads: Spread[]): SVGElement {
  const all = spreads.flatMap((s) => [...s.percentiles, s.usual]);
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const x = (v: number) => (5 + ((v - low) / (high - low || 1)) * (WIDE - 10)).toFixed(1);
  const height = HIGH * spreads.length;
  const picture = svg("svg", { viewBox: `0 0 ${WIDE} ${height}`, width: WIDE, height, "aria-hidden": "true" });
  if (high > low) picture.append(...spreads.flatMap((s, i) => percentilesDraw(s, i, x)));
  return picture;
}

/** A column: its heading, and its cell for an output. */
interface Column {
  head: string;
  of: string; // for the checks, and for what is left out where there is little room
  cell: (name: string, reading: Reading, found: Found) => Node | string;
}

const first = (found: Found, name: string) => found.setups[0].outputs[name];

function mainCause(s: Spread): string {
  const [most] = causesOf(s);
  return most ? `${habitName(most.habit)} ${percentText(most.share, 0)} %` : "does not vary";
}

const meanText = (s: Spread, name: string, reading: Reading) => `${reading.text(name, s.mean)} ± ${reading.half(name, s.mean_low, s.mean_high)}`;
const PICTURE: Column = { head: "", of: "picture", cell: (name, _, found) => percentilesSvg(found.setups.map((c) => c.outputs[name])) };

function columnsOfOne(found: Found): Column[] {
  const plain = (of: keyof Spread): Column => ({ head: of, of, cell: (name, reading) => reading.text(name, first(found, name)[of] as number) });
  return [
    plain("usual"),
    { head: "mean", of: "mean", cell: (name, reading) => meanText(first(found, name), name, reading) },
    { head: "sd", of: "sd", cell: (name, reading) => reading.sd(name, first(found, name).sd) },
    {
      head: `sd, ${(100 * found.level).toFixed(0)} % interval`, of: "interval",
      cell: (name, reading) => [first(found, name).sd_low, first(found, name).sd_high].map((v) => reading.sd(name, v, first(found, name).sd)).join(" to "),
    },
    ...found.percentiles.map((p, i): Column => ({ head: `${p} %`, of: `p${p}`, cell: (name, reading) => reading.text(name, first(found, name).percentiles[i]) })),
    PICTURE,
    { head: "most by", of: "cause", cell: (name) => mainCause(first(found, name)) },
  ];
}

function columnsOfTwo(found: Found): Column[] {
  const contrast = (name: string) => found.contrast?.outputs[name];
  const larger = (name: string) => Math.max(...found.setups.map((c) => c.outputs[name].sd));
  const sd = (i: number): Column => ({ head: `${MARKS[i].sign} sd`, of: `sd${i}`, cell: (name, reading) => reading.sd(name, found.setups[i].outputs[name].sd, larger(name)) });
  const less = (name: string) => {
    const c = contrast(name);
    return c?.steadier ? `${MARKS[c.steadier === "first" ? 0 : 1].sign} ${c.steadier}` : c?.alike ? "alike" : "";
  };
  const ratio = (v: number | null) => (v === null ? "" : v.toFixed(3));
  return [
    { head: `${MARKS[0].sign} mean`, of: "mean", cell: (name, reading) => meanText(first(found, name), name, reading) },
    {
      head: `${MARKS[1].sign} more by`, of: "more",
      cell: (name, reading) => {
        const d = contrast(name)?.mean_difference;
        return typeof d?.value === "number" ? `${reading.text(name, d.value)} ± ${reading.half(name, d.low ?? 0, d.high ?? 0)}` : "";
      },
    },
    sd(0),
    sd(1),
    { head: "ratio", of: "ratio", cell: (name) => ratio(contrast(name)?.sd_ratio.value ?? null) },
    { head: "its interval", of: "interval", cell: (name) => [contrast(name)?.sd_ratio.low, contrast(name)?.sd_ratio.high].map((v) => ratio(v ?? null)).filter(Boolean).join(" to ") },
    { head: "spreads less", of: "less", cell: less },
    PICTURE,
  ];
}

export class SpreadTable {
  readonly element = h("section", { class: "impact varies", "aria-labelledby": "varies-title" });
  private found: Found | null = null;
  private reading: Reading | null = null;

  constructor(private readonly meaningsSet: (on: boolean) => void) {}

  show(found: Found, reading: Reading, meanings: boolean): void {
    this.found = found;
    this.reading = reading;
    const two = found.setups.length > 1;
    const columns = two ? columnsOfTwo(found) : columnsOfOne(found);
    const names = Object.keys(found.setups[0].outputs);
    const box = h("input", { type: "checkbox", checked: meanings });
    box.addEventListener("change", () => this.meaningsSet(box.checked));
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "varies-title" }, "What varies"),
        button("CSV", () => this.save(), { class: "small", "aria-label": "Save what varies as CSV" }),
        two ? button("CSV of the ratios", () => this.saveRatios(), { class: "small", "aria-label": "CSV of the ratios" }) : null,
        h("label", { class: "check" }, box, "what they mean"),
      ),
      h(
        "div",
        { class: "scroll", tabindex: 0, role: "region", "aria-label": "What varies, a table" },
        h(
          "table",
          { class: [meanings ? "with-meanings" : "", two ? "two" : "one"].join(" ") },
          h("thead", {}, h("tr", {}, h("td"), ...["unit", ...columns.map((c) => c.head)].map((t, i) => (t ? h("th", { scope: "col", "data-of": columns[i - 1]?.of ?? "unit" }, t) : h("td", { "data-of": columns[i - 1].of }))))),
          ...GROUPS.map(([title]) => [title, names.filter((n) => groupOf(n) === title)] as const)
            .filter(([, list]) => list.length)
            .map(([title, list]) => this.group(title, list, columns)),
        ),
      ),
      h("p", { class: "fine" }, `± and intervals say how well ${found.swings} swings tell a mean and an sd, to ${(100 * found.level).toFixed(0)} %; not how well the habits in the player’s file are known. In the small pictures: the line goes from 5 % to 95 % of the swings, the box is the middle half, the stroke in it the median, the diamond the usual swing; each row has a scale of its own.${two ? " Verdicts in the table count all outputs as looked at." : ""}`),
    );
  }

  private group(title: string, names: string[], columns: Column[]): HTMLElement {
    const [found, reading] = [this.found as Found, this.reading as Reading];
    const span = columns.length + 2;
    return h(
      "tbody",
      {},
      h("tr", { class: "group" }, h("th", { colspan: span, scope: "colgroup" }, title)),
      ...names.flatMap((name) => [
        h(
          "tr",
          {},
          h("th", { scope: "row" }, outputName(name)),
          h("td", { class: "unit", "data-of": "unit" }, reading.unit(name)),
          ...columns.map((c) => h("td", { "data-name": name, "data-of": c.of }, c.cell(name, reading, found))),
        ),
        h("tr", { class: "meaning" }, h("td", { colspan: span }, reading.meaning(name))),
      ]),
    );
  }

  /** A column for each output, a row for each figure of a setup, all in the output's unit. */
  private save(): void {
    const [found, reading] = [this.found as Found, this.reading as Reading];
    const names = Object.keys(found.setups[0].outputs);
    const row = (setup: string, title: string, of: (name: string) => number | null | undefined) => [
      setup,
      title,
      ...names.map((n) => {
        const v = of(n);
        return typeof v === "number" ? reading.value(n, v) : null;
      }),
    ];
    const plain = ["usual", "mean", "mean_low", "mean_high", "sd", "sd_low", "sd_high"] as const;
    const span = (c: Span | undefined, key: keyof Span) => c?.[key];
    save(
      `${fileName(...found.names, "spread")}.csv`,
      "text/csv",
      csvText([
        ["setup", "figure", ...names.map((n) => outputName(n).replaceAll(" ", "_"))],
        ["", "", ...names.map((n) => reading.unit(n))],
        ...found.setups.flatMap(({ outputs }, i) => [
          ...plain.map((key) => row(found.names[i], key, (n) => outputs[n][key])),
          ...found.percentiles.map((p, k) => row(found.names[i], `percentile_${p}`, (n) => outputs[n].percentiles[k])),
        ]),
        ...(found.contrast ? (["value", "low", "high"] as const).map((key) => row("second less first", key === "value" ? "mean" : `mean_${key}`, (n) => span(found.contrast?.outputs[n].mean_difference, key))) : []),
      ]),
    );
  }

  /** The sd of the second over that of the first. */
  private saveRatios(): void {
    const found = this.found as Found;
    const names = Object.keys(found.setups[0].outputs);
    const of = (n: string) => found.contrast?.outputs[n];
    save(
      `${fileName(...found.names, "ratios")}.csv`,
      "text/csv",
      csvText([
        ["figure", ...names.map((n) => outputName(n).replaceAll(" ", "_"))],
        ["", ...names.map(() => "")],
        ...(["value", "low", "high"] as const).map((key) => [key === "value" ? "sd_ratio" : `sd_ratio_${key}`, ...names.map((n) => of(n)?.sd_ratio[key] ?? null)]),
        ["p", ...names.map((n) => of(n)?.p ?? null)],
        ["spreads_less", ...names.map((n) => of(n)?.steadier ?? (of(n)?.alike ? "alike" : null))],
      ]),
    );
  }
}
