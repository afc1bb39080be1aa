// SPDX-License-Identifier: GPL-3.0-or-later
// A chart as data, in the program's units: on the screen (chart.ts), as SVG, as CSV, and in print.
import { svg } from "./dom";
import { csvText } from "./save";
import { type System, convert, numberText, unitShown } from "./units";

export interface Axis {
  name: string; // in words, as it stands at the axis
  unit: string; // of the values
  column?: string; // in a CSV; the name without one
  field?: string; // of the program, where the trade has a unit for it of its own
}

export interface Curve {
  name: string;
  colour: string;
  dash?: number[];
  dots?: boolean; // marks in place of a line
  x: number[]; // ascending on the screen; in any order in files
  y: (number | null)[];
  low?: (number | null)[]; // a band around it
  high?: (number | null)[];
  column?: string; // in a CSV; the name without one
}

/** A stretch of x that is shaded behind the curves; a thin line where it has no width. */
export interface Zone {
  name: string; // in the key, once for all of that name; "" = not there
  from: number;
  to: number;
  shade: number; // of the ink, 0 to 1
}

export interface Figure {
  title: string; // without its unit
  of: string; // whose it is: heads the files
  x: Axis;
  y: Axis;
  curves: Curve[];
  zones?: Zone[];
  /** Values of y that are to be seen in any case. */
  reach?: number[];
  /** Where x begins and ends; as its curves do without it. */
  span?: [number, number];
  /** Places of x that mean something. */
  marks?: { x: number; name: string }[];
}

export const INK = "#22303c";
export const GRID = "#e2ded4";
export const RUST = "#a8420f";
export const NAVY = "#1b3a5c";
export const GREEN = "#2f7a59";
export const PLUM = "#6b3a6e";
/** For several things beside one another: told apart by stroke as well as by colour. */
export const STROKES: { colour: string; dash: number[] }[] = [
  { colour: RUST, dash: [] },
  { colour: NAVY, dash: [7, 4] },
  { colour: GREEN, dash: [2, 3] },
  { colour: PLUM, dash: [9, 3, 2, 3] },
];

/** Round steps that divide a range into about `wanted`. */
export function ticks(low: number, high: number, wanted: number): number[] {
  const rough = (high - low) / wanted;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((f) => f * power).find((s) => s >= rough) ?? 10 * power;
  const list = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k++) list.push(Number((k * step).toPrecision(12)));
  return list;
}

export function axisUnit(axis: Axis, units: System): string {
  return unitShown(axis.unit, units, axis.field);
}

export function axisTitle(axis: Axis, units: System): string {
  const unit = axisUnit(axis, units);
  return unit ? `${axis.name}, ${unit}` : axis.name;
}

/** A function that turns values of an axis into those that are shown. */
export function axisScale(axis: Axis, units: System): (value: number) => number {
  const to = axisUnit(axis, units);
  return (value) => convert(value, axis.unit, to);
}

export function figureTitle(figure: Figure, units: System): string {
  const unit = axisUnit(figure.y, units);
  return unit ? `${figure.title}, ${unit}` : figure.title;
}

/** Least and most of y, shown, with a little room. */
export function figureRange(figure: Figure, units: System): [number, number] {
  const scale = axisScale(figure.y, units);
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  const take = (v: number | null) => {
    if (v === null) return;
    low = Math.min(low, v);
    high = Math.max(high, v);
  };
  for (const c of figure.curves) for (const list of [c.y, c.low ?? [], c.high ?? []]) list.forEach(take);
  figure.reach?.forEach(take);
  if (!(low <= high)) [low, high] = [0, 1];
  [low, high] = [scale(low), scale(high)].sort((a, b) => a - b);
  const room = (high - low || Math.abs(high) || 1) * 0.06;
  return [low - room, high + room];
}

/** The zones that stand in the key. */
export function zonesNamed(figure: Figure): Zone[] {
  const zones = figure.zones ?? [];
  return zones.filter((z, i) => z.name && zones.findIndex((other) => other.name === z.name) === i);
}

/** A curve's value at x, straight between its points; null outside of it and in its gaps. */
export function curveAt(curve: Curve, x: number): number | null {
  const n = curve.x.length;
  if (!n || x < curve.x[0] || x > curve.x[n - 1]) return null;
  let [low, high] = [0, n - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (curve.x[middle] <= x) low = middle;
    else high = middle;
  }
  const [a, b] = [curve.y[low], curve.y[high]];
  if (a === null || b === null) return x === curve.x[high] ? b : x === curve.x[low] ? a : null;
  const step = curve.x[high] - curve.x[low];
  return step > 0 ? a + ((b - a) * (x - curve.x[low])) / step : b;
}

// ---------------------------------------------------------------- as CSV

const plain = (name: string) => name.toLowerCase().replace(/[^a-z0-9]+/g, "_").replace(/^_|_$/g, "");

interface Column {
  name: string;
  x: number[];
  y: (number | null)[];
}

function columnsOf(figure: Figure): Column[] {
  return figure.curves.flatMap((c) => {
    const name = c.column ?? plain(c.name);
    const more = (end: string, y?: (number | null)[]): Column[] => (y ? [{ name: `${name}_${end}`, x: c.x, y }] : []);
    return [{ name, x: c.x, y: c.y }, ...more("low", c.low), ...more("high", c.high)];
  });
}

/** A row for each x; curves that share their x fill it together. */
export function figureCsv(figure: Figure, units: System): string {
  const columns = columnsOf(figure);
  const [sx, sy] = [axisScale(figure.x, units), axisScale(figure.y, units)];
  const groups: number[][] = [];
  const same = (a: number[], b: number[]) => a === b || (a.length === b.length && a.every((v, i) => v === b[i]));
  for (const { x } of columns) if (!groups.some((g) => same(g, x))) groups.push(x);
  const rows = groups.flatMap((x) => {
    const own = columns.map((c) => same(c.x, x));
    return x.map((at, i) => [sx(at), ...columns.map((c, k) => (own[k] && c.y[i] !== null ? sy(c.y[i] as number) : null))]);
  });
  rows.sort((a, b) => (a[0] as number) - (b[0] as number));
  const unit = axisUnit(figure.y, units);
  return csvText([
    [figure.x.column ?? plain(figure.x.name), ...columns.map((c) => c.name)],
    [axisUnit(figure.x, units), ...columns.map(() => unit)],
    ...rows,
  ]);
}

// ---------------------------------------------------------------- as SVG

type Scale = (v: number) => number;

function curvePath(x: number[], y: (number | null)[], sx: Scale, sy: Scale): string {
  let path = "";
  let on = false;
  y.forEach((v, i) => {
    if (v !== null) path += `${on ? "L" : "M"}${sx(x[i]).toFixed(2)} ${sy(v).toFixed(2)}`;
    on = v !== null;
  });
  return path;
}

function bandPath(c: Curve, sx: Scale, sy: Scale): string {
  const known = c.x.map((_, i) => i).filter((i) => c.low?.[i] != null && c.high?.[i] != null);
  const there = known.map((i) => `${sx(c.x[i]).toFixed(2)} ${sy(c.high?.[i] as number).toFixed(2)}`);
  const back = known.reverse().map((i) => `${sx(c.x[i]).toFixed(2)} ${sy(c.low?.[i] as number).toFixed(2)}`);
  return there.length ? `M${[...there, ...back].join("L")}Z` : "";
}

function curveDraw(c: Curve, sx: Scale, sy: Scale): SVGElement[] {
  const parts: SVGElement[] = [];
  if (c.low && c.high) parts.push(svg("path", { d: bandPath(c, sx, sy), fill: c.colour, "fill-opacity": 0.16 }));
  if (c.dots)
    c.y.forEach((v, i) => v !== null && parts.push(svg("circle", { cx: sx(c.x[i]).toFixed(2), cy: sy(v).toFixed(2), r: 2.6, fill: c.colour, "fill-opacity": 0.75 })));
  else
    parts.push(svg("path", { d: curvePath(c.x, c.y, sx, sy), fill: "none", stroke: c.colour, "stroke-width": 2, "stroke-dasharray": (c.dash ?? []).join(" ") }));
  return parts;
}

export function curveSample(c: { colour: string; dash?: number[]; dots?: boolean }, x = 0, y = 5): SVGElement {
  if (c.dots) return svg("circle", { cx: x + 13, cy: y, r: 3.2, fill: c.colour });
  return svg("line", { x1: x, x2: x + 26, y1: y, y2: y, stroke: c.colour, "stroke-width": 2.5, "stroke-dasharray": (c.dash ?? []).join(" ") });
}

export function zoneSample(zone: Zone, x = 0, y = 5): SVGElement {
  return svg("rect", { x, y: y - 5, width: 26, height: 10, fill: INK, "fill-opacity": zone.shade });
}

function zoneDraw(zone: Zone, x: Scale, top: number, bottom: number): SVGElement {
  const [from, to] = [x(zone.from), x(zone.to)];
  if (to > from) return svg("rect", { x: from.toFixed(2), y: top, width: (to - from).toFixed(2), height: bottom - top, fill: INK, "fill-opacity": zone.shade });
  return svg("line", { x1: from.toFixed(2), x2: from.toFixed(2), y1: top, y2: bottom, stroke: INK, "stroke-opacity": zone.shade, "stroke-dasharray": "2 4" });
}

/** The key's names in rows that fit the width. */
function keyDraw(figure: Figure, left: number, right: number, y: number): { parts: SVGElement[]; rows: number } {
  const parts: SVGElement[] = [];
  let [across, rows] = [left, 1];
  for (const item of [...figure.curves, ...zonesNamed(figure)]) {
    const wide = 44 + item.name.length * 6.6;
    if (across > left && across + wide > right) [across, rows] = [left, rows + 1];
    const at = y + (rows - 1) * 17;
    parts.push("shade" in item ? zoneSample(item, across, at) : curveSample(item, across, at), svg("text", { x: across + 32, y: at + 4, "font-size": 12, fill: INK }, item.name));
    across += wide;
  }
  return { parts, rows };
}

export const FIGURE_WIDTH = 720;
export const FIGURE_HEIGHT = 320;

/** The figure on its own, whole and sharp at any size; `heading` is left out where a page has one. */
export function figureSvg(figure: Figure, units: System, width = FIGURE_WIDTH, height = FIGURE_HEIGHT, heading = true): SVGSVGElement {
  const [left, right, bottom] = [60, 16, 42];
  const key = keyDraw(figure, left, width - right, heading ? 36 : 12);
  const top = (heading ? 36 : 12) + key.rows * 17;
  const [xs, ys] = [axisScale(figure.x, units), axisScale(figure.y, units)];
  const all = (figure.span ?? figure.curves.flatMap((c) => c.x)).map(xs);
  const [start, end] = [Math.min(...all), Math.max(...all)];
  const [low, high] = figureRange(figure, units);
  const x = (v: number) => left + ((v - start) / (end - start || 1)) * (width - left - right);
  const y = (v: number) => top + ((high - v) / (high - low)) * (height - top - bottom);
  const words = (text: string, px: number, py: number, more: Record<string, string | number> = {}) =>
    svg("text", { x: px, y: py, "font-size": 12, fill: INK, ...more }, text);
  const title = `${figure.of}: ${figureTitle(figure, units)}`;
  const root = svg("svg", {
    xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${width} ${height}`, width, height, role: "img",
    "aria-label": title, "font-family": "system-ui, sans-serif",
  }) as SVGSVGElement;
  root.append(svg("title", {}, title), svg("rect", { width, height, fill: "#fff" }));
  if (heading) root.append(words(title, left, 18, { "font-size": 14, "font-weight": 600 }));
  for (const zone of figure.zones ?? []) root.append(zoneDraw(zone, (v) => x(xs(v)), top, height - bottom));
  for (const v of ticks(low, high, 5))
    root.append(
      svg("line", { x1: left, x2: width - right, y1: y(v), y2: y(v), stroke: GRID }),
      words(String(v).replace("-", "−"), left - 6, y(v) + 4, { "text-anchor": "end" }),
    );
  for (const v of ticks(start, end, Math.min(8, Math.round(width / 64)))) root.append(words(String(v).replace("-", "−"), x(v), height - 24, { "text-anchor": "middle" }));
  root.append(words(axisTitle(figure.x, units), (left + width - right) / 2, height - 6, { "text-anchor": "middle" }));
  for (const { x: at, name } of figure.marks ?? []) {
    const px = x(xs(at));
    const isRight = px > width - right - 80;
    root.append(
      svg("line", { x1: px, x2: px, y1: top, y2: height - bottom, stroke: INK, "stroke-dasharray": "3 3" }),
      words(name, px + (isRight ? -5 : 5), top + 11, isRight ? { "text-anchor": "end" } : {}),
    );
  }
  for (const c of figure.curves) root.append(...curveDraw(c, (v) => x(xs(v)), (v) => y(ys(v))));
  root.append(...key.parts);
  return root;
}

/** What a reader who does not see the figure is told of it at x, or of its ends. */
export function figureWords(figure: Figure, units: System, at?: number): string {
  const unit = axisUnit(figure.y, units);
  const scale = axisScale(figure.y, units);
  const value = (v: number | null) => (v === null ? "none" : [numberText(scale(v), unit, figure.y.field), unit].filter(Boolean).join(" "));
  if (at !== undefined) return figure.curves.map((c) => `${c.name} ${value(curveAt(c, at))}`).join(", ");
  return figure.curves
    .map((c) => {
      const known = c.y.filter((v): v is number => v !== null);
      return known.length ? `${c.name} from ${value(Math.min(...known))} to ${value(Math.max(...known))}` : `${c.name}: none`;
    })
    .join("; ");
}
