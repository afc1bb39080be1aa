// SPDX-License-Identifier: GPL-3.0-or-later
// What a view is, and what all of them get.
import type { Field, ModelFile } from "./api";
import type { State } from "./state";

export interface Shell {
  readonly state: State;
  readonly fields: Record<string, Field[]>;
  readonly setups: ModelFile[]; // those that can be read
  /** Changes how it is looked at: goes into the address, not into the history. */
  look(change: Partial<State>): void;
  /** Changes what is computed; can be undone. Changes of one gesture (a drag) are one step. */
  alter(change: Partial<State>, gesture?: string): void;
  undo(): void;
  canUndo(): boolean;
}

export interface View {
  element: HTMLElement;
  /** The state is another one: show it. */
  update(): void;
  /** Keys that no control has taken. Returns whether it was one of the view's. */
  key(event: KeyboardEvent): boolean;
  /** The view is left. */
  close(): void;
}

export interface ViewKind {
  name: string; // in the address
  title: string;
  open(shell: Shell): View;
}
