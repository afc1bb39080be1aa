// SPDX-License-Identifier: GPL-3.0-or-later
// Why outputs vary: shares of their variance by habit as bars, and of one output each habit's share and what it would
// leave alone.
import { h, svg } from "./dom";
import { exportButtons } from "./exports";
import { GRID, INK } from "./figure";
import { csvText, fileName } from "./save";
import { type Cause, type Found, HABITS, JOINTLY, MARKS, type Reading, causesOf, habitName, outputName, percentText } from "./spread_data";

/** The main ones, in the order of a shot, as the command lists them. */
const MAIN = [
  "head_speed_mps", "attack_angle_deg", "path_deg", "delivered_loft_deg", "face_angle_deg", "struck_toe_mm", "ball_speed_mps",
  "launch_angle_deg", "backspin_rpm", "sidespin_rpm", "carry_m", "side_m",
];
const WIDTH = 760; // on its own; in the page as wide as there is room, so that its letters stay as large
const [LEAST, MOST] = [480, 900];
const [LABEL, SD, RIGHT, TOP, BAR, GAP, AXIS] = [122, 92, 14, 8, 19, 8, 40];
const LETTER = 6.1; // px of a letter of 11 px, about

/** By what the habit is of: how the load is given, how the club is turned, where the ball lies. Names in the bars tell
 * them apart; the fill only groups. */
function fillOf(habit: string): { fill: string; dash: string } {
  if (habit === JOINTLY) return { fill: "#fff", dash: "3 2" };
  const fill = ["rise", "peak", "release", "hub"].includes(habit) ? "#f0c3a4" : ["arm", "square", "direction"].includes(habit) ? "#b9cfe6" : "#bfdcc6";
  return { fill, dash: "" };
}

/** The reader's range of shares: 0 to 100 %, and as far as shares below 0 and above 100 % go. */
function rangeOf(found: Found, names: string[]): [number, number] {
  const sums = found.setups.flatMap(({ outputs }) =>
    names.map((n) => causesOf(outputs[n]).reduce(([below, above], { share }) => (share < 0 ? [below + share, above] : [below, above + share]), [0, 0])),
  );
  return [Math.min(0, ...sums.map((s) => s[0])), Math.max(1, ...sums.map((s) => s[1]))];
}

/** Segments side by side from 0: the largest first to the right, those below 0 to the left. */
function barDraw(causes: Cause[], of: Record<string, string | number>, y: number, x: (share: number) => number): SVGElement[] {
  let [up, down] = [0, 0];
  return causes
    .filter((c) => Math.abs(c.share) >= 0.0005)
    .flatMap(({ habit, share }) => {
      const from = share < 0 ? down + share : up;
      if (share < 0) down += share;
      else up += share;
      const [left, wide] = [x(from), x(from + Math.abs(share)) - x(from)];
      const { fill, dash } = fillOf(habit);
      const long = `${habitName(habit)} ${percentText(share, 0)}`;
      const text = [long, percentText(share, 0)].find((t) => t.length * LETTER + 5 < wide);
      return [
        svg(
          "rect",
          { class: "part", ...of, "data-habit": habit, "data-sign": Math.sign(share), x: left.toFixed(2), y, width: Math.max(0.5, wide).toFixed(2), height: BAR, fill, stroke: INK, "stroke-width": 0.7, "stroke-dasharray": dash },
          svg("title", {}, `${habitName(habit)} ${percentText(share)} %`),
        ),
        ...(text ? [svg("text", { x: (left + wide / 2).toFixed(1), y: y + BAR / 2 + 4, "font-size": 11, fill: INK, "text-anchor": "middle" }, text)] : []),
      ];
    });
}

export function whyTitle(found: Found): string {
  return `${found.names.join(" and ")}: shares of the variance by habit`;
}

export function whySvg(found: Found, reading: Reading, names: string[], heading = true, width = WIDTH): SVGSVGElement {
  const top = TOP + (heading ? 22 : 0);
  const [low, high] = rangeOf(found, names);
  const x = (share: number) => LABEL + SD + ((share - low) / (high - low)) * (width - LABEL - SD - RIGHT);
  const each = BAR * found.setups.length + GAP;
  const height = top + each * names.length + AXIS;
  const bottom = height - AXIS;
  const text = (words: string, px: number, py: number, more: Record<string, string | number> = {}) => svg("text", { x: px.toFixed(1), y: py, "font-size": 12, fill: INK, ...more }, words);
  const root = svg("svg", {
    xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${width} ${height}`, width, height, role: "img",
    "aria-label": `${whyTitle(found)}. ${names.map((n) => `${outputName(n)}: ${causesOf(found.setups[0].outputs[n]).slice(0, 3).map((c) => `${habitName(c.habit)} ${percentText(c.share, 0)} %`).join(", ")}`).join("; ")}`,
    "font-family": "system-ui, sans-serif",
  }) as SVGSVGElement;
  root.append(svg("rect", { width, height, fill: "#fff" }));
  if (heading) root.append(text(whyTitle(found), 8, 19, { "font-size": 14, "font-weight": 600 }));
  for (let share = Math.ceil(low * 5 - 1e-9) / 5; share <= high + 1e-9; share += 0.2)
    root.append(
      svg("line", { x1: x(share), x2: x(share), y1: top - 4, y2: bottom, stroke: Math.abs(share) < 1e-9 ? INK : GRID }),
      text(percentText(share, 0), x(share), bottom + 14, { "text-anchor": "middle" }),
    );
  root.append(text("share of the variance, %", (x(0) + x(1)) / 2, height - 8, { "text-anchor": "middle" }));
  names.forEach((name, k) => {
    const y = top + each * k;
    const larger = Math.max(...found.setups.map(({ outputs }) => outputs[name].sd));
    root.append(text(outputName(name), 8, y + (each - GAP) / 2 + 4));
    found.setups.forEach(({ outputs }, i) => {
      const at = y + BAR * i;
      const sign = found.setups.length > 1 ? `${MARKS[i].sign} ` : "";
      root.append(text(`${sign}${reading.sd(name, outputs[name].sd, larger)} ${reading.unit(name)}`, LABEL + SD - 8, at + BAR / 2 + 4, { "text-anchor": "end", "font-size": 11 }), ...barDraw(causesOf(outputs[name]), { "data-name": name, "data-club": i }, at, x));
      if (!causesOf(outputs[name]).length) root.append(text("does not vary", x(0) + 6, at + BAR / 2 + 4, { "font-size": 11 }));
    });
  });
  return root;
}

/** A row for each output of a setup; shares, then what each habit would leave alone, in per cent of the variance. */
export function whyCsv(found: Found): string {
  const causes = [...HABITS.map(habitName), JOINTLY].map((n) => n.replaceAll(" ", "_"));
  const alone = HABITS.map((habit) => `alone_${habitName(habit).replaceAll(" ", "_")}`);
  return csvText([
    ["setup", "output", ...causes, ...alone],
    ["", "", ...causes.map(() => "%"), ...alone.map(() => "%")],
    ...found.setups.flatMap(({ outputs }, i) =>
      Object.entries(outputs).map(([name, s]) => [found.names[i], outputName(name), ...HABITS.map((k) => 100 * s.share[k]), 100 * s.rest, ...HABITS.map((k) => 100 * s.own[k])]),
    ),
  ]);
}

export class SpreadWhy {
  readonly element: HTMLElement; // shares as bars
  readonly closer: HTMLElement; // of one output
  private readonly place = h("div", { class: "picture" });
  private readonly rows = h("select", { id: "spread-rows" }, ...[["main", "the main ones"], ["flight", "carry and side"], ["all", "all outputs"]].map(([value, text]) => h("option", { value }, text)));
  private readonly one = h("select", { id: "spread-of" });
  private readonly detail = h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "One output’s shares" });
  private found: Found | null = null;
  private reading: Reading | null = null;
  private width = 0; // px, of the place when it was drawn

  constructor(look: (key: string, value: string) => void) {
    new ResizeObserver(() => this.place.clientWidth !== this.width && this.draw()).observe(this.place);
    this.rows.addEventListener("change", () => look("spread.rows", this.rows.value));
    this.one.addEventListener("change", () => look("spread.of", this.one.value));
    const exports = exportButtons({
      title: "Why it varies",
      file: () => fileName(...(this.found?.names ?? []), "why"),
      svg: () => whySvg(this.found as Found, this.reading as Reading, this.names),
      csv: () => whyCsv(this.found as Found),
    });
    const fine = (text: string) => h("p", { class: "fine" }, text);
    this.element = h(
      "section",
      { class: "sheet why", "aria-labelledby": "why-title" },
      h("header", {}, h("h2", { id: "why-title" }, "Why it varies"), h("span", { class: "pair" }, h("label", { for: "spread-rows" }, "of"), this.rows), h("span", { class: "gap" }), exports),
      this.place,
      fine("A share is the part of the variance (the sd squared) that goes with a habit. Shares and “jointly”, which is what habits do only with one another, add up to 100 %. A habit that goes together with others can take some of their spread away: its share is then below 0, and drawn to the left."),
    );
    this.closer = h(
      "section",
      { class: "sheet why", "aria-labelledby": "closer-title" },
      h("header", {}, h("h2", { id: "closer-title" }, "One output closer"), h("span", { class: "pair" }, h("label", { for: "spread-of" }, "of"), this.one)),
      this.detail,
      fine("“Alone” is the sd that would be left if that habit alone varied as it does; these do not add up. To see what a steadier habit would do, change it above."),
    );
  }

  private get names(): string[] {
    const all = Object.keys(this.found?.setups[0].outputs ?? {});
    return this.rows.value === "all" ? all : (this.rows.value === "flight" ? ["carry_m", "side_m"] : MAIN).filter((n) => all.includes(n));
  }

  show(found: Found, reading: Reading, see: Record<string, string>): void {
    this.found = found;
    this.reading = reading;
    const all = Object.keys(found.setups[0].outputs);
    this.rows.value = ["flight", "all"].includes(see["spread.rows"]) ? see["spread.rows"] : "main";
    if (this.one.childElementCount !== all.length) this.one.replaceChildren(...all.map((n) => h("option", { value: n }, outputName(n))));
    this.one.value = all.includes(see["spread.of"]) ? see["spread.of"] : "carry_m";
    this.draw();
    this.detail.replaceChildren(this.closerTable(this.one.value));
  }

  private draw(): void {
    if (!this.found || !this.reading) return;
    const width = Math.min(MOST, Math.max(LEAST, this.place.clientWidth));
    this.place.replaceChildren(whySvg(this.found, this.reading, this.names, false, width));
    this.width = this.place.clientWidth;
  }

  /** Of one output: a row for each habit, the largest share first. */
  private closerTable(name: string): HTMLElement {
    const [found, reading] = [this.found as Found, this.reading as Reading];
    const two = found.setups.length > 1;
    const spreads = found.setups.map((c) => c.outputs[name]);
    const larger = Math.max(...spreads.map((s) => s.sd));
    const unit = reading.unit(name);
    const sign = (i: number) => (two ? `${MARKS[i].sign} ` : "");
    const habitSd = (habit: string) => [...new Set(found.setups.map((c) => `${Number(c.habits[habit].sd.toPrecision(4))} ${c.habits[habit].unit}`))].join(" / ");
    const share = (habit: string, i: number) => (habit === JOINTLY ? spreads[i].rest : spreads[i].share[habit]);
    const row = ({ habit }: Cause) =>
      h(
        "tr",
        { "data-habit": habit },
        h("th", { scope: "row" }, h("strong", {}, habitName(habit)), h("span", { class: "about" }, habit === JOINTLY ? "what habits do only with one another" : found.setups[0].habits[habit].meaning)),
        h("td", {}, habit === JOINTLY ? "" : habitSd(habit)),
        ...spreads.map((_, i) => h("td", { "data-of": `share${i}` }, `${percentText(share(habit, i))} %`)),
        ...spreads.map((s, i) => h("td", { "data-of": `own${i}` }, habit === JOINTLY ? "" : `${reading.sd(name, s.sd * Math.sqrt(s.own[habit]), larger)} ${unit}`)),
      );
    const causes = causesOf(spreads[0]).length ? causesOf(spreads[0]) : causesOf(spreads[spreads.length - 1]);
    if (!causes.length) return h("p", { class: "fine" }, `The ${outputName(name)} does not vary.`);
    return h(
      "table",
      { class: "closer" },
      h("caption", {}, `The ${outputName(name)} has an sd of ${spreads.map((s, i) => `${sign(i)}${reading.sd(name, s.sd, larger)} ${unit}`.trim()).join(" and ")}.`),
      h("thead", {}, h("tr", {}, ...["habit", "varies by", ...spreads.map((_, i) => `${sign(i)}share`), ...spreads.map((_, i) => `${sign(i)}alone`)].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, ...causes.map(row)),
    );
  }
}
