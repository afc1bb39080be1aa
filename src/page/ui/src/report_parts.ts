// SPDX-License-Identifier: GPL-3.0-or-later
// Sections, tables and figures of a report; figures are numbered as they are made.
import { h, svg } from "./dom";
import { exportButtons } from "./exports";
import { type Figure, STROKES, curveSample, figureCsv, figureSvg, figureTitle, figureWords } from "./figure";
import { fileName } from "./save";
import type { System } from "./units";

type Cell = string | HTMLElement;

export interface Group {
  title?: string;
  /** The first is the row's head. `names` stand at the cells for who looks for a value. */
  rows: { cells: Cell[]; name?: string; strong?: boolean[] }[];
}

let made = 0;
let sections = 0;

/** Begins a document anew. */
export function partsBegin(): void {
  made = 0;
  sections = 0;
}

export function section(title: string, kind: string, ...children: (Node | string | null)[]): HTMLElement {
  const id = `part-${++sections}`;
  return h("section", { class: kind || undefined, "aria-labelledby": id }, h("h2", { id }, title), ...children);
}

/** Sentences that were the ends of others. */
export const sentences = (items: string[]): string[] => items.map((text) => `${text[0].toUpperCase()}${text.slice(1)}${/[.!?]$/.test(text) ? "" : "."}`);

export const paragraph = (text: string, kind = ""): HTMLElement => h("p", kind ? { class: kind } : {}, text);

export function list(items: string[], kind = ""): HTMLElement {
  return h("ul", kind ? { class: kind } : {}, ...items.map((item) => h("li", {}, item)));
}

/** A table with a caption; `heads` are rows of [text, columns that it spans], its first cell above the rows' heads. */
export function table(caption: string, heads: [string, number][][], groups: Group[], kind = ""): HTMLElement {
  const columns = heads[0].reduce((sum, [, span]) => sum + span, 0);
  const head = (text: string, span: number) => (text ? h("th", { scope: span > 1 ? "colgroup" : "col", colspan: span > 1 ? span : undefined }, text) : h("td", { colspan: span > 1 ? span : undefined }));
  const body = ({ title, rows }: Group) =>
    h(
      "tbody",
      {},
      title ? h("tr", { class: "group" }, h("th", { colspan: columns, scope: "colgroup" }, title)) : null,
      ...rows.map(({ cells, name, strong }) =>
        h("tr", {}, ...cells.map((c, i) => (i ? h("td", { "data-name": name, "data-column": name ? i : undefined, class: strong?.[i] ? "strong" : undefined }, c) : h("th", { scope: "row" }, c)))),
      ),
    );
  return h(
    "div",
    { class: "scroll", "data-caption": caption },
    h("table", { class: kind }, h("caption", {}, caption), h("thead", {}, ...heads.map((row) => h("tr", {}, ...row.map(([text, span]) => head(text, span))))), ...groups.filter((g) => g.rows.length).map(body)),
  );
}

/** Tables that are wider than their place can be moved by keys; the others are no stop on the way of the Tab key. */
export function tablesReach(root: HTMLElement): void {
  for (const place of root.querySelectorAll<HTMLElement>(".scroll")) {
    const wide = place.scrollWidth > place.clientWidth;
    for (const [name, value] of [["role", "region"], ["tabindex", "0"], ["aria-label", place.dataset.caption ?? ""]])
      if (wide) place.setAttribute(name, value);
      else place.removeAttribute(name);
  }
}

/** A drawing with its number and its caption. */
export function drawing(caption: string, picture: SVGElement, words: string, kind: string, tools?: HTMLElement): HTMLElement {
  picture.setAttribute("role", "img");
  picture.setAttribute("aria-label", words);
  picture.querySelector("title")?.remove(); // else it stands twice
  return h("figure", { class: `drawn ${kind}` }, picture as unknown as HTMLElement, h("figcaption", {}, h("strong", {}, `Figure ${++made}. `), caption, tools));
}

// At these widths letters of 12 px are those of the text beside them: half a column or the whole of it.
const WIDTHS = { half: 328, whole: 668 };

/** Which curve is whose, where the curves have numbers. */
export function curveKey(names: string[]): HTMLElement {
  return h("p", { class: "key" }, ...names.map((name, i) => h("span", {}, svg("svg", { width: 26, height: 10, "aria-hidden": "true" }, curveSample(STROKES[i])) as unknown as HTMLElement, ` ${i + 1} ${name}`)));
}

/** A chart; it is drawn by the same hand as on the live page. */
export function chart(figure: Figure, units: System, size: "half" | "whole", { height = 230, caption = "", short = false } = {}): HTMLElement {
  const svg = () => figureSvg(figure, units);
  const tools = exportButtons({ title: figure.title, file: () => fileName(figure.of, figure.title), svg, csv: () => figureCsv(figure, units) });
  // Many long names would leave no room for the curves: their numbers stand for them.
  const drawn = short ? { ...figure, curves: figure.curves.map((c, i) => ({ ...c, name: String(i + 1) })) } : figure;
  const picture = figureSvg(drawn, units, WIDTHS[size], height, false);
  const title = figureTitle(figure, units);
  return drawing(caption ? `${title}: ${caption}` : title, picture, `${title}. ${figureWords(figure, units)}`, size, tools);
}
