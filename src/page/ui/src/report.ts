// SPDX-License-Identifier: GPL-3.0-or-later
// The report of caber report: the live page's components with the data baked in, for the screen and for paper.
import { button, h } from "./dom";
import { answer, differences } from "./report_answer";
import { alongShaft, isMany, loads, throughTime } from "./report_charts";
import { Reading, type ReportData } from "./report_data";
import { limits, made } from "./report_end";
import { curveKey, list, paragraph, partsBegin, section, sentences, tablesReach } from "./report_parts";
import { LEGEND, pictures } from "./report_pictures";
import { spread } from "./report_spread";
import { benchTable, buildTable, impactTable, loadTable, rulesTable, trimsTable } from "./report_tables";
import { type System, unitsLoad } from "./units";

const place = document.getElementById("page") as HTMLElement;
const data = JSON.parse(document.getElementById("data")?.textContent ?? "null") as ReportData;

/** Charts, under the key to their numbers where there are many curves. */
const grid = (reading: Reading, figures: HTMLElement[]): HTMLElement =>
  h("div", {}, isMany(reading) ? curveKey(reading.data.setups.map((s) => s.name)) : null, h("div", { class: "grid" }, ...figures));

/** Who swings what. */
function subjects(reading: Reading): HTMLElement {
  const one = reading.data.setups.map(({ name, inputs }) => `${name}: ${inputs.player} swings ${inputs.shaft} with ${inputs.head} and ${inputs.grip}`);
  return reading.several ? h("ol", { class: "subjects" }, ...one.map((text) => h("li", {}, text))) : paragraph(one[0], "subjects");
}

function body(reading: Reading): HTMLElement {
  const { setups, warnings } = reading.data;
  const trims = setups.map((s) => trimsTable(reading, s)).filter((t): t is HTMLElement => t !== null);
  const club = () => section("The club in the swing", "", paragraph(LEGEND, "fine"), ...setups.map((s) => pictures(reading, s)));
  const side = () => section(reading.several ? "Side by side" : "The figures", "side", isMany(reading) ? differences(reading) : null, impactTable(reading));
  return h(
    "main",
    { id: "main" },
    h("header", {}, h("p", { class: "maker" }, "caber"), h("h1", {}, reading.data.question), subjects(reading)),
    section("In short", "", ...answer(reading), warnings.length ? list(sentences(warnings), "warnings") : null),
    ...(reading.several ? [side(), club()] : [club(), side()]),
    section("Through time", "", grid(reading, throughTime(reading))),
    section(reading.several ? "The shafts" : "The shaft", "", grid(reading, alongShaft(reading)), buildTable(reading)),
    section("The player’s load", "", grid(reading, loads(reading)), loadTable(reading)),
    section("From swing to swing", "", ...spread(reading)),
    section("On the bench", "", benchTable(reading), ...trims, rulesTable(reading)),
    section("Limits and cautions", "whole", ...limits(reading)),
    section("What this was made from", "whole", ...made(reading)),
  );
}

/** Above the sheet, on the screen alone. */
function bar(units: System): HTMLElement {
  const select = h("select", { id: "units" }, ...["metric", "trade"].map((u) => h("option", { value: u, selected: u === units }, u)));
  select.addEventListener("change", () => show(select.value as System));
  return h("nav", { class: "bar", "aria-label": "This report" }, h("label", { for: "units" }, "units"), select, button("Print", () => print(), { class: "print" }));
}

function show(units: System): void {
  const focused = document.activeElement?.id;
  const open = [...place.querySelectorAll("details")].map((d) => d.open);
  partsBegin();
  place.replaceChildren(bar(units), body(new Reading(data, units)));
  place.querySelectorAll("details").forEach((d, i) => (d.open = open[i] ?? false));
  tablesReach(place);
  if (focused) document.getElementById(focused)?.focus();
}

unitsLoad(data.unit_table);
show(data.units);
addEventListener("resize", () => tablesReach(place));
