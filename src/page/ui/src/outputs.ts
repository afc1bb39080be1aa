// SPDX-License-Identifier: GPL-3.0-or-later
// The outputs of a swing and its ball in a table, in groups, with what each means.
import type { Field } from "./api";
import { h } from "./dom";
import { plainName } from "./units";

export const GROUPS: [string, RegExp][] = [
  ["Delivery", /^(head_speed|shaft_speed|downswing|delivered|face_angle|closure|attack|path|strike|handle_lean|hands|arm)/],
  ["The shaft at impact", /^(lead|droop|tip_twist|loft|face_|lie)/],
  ["How the handle was loaded", /^(peak|grip)/],
  ["Where the shaft held its energy", /^(strain|energy_share|bend_point)/],
  ["The ball as it leaves", /^(struck|ball|smash|launch|backspin|sidespin|spin)/],
  ["Its flight", /^(carry|side|apex|flight|descent)/],
  ["The computation", /./],
];

export function groupOf(name: string): string {
  return (GROUPS.find(([, pattern]) => pattern.test(name)) as [string, RegExp])[0];
}

export interface OutputRow {
  name: string;
  unit: string;
  meaning: string;
}

/** What the program says of its values, by their names. */
export function fieldsOf(fields: Record<string, Field[]>, kinds = ["impact", "shot"]): Map<string, Field> {
  return new Map(kinds.flatMap((kind) => fields[kind] ?? []).map((f) => [f.name, f]));
}

export function outputRows(names: string[], fields: Record<string, Field[]>): OutputRow[] {
  const known = fieldsOf(fields);
  return names.map((name) => ({ name, unit: known.get(name)?.unit ?? "", meaning: known.get(name)?.meaning ?? "" }));
}

/** Each under its title; groups that have none are left out. */
export function outputGroups(rows: OutputRow[]): [string, OutputRow[]][] {
  return GROUPS.map(([title]): [string, OutputRow[]] => [title, rows.filter((r) => groupOf(r.name) === title)]).filter(([, list]) => list.length);
}

export interface OutputTable {
  label: string; // for who listens
  head: HTMLTableRowElement[];
  columns: number; // with that of the names
  groups: [string, OutputRow[]][]; // a title that is empty is not shown
  cells: (row: OutputRow) => HTMLElement[];
  meanings: boolean;
}

export function outputTable({ label, head, columns, groups, cells, meanings }: OutputTable): HTMLElement {
  const group = ([title, rows]: [string, OutputRow[]]) =>
    h(
      "tbody",
      {},
      title ? h("tr", { class: "group" }, h("th", { colspan: columns, scope: "colgroup" }, title)) : null,
      ...rows.flatMap((row) => [
        h("tr", {}, h("th", { scope: "row" }, plainName(row.name)), ...cells(row)),
        h("tr", { class: "meaning" }, h("td", { colspan: columns }, row.meaning)),
      ]),
    );
  return h(
    "div",
    { class: "scroll", tabindex: 0, role: "region", "aria-label": label },
    h("table", { class: meanings ? "with-meanings" : "" }, h("thead", {}, ...head), ...groups.map(group)),
  );
}

export function meaningsBox(on: boolean, set: (on: boolean) => void): HTMLElement {
  const box = h("input", { type: "checkbox", checked: on });
  box.addEventListener("change", () => set(box.checked));
  return h("label", { class: "check" }, box, "what they mean");
}
