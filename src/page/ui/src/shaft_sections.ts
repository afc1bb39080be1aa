// SPDX-License-Identifier: GPL-3.0-or-later
// The sections as a table: where each begins and ends and how it differs, to be typed where a hand is not exact enough.
import { button, h } from "./dom";
import { PIECES_MOST, type Piece, SCALES, SHORTEST, type Scale, cutMoved, isChanged, pieceJoined, pieceName, pieceScaled, pieceSplit } from "./sections";
import { type System, convert, numberText, unitShown } from "./units";

const HEADS: Record<Scale, string> = { ei: "EI", gj: "GJ", mass: "mass" };
const MEANINGS: Record<Scale, string> = {
  ei: "% more stiffness against bending than in the file; below 0 softer",
  gj: "% more stiffness against twisting than in the file; below 0 softer",
  mass: "% more mass than in the file; below 0 lighter",
};

export class SectionsTable {
  readonly element = h("section", { class: "sheet answer", "aria-labelledby": "sections-title" });
  private readonly body = h("tbody");
  private readonly heads = h("tr");
  private pieces: Piece[] = [];
  private units: System = "metric";

  constructor(private readonly change: (pieces: Piece[]) => void) {
    this.element.append(
      h("header", {}, h("h2", { id: "sections-title" }, "The sections")),
      h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Table of the sections" }, h("table", { class: "list" }, h("thead", {}, this.heads), this.body)),
    );
  }

  show(pieces: Piece[], units: System): void {
    const focused = document.activeElement instanceof HTMLElement && this.element.contains(document.activeElement) ? document.activeElement.id : "";
    this.pieces = pieces;
    this.units = units;
    const unit = unitShown("mm", units);
    this.heads.replaceChildren(...["section", `from, ${unit}`, `to, ${unit}`, ...SCALES.map((s) => `${HEADS[s]}, %`)].map((t) => h("th", { scope: "col" }, t)), h("td"));
    this.body.replaceChildren(...pieces.map((piece, i) => this.row(piece, i)));
    if (focused) document.getElementById(focused)?.focus();
  }

  /** Marks the value that was not allowed. */
  wrong(field: string | null, own: number): void {
    for (const control of this.element.querySelectorAll("[aria-invalid]")) control.removeAttribute("aria-invalid");
    const [, index, key] = /^shaft\.sections\[(\d+)\]\.(ei|gj|mass)_scale$/.exec(field ?? "") ?? [];
    if (!key) return;
    const changed = this.pieces.flatMap((piece, i) => (isChanged(piece) ? [i] : []));
    document.getElementById(`section-${key}-${changed[Number(index) - own]}`)?.setAttribute("aria-invalid", "true");
  }

  private length(mm: number): string {
    const unit = unitShown("mm", this.units);
    return numberText(convert(mm, "mm", unit), unit).replace(/\.0$/, "");
  }

  private row(piece: Piece, i: number): HTMLElement {
    const name = pieceName(this.pieces, i);
    const last = i === this.pieces.length - 1;
    const act = (text: string, label: string, pieces: () => Piece[], key: string) => button(text, () => this.change(pieces()), { class: "small", id: `section-${key}-${i}`, "aria-label": label });
    return h(
      "tr",
      { class: isChanged(piece) ? "changed" : "" },
      h("th", { scope: "row" }, name),
      h("td", {}, this.length(piece.from)),
      h("td", {}, last ? this.length(piece.to) : this.entry(`section-to-${i}`, `end of the ${name}`, this.length(piece.to), (value) => cutMoved(this.pieces, i, convert(value, unitShown("mm", this.units), "mm")))),
      ...SCALES.map((s) => h("td", {}, this.scaleEntry(piece, i, name, s))),
      h(
        "td",
        { class: "acts" },
        isChanged(piece) ? act("as in the file", `as in the file: the ${name}`, () => pieceScaled(this.pieces, i, { ei: 1, gj: 1, mass: 1 }), "plain") : null,
        this.pieces.length < PIECES_MOST && piece.to - piece.from >= 2 * SHORTEST ? act("cut in two", `cut in two: the ${name}`, () => pieceSplit(this.pieces, i), "split") : null,
        last ? null : act("join the next", `join the next: the ${name} and the ${pieceName(this.pieces, i + 1)}`, () => pieceJoined(this.pieces, i), "join"),
      ),
    );
  }

  private scaleEntry(piece: Piece, i: number, name: string, scale: Scale): HTMLElement {
    const percent = Number(((piece[scale] - 1) * 100).toFixed(2));
    const text = `${percent > 0 ? "+" : percent < 0 ? "−" : ""}${Math.abs(percent)}`;
    return this.entry(`section-${scale}-${i}`, `${HEADS[scale]} of the ${name}`, text, (value) => pieceScaled(this.pieces, i, { [scale]: Number((1 + value / 100).toFixed(6)) }), MEANINGS[scale]);
  }

  private entry(id: string, label: string, value: string, to: (value: number) => Piece[], meaning = ""): HTMLElement {
    const box = h("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", "aria-label": label, value, title: meaning || undefined });
    box.addEventListener("change", () => {
      const typed = Number(box.value.trim().replace("−", "-").replace("%", "") || Number.NaN);
      if (Number.isFinite(typed)) this.change(to(typed));
      else box.value = value; // nothing was said
    });
    return box;
  }
}
