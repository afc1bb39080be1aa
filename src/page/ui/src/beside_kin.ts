// SPDX-License-Identifier: GPL-3.0-or-later
// Who swings what, of every setup there is: to offer those that go beside one another.
import { type ModelFile, api } from "./api";
import type { Setup } from "./state";

export interface Made {
  setup: string;
  shaft: string;
  head: string;
  player: string;
}

const MOST = 60; // setups that are asked for; the others can be chosen all the same
const AT_ONCE = 4;

export const keyOf = ({ folder, file }: { folder: string; file: string }) => `${folder}/${file}`;

export class Kin {
  private readonly made = new Map<string, Made>();
  private readonly stopped = new AbortController();
  private begun = false;

  constructor(
    private readonly setups: ModelFile[],
    private readonly news: () => void,
  ) {}

  of(setup: { folder: string; file: string }): Made | undefined {
    return this.made.get(keyOf(setup));
  }

  /** Reads them once; a setup that cannot be read is left out. */
  async load(): Promise<void> {
    if (this.begun) return;
    this.begun = true;
    const list = this.setups.slice(0, MOST);
    const reader = async () => {
      for (let f = list.shift(); f && !this.stopped.signal.aborted; f = list.shift()) {
        const { folder, file } = f;
        const found = await api.inputs({ folder, file, set: {} }, this.stopped.signal).catch(() => null);
        if (found) this.made.set(keyOf(f), found.result);
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, reader));
    if (!this.stopped.signal.aborted) this.news();
  }

  stop(): void {
    this.stopped.abort();
  }

  /** How a setup stands to the first: what alone is another. */
  relation(first: Setup, other: ModelFile): "shaft" | "head" | "player" | "more" | "" {
    const [a, b] = [this.of(first), this.of(other)];
    if (!a || !b) return "";
    const changed = (["shaft", "head", "player"] as const).filter((part) => a[part] !== b[part]);
    return changed.length === 1 ? changed[0] : changed.length ? "more" : "";
  }
}
