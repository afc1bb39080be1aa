// SPDX-License-Identifier: GPL-3.0-or-later
// The club bent and straight, from two sides at a few telling instants, in lines that print sharply.
import { svg } from "./dom";
import { type Build, type Pose, type Vec, add, bodySketch, floorOf, pose, scale, valueAt } from "./geometry";
import { INK, NAVY, RUST } from "./figure";
import type { Reading, ReportSetup } from "./report_data";
import { drawing } from "./report_parts";
import { buildOf } from "./swing_build";

export const FACTOR = 3; // by which the bending is drawn
const BALL = 0.0214; // m, its radius
const SKETCH = "#dcd8ce";
const PATH = "#d7a184";
/** Two figures of several setups stand on a page, of A4 and of Letter. */
const tileOf = (several: boolean) => ({ width: 164, height: several ? 146 : 196, gap: 4, top: 16 });

interface Side {
  name: string;
  see(v: Vec): [number, number];
}

const sides = (left: boolean): Side[] => [
  { name: "down the line", see: (v) => [v[2], v[1]] },
  { name: "face on", see: (v) => [left ? -v[0] : v[0], v[1]] },
];

export interface Instant {
  name: string;
  time: number;
}

/** Start, peak lag, half released, impact: half of the cock at the peak lag is then gone. */
export function instants(setup: ReportSetup): Instant[] {
  const { series, swing } = setup;
  const time = series.columns.time_s as number[];
  const end = time[time.length - 1];
  const peak = swing.impact.peak_lag_time_s ?? 0;
  const half = ((valueAt(series, "cock_deg", peak) ?? 0) + (valueAt(series, "cock_deg", end) ?? 0)) / 2;
  const released = time.find((t) => t > peak && (valueAt(series, "cock_deg", t) ?? 0) >= half) ?? end;
  return [
    { name: "start", time: 0 },
    { name: "peak lag", time: peak },
    { name: "half released", time: released },
    { name: swing.met_ball ? "impact" : "end", time: end },
  ];
}

/** The outline of a ball stretched along three axes, as an ellipse. */
function outline(axes: [number, number][], at: [number, number], fill: string): SVGElement {
  let [a, b, c] = [0, 0, 0];
  for (const [x, y] of axes) [a, b, c] = [a + x * x, b + x * y, c + y * y];
  const middle = (a + c) / 2;
  const apart = Math.hypot((a - c) / 2, b);
  const turn = (Math.atan2(2 * b, a - c) / 2) * (180 / Math.PI);
  return svg("ellipse", {
    rx: Math.sqrt(middle + apart).toFixed(2), ry: Math.sqrt(Math.max(0, middle - apart)).toFixed(2), fill,
    transform: `translate(${at[0].toFixed(2)} ${at[1].toFixed(2)}) rotate(${turn.toFixed(2)})`,
  });
}

class Tile {
  private readonly px: (v: Vec) => [number, number];
  constructor(
    private readonly side: Side,
    private readonly box: number[], // left, right, low, high in m
    private readonly metre: number,
    left: number,
    top: number,
    width: number,
  ) {
    const across = left + (width - (box[1] - box[0]) * metre) / 2;
    this.px = (v) => {
      const [x, y] = side.see(v);
      return [across + (x - box[0]) * metre, top + (box[3] - y) * metre];
    };
  }

  line(points: Vec[], more: Record<string, string | number>): SVGElement {
    return svg("polyline", { points: points.map((p) => this.px(p).map((c) => c.toFixed(1)).join(",")).join(" "), fill: "none", "stroke-linecap": "round", "stroke-linejoin": "round", ...more });
  }
  disc(at: Vec, radius: number, more: Record<string, string | number>): SVGElement {
    const [cx, cy] = this.px(at);
    return svg("circle", { cx: cx.toFixed(1), cy: cy.toFixed(1), r: (radius * this.metre).toFixed(1), ...more });
  }
  solid(at: Vec, axes: Vec[], fill: string): SVGElement {
    const flat = axes.map((v): [number, number] => {
      const [x, y] = this.side.see(v);
      return [x * this.metre, -y * this.metre];
    });
    return outline(flat, this.px(at), fill);
  }
  ground(floor: number): SVGElement {
    const [a, b] = this.side.name === "face on" ? [-9, 9] : [0, 0];
    const [x0] = this.px([a, floor, this.box[0]]);
    const [x1, y] = this.px([b, floor, this.box[1]]);
    const ends = this.side.name === "face on" ? this.box.slice(0, 2).map((x) => this.px([x, floor, 0])[0]) : [x0, x1];
    return svg("line", { x1: Math.min(...ends), x2: Math.max(...ends), y1: y, y2: y, stroke: "#6f7d6a" });
  }
}

/** What stands still: body, ground, ball; then the way of the face so far, the straight club and the bent one. */
function draw(tile: Tile, now: Pose, way: Vec[], floor: number, ball: Vec | null, left: boolean, metre: number): SVGElement[] {
  const body = bodySketch(floor, left ? -1 : 1);
  const { forward, up, toe } = now.tip;
  const parts = body.bars.map(({ radius, points }) => tile.line(points, { stroke: SKETCH, "stroke-width": 2 * radius * metre }));
  parts.push(...body.knobs.map(({ radius, at }) => tile.disc(at, radius, { fill: SKETCH })), tile.ground(floor));
  for (const shoulder of body.shoulders) parts.push(tile.line([shoulder, now.hands], { stroke: "#c4c0b6", "stroke-width": 3 }));
  parts.push(tile.line(way, { stroke: PATH, "stroke-width": 1 }));
  if (ball) parts.push(tile.disc(ball, BALL, { fill: "#fff", stroke: INK, "stroke-width": 0.8 }));
  parts.push(
    tile.line(now.straight, { stroke: NAVY, "stroke-width": 1.2, "stroke-dasharray": "4 3" }),
    tile.solid(now.mass, [scale(forward, 0.05), scale(up, 0.028), scale(toe, 0.058)], INK),
    tile.solid(now.face, [scale(forward, 0.006), scale(up, 0.026), scale(toe, 0.048)], RUST),
    tile.line(now.shaft, { stroke: RUST, "stroke-width": 2 }),
    tile.disc(now.hands, 0.03, { fill: INK }),
  );
  return parts;
}

/** What stands above the pictures. */
export const LEGEND = `The thick line is the club, the dashed one a straight club at the same handle. The bending is drawn ${FACTOR} times as large as it is, so the head lies beyond its place, which is the end of the thin line: the way of the middle of the face. The grey body is a sketch.`;

export function pictures(reading: Reading, setup: ReportSetup): HTMLElement {
  const build: Build = buildOf(setup.inputs);
  const { series } = setup;
  const time = series.columns.time_s as number[];
  const end = pose(series, build, time[time.length - 1], 1);
  const floor = floorOf(series, build, end);
  const ball = series.met_ball ? add(end.head, [BALL, 0, 0]) : null;
  const heads = time.map((t) => [t, pose(series, build, t, 1).head] as const);
  const shots = instants(setup).map((i) => ({ ...i, pose: pose(series, build, i.time, FACTOR) }));
  const root = svg("svg", { "font-family": "system-ui, sans-serif", "font-size": 12 });
  const size = tileOf(reading.several);
  const row = size.height + size.top + 20;
  sides(build.left).forEach((side, s) => {
    const seen = shots.flatMap((i) => [...i.pose.shaft, i.pose.face, i.pose.mass]).concat(heads.map(([, v]) => v), [[-0.25, 0.34, 0], [0.25, floor, -0.4]]).map(side.see);
    const [xs, ys] = [seen.map((p) => p[0]), seen.map((p) => p[1])];
    const box = [Math.min(...xs) - 0.08, Math.max(...xs) + 0.08, Math.min(...ys, floor) - 0.06, Math.max(...ys) + 0.08];
    const metre = Math.min(size.width / (box[1] - box[0]), size.height / (box[3] - box[2]));
    root.append(svg("text", { x: 0, y: s * row + 12, fill: INK, "font-weight": 600 }, side.name));
    shots.forEach((shot, i) => {
      const left = i * (size.width + size.gap);
      const tile = new Tile(side, box, metre, left, s * row + size.top, size.width);
      const way = heads.filter(([t], k) => t <= shot.time && (k % 4 === 0 || k === heads.length - 1)).map(([, v]) => v);
      root.append(...draw(tile, shot.pose, way, floor, ball, build.left, metre));
      if (s) root.append(svg("text", { x: left + size.width / 2, y: 2 * row - 2, "text-anchor": "middle", fill: INK }, `${shot.name}, ${shot.time.toFixed(3)} s`));
    });
  });
  const width = 4 * size.width + 3 * size.gap;
  root.setAttribute("viewBox", `0 0 ${width} ${2 * row + 4}`);
  const at = shots.map((i) => `${i.name} at ${i.time.toFixed(3)} s: lead ${reading.text("lead_deflection_mm", valueAt(series, "lead_deflection_mm", i.time))}, droop ${reading.text("droop_mm", valueAt(series, "droop_mm", i.time))}`);
  return drawing(`${setup.name}, with the bending drawn ${FACTOR} times as large as it is.`, root, `${setup.name}, the club from two sides. ${at.join("; ")}`, "whole pictures");
}
