// SPDX-License-Identifier: GPL-3.0-or-later
// Turning the two pictures of a swing: by hand, or by arrow keys when one has the focus.
import { h } from "./dom";
import type { State } from "./state";

/** From where a picture is seen, deg: about the vertical, and up from where it was. */
export interface Turn {
  about: number;
  up: number;
}

export const AS_IT_WAS: Turn = { about: 0, up: 0 };
export const PICTURES = [
  { name: "down the line", key: "swing.turn.line" },
  { name: "face on", key: "swing.turn.face" },
];
const UP = { least: -15, most: 80 };
const PER_PIXEL = 0.4;
const PER_KEY = 5;

function within({ about, up }: Turn): Turn {
  const round = Math.round(((((about + 180) % 360) + 360) % 360) - 180);
  return { about: round, up: Math.round(Math.min(UP.most, Math.max(UP.least, up))) };
}

/** "30,10" of the address. */
export function turnRead(see: State["see"], picture: number): Turn {
  const [about, up] = (see[PICTURES[picture].key] ?? "").split(",").map(Number.parseFloat);
  return Number.isFinite(about) && Number.isFinite(up) ? within({ about, up }) : AS_IT_WAS;
}

/** How it is looked at, with a picture turned. */
export function turnWrite(see: State["see"], picture: number, turn: Turn): State["see"] {
  const { [PICTURES[picture].key]: _, ...rest } = see;
  const { about, up } = within(turn);
  return about || up ? { ...rest, [PICTURES[picture].key]: `${about},${up}` } : rest;
}

export function turnWords({ about, up }: Turn): string {
  if (!about && !up) return "as it was";
  return `turned ${Math.abs(about)} deg ${about < 0 ? "clockwise" : "anticlockwise"} as seen from above, ${Math.abs(up)} deg ${up < 0 ? "lower" : "higher"}`;
}

/** What lies over a picture and takes the hand and the keys. */
export class Turner {
  readonly element: HTMLElement;
  private turn: Turn = AS_IT_WAS;

  constructor(picture: number, move: (turn: Turn) => void) {
    const { name } = PICTURES[picture];
    this.element = h("div", {
      class: picture ? "turner second" : "turner", role: "slider", tabindex: 0, "aria-label": `turn the picture ${name}`,
      "aria-valuemin": -180, "aria-valuemax": 180, title: "drag to turn; or arrow keys",
    });
    let from = { x: 0, y: 0, turn: AS_IT_WAS };
    this.element.addEventListener("pointerdown", (event) => {
      this.element.setPointerCapture(event.pointerId);
      from = { x: event.clientX, y: event.clientY, turn: this.turn };
    });
    this.element.addEventListener("pointermove", (event) => {
      if (!this.element.hasPointerCapture(event.pointerId)) return;
      move({ about: from.turn.about - (event.clientX - from.x) * PER_PIXEL, up: from.turn.up + (event.clientY - from.y) * PER_PIXEL });
    });
    this.element.addEventListener("keydown", (event) => {
      const [right, up] = [{ ArrowRight: 1, ArrowLeft: -1 }[event.key] ?? 0, { ArrowUp: 1, ArrowDown: -1 }[event.key] ?? 0];
      if (event.key === "Home") move(AS_IT_WAS);
      else if (right || up) move({ about: this.turn.about + right * PER_KEY, up: this.turn.up + up * PER_KEY });
      else return;
      event.preventDefault();
    });
    this.show(AS_IT_WAS);
  }

  show(turn: Turn): void {
    this.turn = turn;
    this.element.setAttribute("aria-valuenow", String(turn.about));
    this.element.setAttribute("aria-valuetext", turnWords(turn));
  }
}
