// SPDX-License-Identifier: GPL-3.0-or-later
// The differences as a picture: a line for each output, on it a mark for each setup, as many times from the first as
// the player's swings vary by. What lies further out is cut there, and says its number.
import { type Comparison, type Output, differenceText, timesAt } from "./beside_data";
import { svg } from "./dom";
import { GRID, INK, STROKES, ticks } from "./figure";
import { csvText } from "./save";
import { type System, plainName } from "./units";

const FARTHEST = 6; // sd
const FARTHEST_SHARE = 20; // per cent, where no spread is known
const BAND = "#e9dfc8";
const SOFT = "#56606a";
const LANE = 13; // px of a setup in an output's row

/** The mark of a setup; of the first a ring, as it is where the others are held against. */
export function mark(k: number, x: number, y: number, size = 4.6): SVGElement {
  const paint = { fill: STROKES[k].colour, stroke: STROKES[k].colour, "stroke-width": 1 };
  const points = (...list: [number, number][]) => svg("polygon", { points: list.map(([a, b]) => `${(x + a * size).toFixed(1)},${(y + b * size).toFixed(1)}`).join(" "), ...paint });
  if (k === 0) return svg("circle", { cx: x, cy: y, r: size * 0.9, fill: "#fff", stroke: STROKES[0].colour, "stroke-width": 2.4 });
  if (k === 1) return points([-0.9, -0.9], [0.9, -0.9], [0.9, 0.9], [-0.9, 0.9]);
  if (k === 2) return points([0, -1.1], [1.1, 0.9], [-1.1, 0.9]);
  return points([0, -1.25], [1.25, 0], [0, 1.25], [-1.25, 0]);
}

/** Of a setup in a list: its stroke, with its mark on it. */
export function setupSample(k: number): SVGElement {
  const { colour, dash } = STROKES[k];
  return svg("svg", { width: 34, height: 14, "aria-hidden": "true" }, svg("line", { x1: 0, x2: 34, y1: 7, y2: 7, stroke: colour, "stroke-width": 2.5, "stroke-dasharray": dash.join(" ") }), mark(k, 17, 7));
}

export interface Picture {
  found: Comparison;
  labels: string[];
  rows: Output[];
  units: System;
}

export const differs = (o: Output): boolean => o.differences.some((d) => d !== null && d !== 0);

/** In sd, or in per cent of the larger where no spread is known. */
const lengthOf = (p: Picture, o: Output, k: number): number | null => {
  const times = timesAt(o, k);
  return times === null ? null : p.found.spread.known ? times : 100 * times;
};

function pictureUnit(found: Comparison): string {
  return found.spread.known ? "times what the player’s swings vary by (sd)" : "% of the larger of the two values";
}

function rangeOf(p: Picture): { low: number; high: number; cut: number } {
  const cut = p.found.spread.known ? FARTHEST : FARTHEST_SHARE;
  const all = p.rows.flatMap((o) => p.labels.slice(1).map((_, k) => Math.max(-cut, Math.min(cut, lengthOf(p, o, k + 1) ?? 0))));
  const least = p.found.spread.known ? 1.5 : 1;
  return { low: Math.min(-least, ...all), high: Math.max(least, ...all), cut };
}

export function pictureSvg(p: Picture, width: number, heading = true): SVGSVGElement {
  const others = p.labels.length - 1;
  const lane = others > 1 ? LANE : 20;
  const step = lane * others + 6;
  const narrow = width < 520;
  const [left, right] = [narrow ? 118 : 150, 46];
  const keys = others + 1;
  const top = (heading ? 44 + 17 * keys : 4) + 20;
  const title = `${p.labels.slice(1).join("; ")}: differences from ${p.labels[0]}`;
  const { low, high, cut } = rangeOf(p);
  const isCut = p.rows.some((o) => p.labels.slice(1).some((_, k) => Math.abs(lengthOf(p, o, k + 1) ?? 0) > cut));
  const bottom = top + step * Math.max(1, p.rows.length);
  const height = bottom + (isCut ? 60 : 44);
  const [from, to] = [left + 40, width - right];
  const x = (v: number) => from + ((v - low) / (high - low)) * (to - from);
  const words = (text: string, px: number, py: number, more: Record<string, string | number> = {}) => svg("text", { x: px.toFixed(1), y: py.toFixed(1), "font-size": 12, fill: INK, ...more }, text);
  const root = svg("svg", {
    xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${width} ${height}`, width, height, role: "img",
    "aria-label": `${title}. ${pictureWords(p)}`, "font-family": "system-ui, sans-serif",
  }) as SVGSVGElement;
  root.append(svg("title", {}, title), svg("rect", { width, height, fill: heading ? "#fff" : "none" }));
  if (heading) {
    root.append(words(`Differences from ${p.labels[0]}`, 12, 22, { "font-size": 14, "font-weight": 600 }));
    p.labels.forEach((label, k) => root.append(mark(k, 20, 40 + 17 * k), words(k ? label : `${label}: at 0`, 34, 44 + 17 * k)));
  }
  if (p.found.spread.known)
    root.append(
      svg("rect", { x: x(-1).toFixed(1), y: top, width: (x(1) - x(-1)).toFixed(1), height: bottom - top, fill: BAND }),
      words("one swing from the next", x(0), top - 6, { "text-anchor": "middle", fill: SOFT, "font-size": 11.5 }),
    );
  for (const v of ticks(low, high, narrow ? 5 : 8))
    root.append(svg("line", { x1: x(v).toFixed(1), x2: x(v).toFixed(1), y1: top, y2: bottom, stroke: v === 0 ? INK : GRID, "stroke-width": v === 0 ? 1.4 : 1 }), words(String(v).replace("-", "−"), x(v), bottom + 15, { "text-anchor": "middle" }));
  root.append(words(pictureUnit(p.found), width / 2, bottom + 34, { "text-anchor": "middle" }));
  if (isCut) root.append(words(`Longer lines are cut at ${cut}; their number stands there.`, width / 2, bottom + 50, { "text-anchor": "middle", fill: SOFT }));
  p.rows.forEach((o, i) => root.append(...rowDraw(p, o, top + step * i, { step, lane, left, width, x, cut })));
  if (!p.rows.length) root.append(words("no difference", left, top + step / 2 + 4, { fill: SOFT }));
  return root;
}

interface Place {
  step: number;
  lane: number;
  left: number;
  width: number;
  x: (v: number) => number;
  cut: number;
}

function rowDraw(p: Picture, o: Output, y: number, { step, lane, left, width, x, cut }: Place): SVGElement[] {
  const parts: SVGElement[] = [
    svg("line", { x1: 0, x2: width, y1: y, y2: y, stroke: GRID }),
    svg("text", { x: left - 8, y: (y + step / 2 + 4).toFixed(1), "text-anchor": "end", "font-size": 12.5, fill: INK }, plainName(o.name)),
  ];
  for (let k = 1; k < p.labels.length; k++) {
    const length = lengthOf(p, o, k);
    if (length === null) continue;
    const at = y + 3 + lane * (k - 0.5);
    const end = Math.max(-cut, Math.min(cut, length));
    const { colour, dash } = STROKES[k];
    const said = `${p.labels[k]}, ${plainName(o.name)}: ${differenceText(o.differences[k] as number, o.unit, p.units, o.name)}`;
    const group = svg("g", { "data-name": o.name, "data-setup": k + 1, "data-length": String(length) }, svg("title", {}, said), svg("line", { x1: x(0).toFixed(1), x2: x(end).toFixed(1), y1: at, y2: at, stroke: colour, "stroke-width": 2, "stroke-dasharray": dash.join(" ") }), mark(k, x(end), at));
    if (Math.abs(length) > cut) {
      // Cut: two strokes through the line, and how far it goes.
      const across = x(end * 0.82);
      group.append(svg("rect", { x: across - 2.5, y: at - 2, width: 5, height: 4, fill: "#fff" }));
      for (const d of [-2.5, 2.5]) group.append(svg("line", { x1: across + d - 2, x2: across + d + 2, y1: at + 5, y2: at - 5, stroke: INK, "stroke-width": 1.3 }));
      const number = Number.isFinite(length) ? length.toFixed(Math.abs(length) < 9.95 ? 1 : 0).replace("-", "−") : "∞";
      group.append(svg("text", { x: (x(end) + (end > 0 ? 9 : -9)).toFixed(1), y: at + 4, "text-anchor": end > 0 ? "start" : "end", "font-size": 11.5, "font-weight": 600, fill: INK }, number));
    }
    parts.push(group);
  }
  return parts;
}

/** What a reader who does not see the picture is told. */
function pictureWords(p: Picture): string {
  const unit = p.found.spread.known ? " times" : " %";
  return p.rows
    .map((o) => `${plainName(o.name)} ${p.labels.slice(1).map((_, k) => lengthOf(p, o, k + 1)).map((v) => (v === null ? "not known" : Number.isFinite(v) ? `${v.toFixed(2)}${unit}` : "swings do not vary")).join(", ")}`)
    .join("; ");
}

export function pictureCsv(p: Picture): string {
  const unit = p.found.spread.known ? "sd" : "%";
  const length = (o: Output, k: number) => {
    const v = lengthOf(p, o, k);
    return v !== null && Number.isFinite(v) ? v : null;
  };
  const columns = p.labels.slice(1);
  return csvText([["output", ...columns.map((_, k) => `setup_${k + 2}`)], ["", ...columns.map(() => unit)], ...p.rows.map((o) => [o.name, ...columns.map((_, k) => length(o, k + 1))])]);
}
