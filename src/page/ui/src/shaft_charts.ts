// SPDX-License-Identifier: GPL-3.0-or-later
// EI and GJ along the shaft: as in the file, with the sections, and as the readings have them.
import type { Handle } from "./chart";
import { type Curve, type Figure, GREEN, INK, NAVY, PLUM, RUST, type Zone, curveAt } from "./figure";
import { type Piece, cutRange, pieceName, scaleText } from "./sections";
import type { Answered, Bench, Fit, ShaftAnswer } from "./shaft_ask";

export type Stiffness = "ei" | "gj";
export const STIFFNESSES: Stiffness[] = ["ei", "gj"];
export const TITLES: Record<Stiffness, string> = { ei: "EI, against bending", gj: "GJ, against twisting" };
const WIDE = 1.95996398454005423552; // standard deviations either way that hold 95 % of a normal distribution
const MM = 1e3;

const mm = (list: number[]) => list.map((at) => at * MM);

/** Between the stations the error goes straight from one to the next. */
export function band(x: number[], y: (number | null)[], at: number[], percent: (number | null)[]): Pick<Curve, "low" | "high"> {
  const errors = { name: "", colour: "", x: at, y: percent };
  const end = (sign: number) =>
    x.map((place, i) => {
      const [value, sd] = [y[i], curveAt(errors, Math.min(place, at[at.length - 1]))];
      return value === null || sd === null ? null : value * Math.exp((sign * WIDE * sd) / 100);
    });
  return { low: end(-1), high: end(1) };
}

/** Whether the shaft is stiffer in one plane than in the other, by more than its figures are rounded. */
function hasTwoPlanes({ stations }: ShaftAnswer): boolean {
  return stations.some((s) => Math.abs(s.ei_nm2 - s.ei_2_nm2) > 1e-9 * s.ei_nm2);
}

interface Look {
  column: "ei_nm2" | "ei_2_nm2" | "gj_nm2";
  plane: string; // "" = there is one
  of: string; // ends a column of a CSV
  before: Pick<Curve, "colour" | "dash">;
  now: Pick<Curve, "colour" | "dash">;
}

function looks(what: Stiffness, shaft: ShaftAnswer): Look[] {
  const first: Look = { column: `${what}_nm2`, plane: "", of: "", before: { colour: NAVY, dash: [7, 4] }, now: { colour: RUST } };
  if (what === "gj" || !hasTwoPlanes(shaft)) return [first];
  const second: Look = { column: "ei_2_nm2", plane: ", softer plane", of: "_softer", before: { colour: PLUM, dash: [2, 3] }, now: { colour: PLUM, dash: [12, 3] } };
  return [{ ...first, plane: ", stiffer plane" }, second];
}

function shaftCurves(what: Stiffness, { before, now }: Answered): Curve[] {
  const [file, own] = [before.shaft.result, now.shaft.result];
  const at = file.stations.map((s) => s.at_m);
  const x = mm(file.curve.at_m);
  const sections: Curve[] = [];
  const base: Curve[] = [];
  const dots: Curve[] = [];
  for (const look of looks(what, file)) {
    const y = file.curve[look.column];
    const known = file.errors_known ? band(file.curve.at_m, y, at, file.stations.map((s) => s[`${what}_sd_percent`])) : {};
    const name = `as in the file${look.plane}${file.errors_known ? ", 95 % band" : ""}`;
    base.push({ name, ...look.before, x, y, ...known, column: `in_the_file${look.of}` });
    sections.push({ name: `with the sections${look.plane}`, ...look.now, x: mm(own.curve.at_m), y: own.curve[look.column], column: `with_the_sections${look.of}` });
    dots.push({ name: `stations${look.plane}`, colour: look.before.colour, dots: true, x: mm(at), y: file.stations.map((s) => s[look.column]), column: `stations${look.of}` });
  }
  return [...base, ...sections, ...dots];
}

/** The mean over the directions about the axis, as caber profile prints it; a gap where no reading sees it. */
function readingsCurve(what: Stiffness, { stations }: Fit): Curve {
  const x = mm(stations.map((s) => s.at_m));
  const y = stations.map((s) => ((what === "ei" ? s.bend_seen : s.twist_seen) ? (what === "ei" ? (s.ei_nm2 + s.ei_2_nm2) / 2 : s.gj_nm2) : null));
  return { name: "from the readings, 95 % band", colour: GREEN, dash: [2, 3], x, y, ...band(x, y, x, stations.map((s) => s[`${what}_sd_percent`])), column: "from_the_readings" };
}

/** What is cut off, what cannot bend, and where the sections meet. */
function zones(shaft: ShaftAnswer, bench: Bench | null, pieces: Piece[]): Zone[] {
  const cuts: Zone[] = pieces.slice(1).map(({ from }) => ({ name: "", from, to: from, shade: 0.6 }));
  if (!bench) return cuts;
  const [tip, butt] = [bench.tip_trim_mm, shaft.length_m * MM - bench.butt_trim_mm];
  const held = "in hosel or hands";
  const all: Zone[] = [
    { name: "cut off", from: 0, to: tip, shade: 0.3 },
    { name: "cut off", from: butt, to: shaft.length_m * MM, shade: 0.3 },
    { name: held, from: tip, to: tip + bench.insertion_mm, shade: 0.1 },
    { name: held, from: butt - shaft.hold_m * MM, to: butt, shade: 0.1 },
  ];
  return [...all.filter((z) => z.to > z.from), ...cuts];
}

/** Whether the readings are of a shaft as long as this one. */
export function readingsFit({ before, behind }: Answered): boolean {
  const length = behind?.fit?.result.length_m;
  return length === undefined || Math.abs(length - before.shaft.result.length_m) < 1e-3;
}

export function shaftFigure(what: Stiffness, answered: Answered, pieces: Piece[], handles: Handle[]): Figure {
  const { before, behind } = answered;
  const file = before.shaft.result;
  const fit = behind?.fit?.result;
  return {
    title: TITLES[what],
    of: before.shaft.result.setup,
    x: { name: "from the tip of the uncut shaft", unit: "mm", column: "from_the_tip" },
    y: { name: what.toUpperCase(), unit: "N m2" },
    curves: [...shaftCurves(what, answered), ...(fit && readingsFit(answered) ? [readingsCurve(what, fit)] : [])],
    zones: zones(file, before.bench, pieces),
    reach: [0, ...handles.map((handle) => handle.y)],
  };
}

// ---------------------------------------------------------------- handles

export interface Moves {
  scale(index: number, what: Stiffness, scale: number, gesture: string): void;
  cut(index: number, to: number, gesture: string): void;
}

/** A point in the middle of each section, up and down; and one at the foot of each cut, along the shaft. */
export function shaftHandles(what: Stiffness, { before, scale }: Answered, pieces: Piece[], length: (mm: number) => string, moves: Moves): Handle[] {
  const { curve } = before.shaft.result;
  const file: Curve = { name: "", colour: "", x: mm(curve.at_m), y: curve[`${what}_nm2`] };
  const letters = what.toUpperCase();
  const scaled = pieces.map((piece, i): Handle => {
    const x = (piece.from + piece.to) / 2;
    const plain = curveAt(file, x) as number;
    return {
      name: `${letters} of the ${pieceName(pieces, i)}`,
      x, y: plain * piece[what], moves: "y", step: plain / 100, least: plain * scale[0], most: plain * scale[1],
      text: scaleText(piece[what]), colour: piece[what] === 1 ? NAVY : RUST,
      move: (_, y, gesture) => moves.scale(i, what, Math.round((y / plain) * 100) / 100, gesture),
    };
  });
  const cuts = pieces.slice(1).map((piece, i): Handle => {
    const [least, most] = cutRange(pieces, i);
    return {
      name: `end of the ${pieceName(pieces, i)} (${letters})`,
      x: piece.from, y: 0, moves: "x", step: 5, least, most, text: length(piece.from), colour: INK,
      move: (x, _, gesture) => moves.cut(i, x, gesture),
    };
  });
  return [...scaled, ...cuts];
}
