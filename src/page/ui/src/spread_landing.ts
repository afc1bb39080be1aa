// SPDX-License-Identifier: GPL-3.0-or-later
// Where the balls land, seen from above: the target at the top, the same scale both ways.
import { h, svg } from "./dom";
import { exportButtons } from "./exports";
import { GREEN, GRID, INK, ticks } from "./figure";
import { csvText, fileName } from "./save";
import { type Found, type Landing, MARKS, type Reading, rightOf } from "./spread_data";

const WIDTH = 400;
const [LEFT, RIGHT, BOTTOM] = [50, 8, 44];
const [LEAST, MOST] = [280, 560]; // px, of the field's height
const BALLS = 1000; // that are drawn of a setup; more would hide each other
const CORNERS = 72;

type Point = [number, number]; // m: to the right, along the target line

/** The ellipse that holds a part of landings that spread normally. */
function ellipse(found: Found, club: number, scale: number): Point[] {
  const l: Landing = found.setups[club].landing;
  const turn = (l.turn_deg * Math.PI) / 180;
  return Array.from({ length: CORNERS }, (_, i) => {
    const [a, b] = [scale * l.major_m * Math.cos((2 * Math.PI * i) / CORNERS), scale * l.minor_m * Math.sin((2 * Math.PI * i) / CORNERS)];
    const away = l.side_m + a * Math.sin(turn) + b * Math.cos(turn);
    return [rightOf(found, club, away), l.carry_m + a * Math.cos(turn) - b * Math.sin(turn)];
  });
}

function balls(found: Found, club: number): Point[] {
  const { carry_m, side_m } = found.landing_points[club];
  return carry_m.slice(0, BALLS).map((carry, i) => [rightOf(found, club, side_m[i]), carry]);
}

interface Field {
  left: number;
  near: number;
  far: number;
  scale: number; // px to 1 m
  high: number; // px
}

/** Fairway, ellipses and balls; but one ball far off does not flatten the others. */
function fieldOf(found: Found): Field {
  const half = found.fairway_m / 2;
  const rings = found.setups.flatMap((club, i) => ellipse(found, i, club.landing.scale_90));
  const all: Point[] = [[-half, rings[0][1]], [half, rings[0][1]], ...rings];
  const bounds = (list: Point[]) => [0, 1].flatMap((k) => [Math.min(...list.map((p) => p[k])), Math.max(...list.map((p) => p[k]))]);
  let [left, right, near, far] = bounds(all);
  const [x, y] = [(right - left) / 4, (far - near) / 4];
  const close = found.setups.flatMap((_, i) => balls(found, i)).filter((p) => p[0] > left - x && p[0] < right + x && p[1] > near - y && p[1] < far + y);
  [left, right, near, far] = bounds([...all, ...close]);
  const rim = Math.max(0.04 * Math.max(right - left, far - near), 2);
  const wide = WIDTH - LEFT - RIGHT;
  const scale = Math.min(wide / (right - left + 2 * rim), MOST / (far - near + 2 * rim));
  const high = Math.max(LEAST, (far - near + 2 * rim) * scale);
  const spare = high / scale - (far - near);
  return { left: (left + right) / 2 - wide / scale / 2, near: near - spare / 2, far: far + spare / 2, scale, high };
}

function mark(club: number, x: number, y: number, r: number, more: Record<string, string | number>): SVGElement {
  if (club === 0) return svg("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r, ...more });
  const [w, t] = [r * 1.15, (r * 4) / 3]; // about its own middle
  return svg("path", { d: `M${x.toFixed(1)} ${(y - t).toFixed(1)}l${w} ${2 * r}h${-2 * w}z`, ...more });
}

export function landingTitle(found: Found): string {
  return `${found.names.join(" and ")}: where the balls land`;
}

/** How many of the balls that are drawn lie outside the field; those are said. */
function outside(found: Found, f: Field): number {
  const wide = (WIDTH - LEFT - RIGHT) / f.scale;
  return found.setups.flatMap((_, i) => balls(found, i)).filter(([x, y]) => x < f.left || x > f.left + wide || y < f.near || y > f.far).length;
}

function words(text: string, x: number, y: number, more: Record<string, string | number> = {}): SVGElement {
  return svg("text", { x: x.toFixed(1), y: y.toFixed(1), "font-size": 12, fill: INK, ...more }, text);
}
const HALO = { stroke: "#fff", "stroke-width": 3, "paint-order": "stroke" };

function key(found: Found, reading: Reading, f: Field): { parts: SVGElement[]; high: number } {
  const drawn = (i: number) => found.landing_points[i].carry_m.length;
  const rows = found.names.map((name, i) => `${name}: ${drawn(i) > BALLS ? `the first ${BALLS} of ` : ""}${drawn(i)} balls`);
  const parts = rows.flatMap((text, i) => [
    mark(i, LEFT + 6, 8 + 17 * i, 4, { fill: MARKS[i].colour }),
    words(text, LEFT + 18, 12 + 17 * i),
  ]);
  const y = 12 + 17 * rows.length;
  parts.push(
    svg("rect", { x: LEFT, y: y - 9, width: 13, height: 10, fill: "#dcebd9", stroke: GREEN }),
    words(`fairway, ${reading.whole("carry_m", found.fairway_m)}`, LEFT + 18, y),
    svg("path", { d: `M${LEFT + 146} ${y - 4}m-5 0h10m-5 -5v10`, stroke: INK, "stroke-width": 2.5 }),
    words("the mean", LEFT + 156, y),
    svg("path", { d: `M${LEFT + 232} ${y - 4}m-4 -4l8 8m0 -8l-8 8`, stroke: INK, "stroke-width": 2 }),
    words("usual swing", LEFT + 242, y),
  );
  const out = outside(found, f);
  if (out) parts.push(words(`${out} ${out > 1 ? "balls lie" : "ball lies"} outside the picture`, LEFT, y + 17));
  return { parts, high: y + (out ? 17 : 0) + 8 };
}

function grid(f: Field, reading: Reading, top: number): SVGElement[] {
  const one = reading.value("carry_m", 1); // of the reader's unit, to 1 m
  const wide = WIDTH - LEFT - RIGHT;
  const y = ticks(f.near * one, f.far * one, 7);
  const step = y.length > 1 ? y[1] - y[0] : 10;
  const from = Math.ceil((f.left * one) / step);
  const to = Math.floor(((f.left + wide / f.scale) * one) / step);
  const px = (v: number) => LEFT + (v / one - f.left) * f.scale;
  const py = (v: number) => top + (f.far - v / one) * f.scale;
  const text = (v: number) => String(Number(v.toPrecision(9))).replace("-", "−");
  return [
    ...y.flatMap((v) => [svg("line", { x1: LEFT, x2: LEFT + wide, y1: py(v), y2: py(v), stroke: GRID }), words(text(v), LEFT - 6, py(v) + 4, { "text-anchor": "end" })]),
    ...Array.from({ length: Math.max(0, to - from + 1) }, (_, i) => (from + i) * step).flatMap((v) => [
      svg("line", { x1: px(v), x2: px(v), y1: top, y2: top + f.high, stroke: GRID }),
      words(text(v), px(v), top + f.high + 16, { "text-anchor": "middle" }),
    ]),
  ];
}

/** What is drawn of one setup, over the grid. */
function clubDraw(found: Found, i: number, at: (p: Point) => Point): SVGElement[] {
  const { colour, dash } = MARKS[i];
  const { landing, outputs } = found.setups[i];
  const place = ([x, y]: Point) => at([rightOf(found, i, x), y]);
  const ring = (scale: number, part: number) => {
    const corners = ellipse(found, i, scale).map(at);
    const end = corners[i ? CORNERS / 2 : 0]; // labels of two setups at opposite ends
    return [
      svg("path", {
        class: "ring", "data-club": i, "data-part": part, d: `M${corners.map((p) => p.map((v) => v.toFixed(2)).join(" ")).join("L")}Z`, fill: "none", stroke: colour, "stroke-width": 2, "stroke-dasharray": dash.join(" "),
      }),
      words(`${part} %`, end[0], end[1] + (i ? 13 : -5), { fill: colour, "text-anchor": "middle", ...HALO }),
    ];
  };
  const [mx, my] = place([landing.side_m, landing.carry_m]);
  const [ux, uy] = place([outputs.side_m.usual, outputs.carry_m.usual]);
  return [
    ...balls(found, i).map((p) => mark(i, ...at(p), 2.4, { class: "ball", "data-club": i, fill: colour, "fill-opacity": 0.5 })),
    ...ring(landing.scale_50, 50),
    ...ring(landing.scale_90, 90),
    svg("path", { d: `M${ux.toFixed(1)} ${uy.toFixed(1)}m-5 -5l10 10m0 -10l-10 10`, stroke: "#fff", "stroke-width": 5 }),
    svg("path", { d: `M${ux.toFixed(1)} ${uy.toFixed(1)}m-5 -5l10 10m0 -10l-10 10`, stroke: colour, "stroke-width": 2 }),
    svg("path", { d: `M${mx.toFixed(1)} ${my.toFixed(1)}m-9 0h18m-9 -9v18`, stroke: "#fff", "stroke-width": 7 }),
    svg("path", { d: `M${mx.toFixed(1)} ${my.toFixed(1)}m-8 0h16m-8 -8v16`, stroke: colour, "stroke-width": 3.5 }),
  ];
}

/** In words, for who does not see it. */
function landingWords(found: Found, reading: Reading): string {
  const one = (i: number) => {
    const { landing: l } = found.setups[i];
    const right = rightOf(found, i, l.side_m);
    return `${found.names[i]}: mean ${reading.whole("carry_m", l.carry_m)} along the target line and ${reading.whole("side_m", Math.abs(right))} ${right < 0 ? "left" : "right"} of it`;
  };
  return `Where the balls land, seen from above. ${found.names.map((_, i) => one(i)).join("; ")}.`;
}

export function landingSvg(found: Found, reading: Reading, heading = true): SVGSVGElement {
  const f = fieldOf(found);
  const head = heading ? 26 : 2;
  const { parts, high } = key(found, reading, f);
  const top = head + high;
  const [wide, height] = [WIDTH - LEFT - RIGHT, top + f.high + BOTTOM];
  const at = ([x, y]: Point): Point => [LEFT + (x - f.left) * f.scale, top + (f.far - y) * f.scale];
  const [from] = at([-found.fairway_m / 2, 0]);
  const [line] = at([0, 0]);
  const root = svg("svg", {
    xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${WIDTH} ${height.toFixed(1)}`, width: WIDTH, height: height.toFixed(1), role: "img",
    "aria-label": landingWords(found, reading), "font-family": "system-ui, sans-serif", "data-scale": f.scale,
  }) as SVGSVGElement;
  const field = svg("svg", { x: LEFT, y: top, width: wide, height: f.high, viewBox: `${LEFT} ${top} ${wide} ${f.high}` });
  field.append(
    svg("rect", { x: from, y: top, width: found.fairway_m * f.scale, height: f.high, fill: "#dcebd9", stroke: GREEN, "fill-opacity": 0.8 }),
    ...grid(f, reading, top).filter((part) => part.tagName === "line"),
    svg("line", { x1: line, x2: line, y1: top, y2: top + f.high, stroke: INK, "stroke-width": 1.5, "stroke-dasharray": "3 4" }),
    ...found.names.flatMap((_, i) => clubDraw(found, i, at)),
  );
  root.append(
    svg("rect", { width: WIDTH, height, fill: "#fff" }),
    ...(heading ? [words(landingTitle(found), LEFT, 18, { "font-size": 14, "font-weight": 600 })] : []),
    svg("g", { transform: `translate(0 ${head})` }, ...parts),
    field,
    svg("rect", { x: LEFT, y: top, width: wide, height: f.high, fill: "none", stroke: INK, "stroke-width": 0.8 }),
    ...grid(f, reading, top).filter((part) => part.tagName === "text"),
    words(`off the target line, ${reading.unit("side_m")} (right of it above 0)`, LEFT + wide / 2, height - 8, { "text-anchor": "middle" }),
    words(`carry along the target line, ${reading.unit("carry_m")}`, 0, 0, { "text-anchor": "middle", transform: `translate(13 ${top + f.high / 2}) rotate(-90)` }),
  );
  return root;
}

/** Every ball; off the line as the program has it: away from the golfer above 0. */
export function landingCsv(found: Found, reading: Reading): string {
  return csvText([
    ["setup", "carry", "side_away_from_golfer"],
    ["", reading.unit("carry_m"), reading.unit("side_m")],
    ...found.landing_points.flatMap(({ carry_m, side_m }, i) => carry_m.map((carry, k) => [found.names[i], reading.value("carry_m", carry), reading.value("side_m", side_m[k])])),
  ]);
}

export class LandingPicture {
  private readonly place = h("div", { class: "picture" });
  readonly element: HTMLElement;
  private found: Found | null = null;
  private reading: Reading | null = null;

  constructor() {
    const exports = exportButtons({
      title: "Where the balls land",
      file: () => fileName(...(this.found?.names ?? []), "landing"),
      svg: () => landingSvg(this.found as Found, this.reading as Reading),
      csv: () => landingCsv(this.found as Found, this.reading as Reading),
    });
    this.element = h("figure", { class: "strip landing" }, h("figcaption", {}, h("h2", {}, "Where the balls land"), exports), this.place);
  }

  show(found: Found, reading: Reading): void {
    this.found = found;
    this.reading = reading;
    this.place.replaceChildren(landingSvg(found, reading, false));
  }
}
