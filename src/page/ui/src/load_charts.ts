// SPDX-License-Identifier: GPL-3.0-or-later
// The load through time: the program with its handles, and the moment that the shaft then puts on the handle.
import type { Series } from "./api";
import { Chart } from "./chart";
import { h } from "./dom";
import { type Curve, type Figure, GREEN, NAVY, PLUM, RUST, curveAt } from "./figure";
import { type Change, loadHandles } from "./load_handles";
import type { Drive, Joint, Load } from "./load_program";
import { type System, shown } from "./units";

/** All that is drawn; series are null where there is no swing. */
export interface Drawn {
  now: Load;
  file: Load;
  series: Series | null;
  fileSeries: Series | null;
}

const BEYOND = 1.12; // the chart ends behind what there is of the program, and of the swing
const LEAST_END = 0.1; // s
const DASH = [7, 4];

const JOINTS: Record<Joint, { torque: string; motion: string; who: string; column: string }> = {
  grip: { torque: "Couple of the hands", motion: "Cock of the wrists", who: "The wrists", column: "grip_couple_nm" },
  hub: { torque: "Torque of the shoulders", motion: "Arm angle", who: "The arms", column: "hub_torque_nm" },
  roll: { torque: "Torque of roll", motion: "Roll of the handle", who: "The roll", column: "roll_torque_nm" },
};

const timeOf = (series: Series) => series.columns.time_s as number[];

/** What a joint's drive leaves to be dragged, in words. */
export function driveWords(joint: Joint, load: Load, units: System): string {
  const { who } = JOINTS[joint];
  const angle = (name: string) => Object.values(shown(load.number(name), "deg", units)).join(" ");
  const words: Record<Drive, string> = {
    program:
      joint === "grip"
        ? "Drag a point, or take it with Tab and move it with the arrow keys (Shift: ten times as far)."
        : "The program is that of arms at rest; the torque falls as the arms speed up, and what it was is drawn beside it.",
    table: `A table of ${load.rows(joint)} rows in the player’s file: it is drawn as it is, and there is nothing in it to drag.`,
    motion: `${who} follow${joint === "roll" ? "s" : ""} a measured motion, a table of ${load.rows(joint)} rows in the player’s file: it is drawn as it is, and there is nothing in it to drag.`,
    gear: `Geared to the club’s angle, not to time, so there is nothing to drag: ${angle("roll.top")} at the top, square at a club angle of ${angle("roll.square")}, and closing ${load.number("roll.closing")} deg a degree there. Change these as numbers below.`,
    locked: `${who} ${joint === "roll" ? "is" : "are"} locked: there is no load to drag.`,
    free: "No torque: the handle turns as the club makes it.",
  };
  return words[load.drive(joint)];
}

export class LoadCharts {
  readonly main: HTMLElement;
  readonly rest: HTMLElement;
  private readonly charts: Record<Joint | "moment", Chart>;
  private readonly words: Record<Joint, HTMLElement>;
  private end = 0;
  private stopped = false;
  /** Under a hand: the time that is shown stays. */
  held = false;

  constructor(
    pick: (t: number) => void,
    private readonly change: Change,
  ) {
    const settings = { pick, sync: "load", place: (t: number) => `at ${t.toFixed(4)} s` };
    const words = () => h("p", { class: "fine" });
    this.words = { grip: words(), hub: words(), roll: words() };
    this.charts = {
      grip: new Chart("Load of the hands", { ...settings, height: 250 }),
      moment: new Chart("Moment at the handle", { ...settings, height: 190 }),
      hub: new Chart("Load of the shoulders", { ...settings, height: 190 }),
      roll: new Chart("Roll of the handle", { ...settings, height: 190 }),
    };
    for (const joint of ["grip", "hub", "roll"] as Joint[]) this.charts[joint].element.append(this.words[joint]);
    this.main = h("div", { class: "main-chart" }, this.charts.grip.element);
    this.rest = h("div", { class: "more-charts" }, this.charts.moment.element, h("div", { class: "strips" }, this.charts.hub.element, this.charts.roll.element));
  }

  show(drawn: Drawn, units: System): void {
    if (!this.held) {
      this.end = this.endOf(drawn);
      this.stopped = this.isStopped(drawn); // another curve makes the chart anew, which a hand would lose
    }
    const figures = { grip: this.joint("grip", drawn), hub: this.joint("hub", drawn), roll: this.joint("roll", drawn), moment: this.moment(drawn) };
    const impact = drawn.series?.met_ball ? timeOf(drawn.series).at(-1) : undefined;
    for (const [name, figure] of Object.entries(figures) as [Joint | "moment", Figure][]) {
      figure.span = [0, this.end];
      figure.marks = impact === undefined ? [] : [{ x: impact, name: "impact" }];
      this.charts[name].show(figure, units);
      if (name === "moment") continue;
      const at = (t: number) => curveAt(figure.curves[0], t) ?? 0;
      this.charts[name].handles(loadHandles(name, { now: drawn.now, end: this.end, units, at, change: this.change }));
      this.words[name].textContent = driveWords(name, drawn.now, units);
    }
  }

  cursor(t: number): void {
    for (const chart of Object.values(this.charts)) chart.cursor(t);
  }

  private endOf({ now, series, fileSeries }: Drawn): number {
    const sum = (...names: string[]) => names.reduce((all, name) => all + now.number(`grip.${name}`), 0);
    const program = now.drive("grip") === "program" ? [sum("onset", "rise"), sum("release", "fall"), sum("late_onset", "late_rise")] : [];
    const ends = [LEAST_END, ...program.filter(Number.isFinite), ...[series, fileSeries].map((s) => (s ? (timeOf(s).at(-1) as number) : 0))];
    const times = now.answer.time_s;
    const end = BEYOND * Math.max(...ends);
    return times.find((t) => t >= end) ?? (times.at(-1) as number);
  }

  /** A column of curves of a load, as far as it is drawn. */
  private program(load: Load, joint: Joint, name: string, style: Pick<Curve, "colour" | "dash" | "column">): Curve {
    const x = load.answer.time_s.filter((t) => t <= this.end);
    return { name, x, y: load.curve(joint).slice(0, x.length), ...style };
  }

  /** Of a swing that is refused there is nothing to draw, but its curve stays in the key. */
  private through(series: Series | null, column: string, name: string, style: Pick<Curve, "colour" | "dash" | "column">): Curve {
    return series ? { name, x: timeOf(series), y: series.columns[column], ...style } : { name, x: [0], y: [null], ...style };
  }

  private joint(joint: Joint, { now, file, series, fileSeries }: Drawn): Figure {
    const unit = now.answer.curves[joint].unit;
    const isSame = file.answer.curves[joint].unit === unit;
    const isMotion = unit === "deg";
    const colour = joint === "hub" ? GREEN : RUST;
    const own = { colour, column: "load" };
    const before = { colour: NAVY, dash: DASH, column: "load_in_the_file" };
    const curves = unit
      ? [this.program(now, joint, isMotion ? "the motion" : "the load", own), ...(isSame ? [this.program(file, joint, "as in the file", before)] : [])]
      : joint === "roll"
        ? [this.through(series, "roll_deg", "roll", { colour }), this.through(fileSeries, "roll_deg", "as in the file", before)]
        : [this.through(series, JOINTS[joint].column, "what holds it", { colour })];
    if (unit && !isMotion && (joint === "hub" || (joint === "grip" && this.stopped))) {
      const name = joint === "hub" ? "as the arms speed up" : "with the wrist stop";
      curves.push(this.through(series, JOINTS[joint].column, name, { colour: PLUM, dash: [2, 3], column: "as_it_was" }));
    }
    const title = isMotion || (!unit && joint === "roll") ? JOINTS[joint].motion : JOINTS[joint].torque;
    const angle = isMotion || (!unit && joint === "roll");
    return this.figure(title, now.answer.setup, angle ? "deg" : "N m", curves);
  }

  /** Whether the wrists came to their stop: then the hands gave more than the program says. */
  private isStopped({ now, series }: Drawn): boolean {
    const at = now.number("stop.stiffness") > 0 ? now.number("stop.cock") : Number.NEGATIVE_INFINITY;
    return series !== null && series.columns.cock_deg.some((cock) => cock !== null && cock < at);
  }

  private moment({ now, series, fileSeries }: Drawn): Figure {
    return this.figure("Moment at the handle", now.answer.setup, "N m", [
      this.through(series, "handle_moment_nm", "as computed", { colour: RUST, column: "handle_moment" }),
      this.through(fileSeries, "handle_moment_nm", "as in the file", { colour: NAVY, dash: DASH, column: "handle_moment_in_the_file" }),
      ...(now.drive("grip") === "motion" ? [this.through(series, "grip_couple_nm", "couple that the motion takes", { colour: PLUM, dash: [2, 3] })] : []),
    ]);
  }

  private figure(title: string, of: string, unit: string, curves: Curve[]): Figure {
    return { title, of, x: { name: "time from the start", unit: "s", column: "time" }, y: { name: title, unit }, curves, reach: [0] };
  }
}
