// SPDX-License-Identifier: GPL-3.0-or-later
// The shaft cut into pieces, each firmer or softer than it is in the file. A piece that is not as in the file stands in
// `set`, as shaft.sections[i]; where the shaft is cut stands in `ask`, when that cannot be told from `set`.
import type { State } from "./state";
import { convert } from "./units";

export type Scale = "ei" | "gj" | "mass";
export const SCALES: Scale[] = ["ei", "gj", "mass"];

/** From and to in mm from the tip of the uncut shaft; factors on what is in the file. */
export interface Piece extends Record<Scale, number> {
  from: number;
  to: number;
}

export type Asked = Pick<State, "set" | "ask">;

/** What of the setup they are about. */
export interface Whole {
  length: number; // mm, of the uncut shaft
  own: number; // sections that the file itself has
}

const CUTS = "shaft.cuts";
const PATH = /^shaft\.sections\[(\d+)\]\.(from|to|ei_scale|gj_scale|mass_scale)$/;
export const SHORTEST = 20; // mm, of a piece
export const PIECES_MOST = 12;

/** The changes in which sections have no part: what is laid beside as "before". */
export function setWithout(set: Record<string, string>): Record<string, string> {
  return Object.fromEntries(Object.entries(set).filter(([path]) => !PATH.test(path)));
}

/** A value of `set`, in `unit`; NaN for what is none: the program says why. */
function valueOf(text: string, unit: string, si: string): number {
  const [, number, own] = /^\s*([-+\d.eE]+)\s*(.*?)\s*$/.exec(text) ?? [];
  try {
    return convert(Number.parseFloat(number), own || si, unit);
  } catch {
    return Number.NaN;
  }
}

/** The sections that the reader has made. */
function sectionsOf(set: Record<string, string>, own: number): Piece[] {
  const found = new Map<number, Piece>();
  for (const [path, text] of Object.entries(set)) {
    const [, index, key] = PATH.exec(path) ?? [];
    const i = Number(index);
    if (!key || i < own) continue;
    const piece = found.get(i) ?? { from: Number.NaN, to: Number.NaN, ei: 1, gj: 1, mass: 1 };
    if (key === "from" || key === "to") piece[key] = valueOf(text, "mm", "m");
    else piece[key.replace("_scale", "") as Scale] = valueOf(text, "", "");
    found.set(i, piece);
  }
  return [...found.values()].filter((s) => s.from < s.to && SCALES.every((k) => Number.isFinite(s[k])));
}

const round = (value: number, step: number) => Math.round(value / step) * step;

function inOrder(list: number[]): number[] {
  return list.sort((a, b) => a - b).filter((v, i) => i === 0 || v - list[i - 1] > 1e-6);
}

/** The shaft from tip to butt. Without a word of the reader it is cut in thirds. */
export function piecesRead({ set, ask }: Asked, { length, own }: Whole): Piece[] {
  const sections = sectionsOf(set, own);
  const asked = ask[CUTS]?.split(",").map(Number).filter((c) => c > 0 && c < length);
  const thirds = [1, 2].map((k) => round((k * length) / 3, 10)).filter((c) => !sections.some((s) => s.from < c && c < s.to));
  const inner = [...(asked ?? thirds), ...sections.flatMap((s) => [s.from, s.to])].filter((c) => c > 1e-6 && c < length - 1e-6);
  const edges = inOrder([0, ...inner, length]);
  return edges.slice(1).map((to, i) => {
    const piece: Piece = { from: edges[i], to, ei: 1, gj: 1, mass: 1 };
    for (const s of sections) if (s.from < to - 1e-6 && s.to > edges[i] + 1e-6) for (const k of SCALES) piece[k] *= s[k];
    return piece;
  });
}

export const isChanged = (piece: Piece) => SCALES.some((k) => piece[k] !== 1);

const plain = (value: number) => String(Number(value.toPrecision(6)));

/** The same with these pieces in place of those that are there. */
export function piecesWrite({ set, ask }: Asked, whole: Whole, pieces: Piece[]): Asked {
  const next: Asked = { set: {}, ask: { ...ask } };
  for (const [path, text] of Object.entries(set)) if (!(Number(PATH.exec(path)?.[1] ?? -1) >= whole.own)) next.set[path] = text;
  pieces.filter(isChanged).forEach((piece, k) => {
    const at = `shaft.sections[${whole.own + k}]`;
    next.set[`${at}.from`] = `${plain(piece.from)} mm`;
    next.set[`${at}.to`] = piece.to >= whole.length ? `${whole.length / 1e3} m` : `${plain(piece.to)} mm`;
    for (const s of SCALES) if (piece[s] !== 1) next.set[`${at}.${s}_scale`] = plain(piece[s]);
  });
  const cuts = pieces.slice(1).map((p) => plain(p.from)).join(",");
  delete next.ask[CUTS];
  if (piecesRead(next, whole).slice(1).map((p) => plain(p.from)).join(",") !== cuts) next.ask[CUTS] = cuts;
  return next;
}

// ---------------------------------------------------------------- changes of the pieces

export function pieceScaled(pieces: Piece[], index: number, scales: Partial<Record<Scale, number>>): Piece[] {
  return pieces.map((piece, i) => (i === index ? { ...piece, ...scales } : piece));
}

/** Moves the cut at the butt end of a piece, not past its neighbours. */
export function cutMoved(pieces: Piece[], index: number, to: number): Piece[] {
  const [least, most] = cutRange(pieces, index);
  const at = Math.min(most, Math.max(least, round(to, 1)));
  return pieces.map((piece, i) => (i === index ? { ...piece, to: at } : i === index + 1 ? { ...piece, from: at } : piece));
}

export function cutRange(pieces: Piece[], index: number): [number, number] {
  return [Math.min(pieces[index].to, pieces[index].from + SHORTEST), Math.max(pieces[index].to, pieces[index + 1].to - SHORTEST)];
}

export function pieceSplit(pieces: Piece[], index: number): Piece[] {
  const middle = round((pieces[index].from + pieces[index].to) / 2, 1);
  return pieces.flatMap((piece, i) => (i === index ? [{ ...piece, to: middle }, { ...piece, from: middle }] : [piece]));
}

/** The next piece becomes part of this one. */
export function pieceJoined(pieces: Piece[], index: number): Piece[] {
  return pieces.flatMap((piece, i) => (i === index ? [{ ...piece, to: pieces[index + 1].to }] : i === index + 1 ? [] : [piece]));
}

// ---------------------------------------------------------------- in words

export function pieceName(pieces: Piece[], index: number): string {
  if (pieces.length === 1) return "whole shaft";
  if (index === 0) return "tip";
  if (index === pieces.length - 1) return "butt";
  return pieces.length === 3 ? "middle" : `middle ${index}`;
}

/** "20 % firmer"; of a mass "20 % heavier". */
export function scaleText(scale: number, of: Scale = "ei"): string {
  const percent = Number((Math.abs(scale - 1) * 100).toFixed(1));
  if (!percent) return "as in the file";
  const [more, less] = of === "mass" ? ["heavier", "lighter"] : ["firmer", "softer"];
  return `${percent} % ${scale > 1 ? more : less}`;
}

/** What has been done to the shaft, in one line. */
export function piecesText(pieces: Piece[]): string {
  const said = pieces.flatMap((piece, i) => {
    const parts = piece.ei === piece.gj ? [[piece.ei, "ei", ""] as const] : [[piece.ei, "ei", "EI "] as const, [piece.gj, "gj", "GJ "] as const];
    const words = [...parts, [piece.mass, "mass", ""] as const].filter(([s]) => s !== 1).map(([s, of, word]) => `${word}${scaleText(s, of)}`);
    return words.length ? [`${pieceName(pieces, i)} ${words.join(" and ")}`] : [];
  });
  return said.length ? said.join(", ") : "The shaft is as in the file";
}
