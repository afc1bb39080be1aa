// SPDX-License-Identifier: GPL-3.0-or-later
// How many balls carry how far, or land how far to the side: counted in steps that are round in the reader's unit.
import { Chart } from "./chart";
import { h } from "./dom";
import { type Figure, ticks } from "./figure";
import { type Found, MARKS, type Reading, rightOf } from "./spread_data";

const STEPS = 16;

export function countsFigure(found: Found, reading: Reading, by: "carry" | "side"): Figure {
  const name = `${by}_m`;
  const values = found.landing_points.map((points, i) => (by === "carry" ? points.carry_m : points.side_m.map((v) => rightOf(found, i, v))));
  const one = reading.value(name, 1); // of the reader's unit, to 1 m
  const all = values.flat().map((v) => v * one);
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const round = ticks(low, high > low ? high : low + 1, STEPS);
  const step = round.length > 1 ? round[1] - round[0] : 1;
  const from = Math.floor(low / step) - 1; // an empty step at either end
  const count = Math.floor(high / step) - from + 2;
  const middle = Array.from({ length: count }, (_, k) => ((from + k + 0.5) * step) / one);
  const counted = values.map((list) => {
    const balls = new Array<number>(count).fill(0);
    for (const v of list) balls[Math.floor((v * one) / step) - from]++;
    return balls;
  });
  return {
    title: `Balls in steps of ${Number(step.toPrecision(6))} ${reading.unit(name)}`,
    of: found.names.join(" and "),
    x: { name: by === "carry" ? "carry, the middle of a step" : "right of the target line, the middle of a step", unit: "m", field: name, column: by },
    y: { name: "balls", unit: "" },
    curves: found.names.map((n, i) => ({ name: n, colour: MARKS[i].colour, dash: MARKS[i].dash, x: middle, y: counted[i], low: middle.map(() => 0), high: counted[i], column: i ? "balls_second" : "balls" })),
    reach: [0],
  };
}

export class SpreadCounts {
  readonly element: HTMLElement;
  private readonly by = h("select", { id: "spread-by" }, h("option", { value: "carry" }, "carry"), h("option", { value: "side" }, "side"));
  private readonly chart = new Chart("Balls in steps");

  constructor(look: (key: string, value: string) => void) {
    this.by.addEventListener("change", () => look("spread.by", this.by.value));
    this.element = h(
      "section",
      { class: "sheet counts", "aria-labelledby": "counts-title" },
      h("header", {}, h("h2", { id: "counts-title" }, "How the balls divide"), h("span", { class: "pair" }, h("label", { for: "spread-by" }, "by"), this.by)),
      this.chart.element,
    );
  }

  show(found: Found, reading: Reading, see: Record<string, string>): void {
    const by = see["spread.by"] === "side" ? "side" : "carry";
    this.by.value = by;
    this.chart.show(countsFigure(found, reading, by), reading.units);
  }
}
