// SPDX-License-Identifier: GPL-3.0-or-later
// What is looked at. All of it stands in the address, so that a link reopens it; what changes the answer can be
// undone.
import type { System } from "./units";

/** A setup's file, and what was changed in it: PATH: VALUE as --set has them. */
export interface Setup {
  folder: string;
  file: string;
  set: Record<string, string>;
}

/** `set` with one input changed; null = as it is in the file; no path = all as they are in it. */
export function setChanged(set: Record<string, string>, path: string, value: string | null): Record<string, string> {
  if (!path) return {};
  const { [path]: _, ...others } = set;
  return value === null ? others : { ...set, [path]: value };
}

export interface State extends Setup {
  view: string;
  beside: Setup[]; // those it is laid beside, at most three
  ask: Record<string, string>; // what else a view asks, by names of its own ("spread.swings"); undone
  see: Record<string, string>; // how a view is looked at, by names of its own; not undone
  time: number | null; // s from the start; null = impact
  factor: number; // by which the bending is drawn
  slow: number; // how many times slower than life it is played
  units: System;
  meanings: boolean;
}

const REMEMBERED = "caber.units";
export const FACTOR_MOST = 10;
export const SLOWS = [10, 20, 50, 100];
export const BESIDE_MOST = 3;

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

/** "a=b" lists of the address. */
function pairs(list: string[]): Record<string, string> {
  const found: Record<string, string> = {};
  for (const pair of list) {
    const at = pair.indexOf("=");
    if (at > 0) found[pair.slice(0, at)] = pair.slice(at + 1);
  }
  return found;
}

/** "models/neutral.yaml", and what was changed in each: "set2", "set3", "set4". */
function besideRead(asked: URLSearchParams): Setup[] {
  return asked.getAll("beside").slice(0, BESIDE_MOST).map((place, i) => {
    const [folder, ...file] = place.split("/");
    return { folder: folder === "user" ? "user" : "models", file: file.join("/"), set: pairs(asked.getAll(`set${i + 2}`)) };
  });
}

export function stateRead(hash: string): State {
  const [view, query] = hash.replace(/^#\/?/, "").split("?", 2);
  const asked = new URLSearchParams(query ?? "");
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
    set: pairs(asked.getAll("set")),
    beside: besideRead(asked),
    ask: pairs(asked.getAll("ask")),
    see: pairs(asked.getAll("see")),
    time: number("t", 0, 10),
    factor: number("drawn", 1, FACTOR_MOST) ?? 3,
    slow: slow && SLOWS.includes(slow) ? slow : 20,
    units: units === "trade" || units === "metric" ? units : remembered(),
    meanings: asked.get("meanings") === "1",
  };
}

export function stateWrite(state: State): string {
  const asked = new URLSearchParams();
  const each = (key: string, values: Record<string, string>) => {
    for (const [name, value] of Object.entries(values)) asked.append(key, `${name}=${value}`);
  };
  if (state.file) asked.set("setup", state.file);
  if (state.folder !== "models") asked.set("from", state.folder);
  each("set", state.set);
  state.beside.forEach((setup, i) => {
    asked.append("beside", `${setup.folder}/${setup.file}`);
    each(`set${i + 2}`, setup.set);
  });
  each("ask", state.ask);
  each("see", state.see);
  if (state.time !== null) asked.set("t", String(Number(state.time.toFixed(5))));
  asked.set("drawn", String(state.factor));
  asked.set("slow", String(state.slow));
  asked.set("units", state.units);
  if (state.meanings) asked.set("meanings", "1");
  return `#/${state.view}?${asked}`;
}

/** What undo brings back: what is asked, not how it is looked at. */
export type Step = Pick<State, "folder" | "file" | "set" | "beside" | "ask">;

export function stepOf({ folder, file, set, beside, ask }: State): Step {
  return { folder, file, set, beside, ask };
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
