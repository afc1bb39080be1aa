// SPDX-License-Identifier: GPL-3.0-or-later
// What is looked at. All of it stands in the address, so that a link reopens it; what changes the swing can be
// undone.
import type { System } from "./units";

export interface State {
  view: string;
  folder: string;
  file: string;
  set: Record<string, string>;
  time: number | null; // s from the start; null = impact
  factor: number; // by which the bending is drawn
  slow: number; // how many times slower than life it is played
  units: System;
  meanings: boolean;
}

const REMEMBERED = "caber.units";
export const FACTOR_MOST = 10;
export const SLOWS = [10, 20, 50, 100];

function remembered(): System {
  try {
    return localStorage.getItem(REMEMBERED) === "trade" ? "trade" : "metric";
  } catch {
    return "metric";
  }
}

export function unitsRemember(units: System): void {
  try {
    localStorage.setItem(REMEMBERED, units);
  } catch {
    // A browser that keeps nothing: the link still says it.
  }
}

export function stateRead(hash: string): State {
  const [view, query] = hash.replace(/^#\/?/, "").split("?", 2);
  const asked = new URLSearchParams(query ?? "");
  const set: Record<string, string> = {};
  for (const pair of asked.getAll("set")) {
    const at = pair.indexOf("=");
    if (at > 0) set[pair.slice(0, at)] = pair.slice(at + 1);
  }
  const number = (key: string, least: number, most: number): number | null => {
    const value = Number.parseFloat(asked.get(key) ?? "");
    return Number.isFinite(value) ? Math.min(most, Math.max(least, value)) : null;
  };
  const units = asked.get("units");
  const slow = number("slow", 1, 1000);
  return {
    view: view || "swing",
    folder: asked.get("from") === "user" ? "user" : "models",
    file: asked.get("setup") ?? "",
    set,
    time: number("t", 0, 10),
    factor: number("drawn", 1, FACTOR_MOST) ?? 3,
    slow: slow && SLOWS.includes(slow) ? slow : 20,
    units: units === "trade" || units === "metric" ? units : remembered(),
    meanings: asked.get("meanings") === "1",
  };
}

export function stateWrite(state: State): string {
  const asked = new URLSearchParams();
  if (state.file) asked.set("setup", state.file);
  if (state.folder !== "models") asked.set("from", state.folder);
  for (const [path, value] of Object.entries(state.set)) asked.append("set", `${path}=${value}`);
  if (state.time !== null) asked.set("t", String(Number(state.time.toFixed(5))));
  asked.set("drawn", String(state.factor));
  asked.set("slow", String(state.slow));
  asked.set("units", state.units);
  if (state.meanings) asked.set("meanings", "1");
  return `#/${state.view}?${asked}`;
}

/** What undo brings back: which swing it is, not how it is looked at. */
export interface Step {
  folder: string;
  file: string;
  set: Record<string, string>;
}

export class History {
  private past: Step[] = [];
  private future: Step[] = [];

  /** Keeps what was there before a change. */
  keep(step: Step): void {
    this.past.push(step);
    this.future = [];
  }
  get canUndo(): boolean {
    return this.past.length > 0;
  }
  get canRedo(): boolean {
    return this.future.length > 0;
  }
  undo(now: Step): Step | undefined {
    const step = this.past.pop();
    if (step) this.future.push(now);
    return step;
  }
  redo(now: Step): Step | undefined {
    const step = this.future.pop();
    if (step) this.past.push(now);
    return step;
  }
}
