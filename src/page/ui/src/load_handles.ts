// SPDX-License-Identifier: GPL-3.0-or-later
// The points of a load program that can be dragged, and what of the program each of them moves.
import type { Handle } from "./chart";
import { GREEN, PLUM, RUST } from "./figure";
import { type Joint, type Load, round } from "./load_program";
import { type System, shown } from "./units";

/** New values of the load, in the units of its inputs. */
export type Change = (values: Record<string, number>, gesture: string) => void;

const MS = 1e-3;
const TIME_STEP = 1e-4; // s: what a dragged time is rounded to
const LEAST_RISE = 5 * MS; // s: shorter ones are set as numbers, below
const COUPLE_STEP = 0.1; // N m
const TORQUE_STEP = 1;

interface Place {
  now: Load;
  end: number; // s: of the chart
  units: System;
  at: (t: number) => number; // the curve as drawn, N m
  change: Change;
}

const time = (t: number) => round(t, TIME_STEP);

function said(value: number, unit: string, units: System): string {
  return Object.values(shown(value, unit, units)).join(" ");
}

/** A point on the curve that is moved in time, from `least` on. */
function timeHandle(p: Place, name: string, x: number, least: number, colour: string, values: (x: number) => Record<string, number>): Handle {
  return {
    name, x, y: p.at(x), moves: "x", step: MS, least, most: Math.max(least, p.end), colour, text: said(x, "s", p.units),
    move: (to, _, gesture) => p.change(values(time(to)), gesture),
  };
}

/** Where the couple has come to its height: moved in both. */
function heightHandle(p: Place): Handle {
  const [peak, onset, rise] = ["peak", "onset", "rise"].map((key) => p.now.number(`grip.${key}`));
  const input = p.now.input("grip.peak");
  return {
    name: "height", x: onset + rise, y: peak, moves: "both", step: 2 * COUPLE_STEP, stepX: MS, least: input?.least ?? peak, most: input?.most ?? peak,
    colour: RUST, text: `${said(peak, "N m", p.units)}, reached at ${said(onset + rise, "s", p.units)}`,
    move(x, y, gesture) {
      const values: Record<string, number> = {};
      if (x !== this.x) values["grip.rise"] = time(Math.max(LEAST_RISE, Math.min(x, p.end) - onset));
      if (y !== this.y) values["grip.peak"] = round(y, COUPLE_STEP);
      p.change(values, gesture);
    },
  };
}

/** The late couple's height stands where nothing else is left of the program. */
function lateHandle(p: Place): Handle {
  const late = p.now.number("grip.late");
  const input = p.now.input("grip.late");
  return {
    name: "late couple", x: 0.985 * p.end, y: late, moves: "y", step: 2 * COUPLE_STEP, least: input?.least ?? late, most: input?.most ?? late,
    colour: PLUM, text: said(late, "N m", p.units),
    move(_, y, gesture) {
      const values: Record<string, number> = { "grip.late": round(y, COUPLE_STEP) };
      // A file without a late couple need not say when it begins.
      if (!late && !p.now.number("grip.late_onset")) values["grip.late_onset"] = p.now.number("grip.release");
      p.change(values, gesture);
    },
  };
}

function gripHandles(p: Place): Handle[] {
  const [release, fall, late, lateOnset, lateRise] = ["release", "fall", "late", "late_onset", "late_rise"].map((key) => p.now.number(`grip.${key}`));
  const list = [
    heightHandle(p),
    timeHandle(p, "release", release, 0, RUST, (x) => ({ "grip.release": x })),
    timeHandle(p, "fallen", release + fall, release + LEAST_RISE, RUST, (x) => ({ "grip.fall": time(x - release) })),
  ];
  if (late)
    list.push(
      timeHandle(p, "late begins", lateOnset, 0, PLUM, (x) => ({ "grip.late_onset": x })),
      timeHandle(p, "late is full", lateOnset + lateRise, lateOnset + LEAST_RISE, PLUM, (x) => ({ "grip.late_rise": time(x - lateOnset) })),
    );
  return [...list, lateHandle(p)];
}

function hubHandles(p: Place): Handle[] {
  const [peak, rise] = [p.now.number("hub.peak"), p.now.number("hub.rise")];
  const input = p.now.input("hub.peak");
  return [
    {
      name: "peak", x: 0.985 * p.end, y: p.at(0.985 * p.end), moves: "y", step: TORQUE_STEP, least: input?.least ?? 0, most: input?.most ?? peak,
      colour: GREEN, text: said(peak, "N m", p.units),
      // The curve comes near its peak, not to it.
      move: (_, y, gesture) => p.change({ "hub.peak": round((y * peak) / p.at(0.985 * p.end), TORQUE_STEP) }, gesture),
    },
    // 1 - exp(-1) of the peak, 63 %, is reached at the time constant.
    timeHandle(p, "rise", rise, LEAST_RISE, GREEN, (x) => ({ "hub.rise": x })),
  ];
}

export function loadHandles(joint: Joint, place: Place): Handle[] {
  if (place.now.drive(joint) !== "program") return [];
  const list = joint === "grip" ? gripHandles(place) : joint === "hub" ? hubHandles(place) : [];
  return list.filter((handle) => handle.x >= 0 && handle.x <= place.end);
}
