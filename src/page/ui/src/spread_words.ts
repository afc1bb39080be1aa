// SPDX-License-Identifier: GPL-3.0-or-later
// The spread in short, in plain words; and of two setups, which spreads less.
import { h } from "./dom";
import { type Cause, type Club, type Found, JOINTLY, MARKS, type Reading, type Share, type Span, causesOf, habitName, percentText, rightOf, sideWord } from "./spread_data";

type Word = Node | string;

/** A number that the words are about. */
function figure(name: string, text: string): HTMLElement {
  return h("b", { "data-short": name }, text);
}

/** "88.0 % (80.0 to 93.6)" */
function shareText(share: Share): string {
  return `${percentText(share.share)} % (${percentText(share.low)} to ${percentText(share.high)})`;
}

function meanWords(found: Found, reading: Reading, i: number): Word[] {
  const { landing: l, outputs } = found.setups[i];
  const carry = outputs.carry_m;
  return [
    "In the mean a ball carries ", figure("carry", reading.whole("carry_m", l.carry_m)), ` (± ${reading.half("carry_m", carry.mean_low, carry.mean_high)}) and lands `,
    figure("side", reading.whole("side_m", Math.abs(l.side_m))), ` ${sideWord(found, i, l.side_m)} of the target line. About two in three carry within `,
    figure("carry-sd", `${reading.sd("carry_m", carry.sd)} ${reading.unit("carry_m")}`), " of that, and land within ",
    figure("side-sd", `${reading.sd("side_m", outputs.side_m.sd)} ${reading.unit("side_m")}`), " of it to the side.",
  ];
}

function ellipseWords(found: Found, reading: Reading, i: number): Word[] {
  const { landing: l } = found.setups[i];
  const axes = (part: number, scale: number) => figure(`ellipse-${part}`, `${reading.text("carry_m", 2 * scale * l.major_m)} by ${reading.whole("carry_m", 2 * scale * l.minor_m)}`);
  const turn = Math.abs(l.turn_deg).toFixed(0);
  const where = turn === "0" ? "along the target line" : `turned ${turn} deg to the ${rightOf(found, i, l.turn_deg) < 0 ? "left" : "right"}`;
  return [
    "Nine balls in ten land in an ellipse of ", axes(90, l.scale_90), `, its length ${where}, and half of them in one of `, axes(50, l.scale_50),
    ", if they spread normally; of these balls ", figure("within-90", `${percentText(l.within_90.share)} %`), " and ", figure("within-50", `${percentText(l.within_50.share)} %`), " did.",
  ];
}

function fairwayWords(found: Found, reading: Reading, i: number): Word[] {
  const { landing: l } = found.setups[i];
  return [
    figure("fairway", shareText(l.fairway)), ` land on a fairway ${reading.whole("carry_m", found.fairway_m)} wide; `, figure("aimed", shareText(l.aimed)),
    " would, if the player aimed so that the mean is in its middle.",
  ];
}

/** The largest shares, "rise (26 %), square (21 %)"; what habits do jointly stands last. */
function causesWords(causes: Cause[]): Word[] {
  const own = causes.filter((c) => c.habit !== JOINTLY).slice(0, 3).filter((c) => c.share >= 0.05);
  const rest = causes.find((c) => c.habit === JOINTLY);
  const parts = own.flatMap(({ habit, share }, k): Word[] => [k ? ", " : "", h("b", { "data-cause": habit }, habitName(habit)), ` (${percentText(share, 0)} %)`]);
  if (rest && Math.abs(rest.share) >= 0.05) parts.push(`; ${percentText(rest.share, 0)} % is what habits do only jointly`);
  return parts.length ? parts : ["no habit above others"];
}

function whyWords(club: Club): Word[] {
  return ["What makes the carry vary most: ", ...causesWords(causesOf(club.outputs.carry_m)), ". The side: ", ...causesWords(causesOf(club.outputs.side_m)), "."];
}

function heading(found: Found, i: number): HTMLElement {
  return h("h3", {}, h("span", { class: `sign sign-${i}`, "aria-hidden": "true" }, MARKS[i].sign), ` ${found.names[i]}`);
}

function clubWords(found: Found, reading: Reading, i: number): HTMLElement {
  const paragraphs = [meanWords(found, reading, i), ellipseWords(found, reading, i), fairwayWords(found, reading, i), whyWords(found.setups[i])];
  return h("div", { class: "club", "data-club": i }, found.names.length > 1 ? heading(found, i) : null, ...paragraphs.map((p) => h("p", {}, ...p)));
}

// ---------------------------------------------------------------- two setups

function direction(found: Found, which: "carry" | "side"): string {
  const contrast = found.contrast;
  const ratio = contrast?.outputs[`${which}_m`].sd_ratio.value;
  if (!contrast || typeof ratio !== "number") return "that is not told";
  const apart = (100 * (Math.max(ratio, 1 / ratio) - 1)).toFixed(1);
  const steadier = contrast[`steadier_${which}`];
  if (steadier) return `${found.names[steadier === "first" ? 0 : 1]} spreads ${(100 * (1 - (steadier === "first" ? 1 / ratio : ratio))).toFixed(1)} % less`;
  return contrast[`alike_${which}`] ? `the two are alike (${apart} % apart)` : `that is not told (${apart} % apart)`;
}

function verdict(found: Found): string {
  const c = found.contrast;
  if (!c) return "";
  if (c.steadier) return found.names[c.steadier === "first" ? 0 : 1];
  if (c.steadier_carry && c.steadier_side) return "Neither in all";
  return c.alike ? "Neither: they are alike" : `Not told apart by ${c.pairs} swings`;
}

function row(name: string, label: string, first: string, second: string, span: Span | undefined, text: (v: number) => string): HTMLElement {
  const value = (v: number | null | undefined) => (typeof v === "number" ? text(v) : "none");
  return h(
    "tr",
    { "data-beside": name },
    h("th", { scope: "row" }, label),
    h("td", {}, first),
    h("td", {}, second),
    h("td", {}, value(span?.value)),
    h("td", {}, span ? `${value(span.low)} to ${value(span.high)}` : ""),
  );
}

/** Both, and the second over the first or less the first, with its interval. */
function besideTable(found: Found, reading: Reading): HTMLElement {
  const [a, b] = found.setups;
  const c = found.contrast;
  const ratio = (v: number) => v.toFixed(3);
  const points = (v: number) => `${v > 0 ? "+" : ""}${percentText(v)}`;
  const sd = (name: string, label: string) => {
    const like = Math.max(a.outputs[name].sd, b.outputs[name].sd);
    return row(`${name}-sd`, `sd of the ${label}, ${reading.unit(name)}`, reading.sd(name, a.outputs[name].sd, like), reading.sd(name, b.outputs[name].sd, like), c?.outputs[name].sd_ratio, ratio);
  };
  const head = (...titles: string[]) => h("tr", {}, ...titles.map((t) => (t ? h("th", { scope: "col" }, t) : h("td"))));
  const { unit } = reading.area(1);
  const share = (name: "fairway" | "aimed", label: string) =>
    row(name, label, percentText(a.landing[name].share), percentText(b.landing[name].share), c?.[`${name}_difference`], points);
  return h(
    "table",
    { class: "verdict" },
    h("thead", {}, head("", `${MARKS[0].sign} first`, `${MARKS[1].sign} second`, "ratio", "interval")),
    h("tbody", {}, sd("carry_m", "carry"), sd("side_m", "side"), row("area", `ellipse for 90 %, ${unit}`, reading.area(a.landing.area_90_m2).text, reading.area(b.landing.area_90_m2).text, c?.area_ratio, ratio)),
    h("thead", {}, head("", "", "", "more", "interval")),
    h("tbody", {}, share("fairway", "on the fairway, %"), share("aimed", "the same, aimed at it, %")),
  );
}

function verdictWords(found: Found, reading: Reading): HTMLElement {
  const worth = (100 * found.worth).toFixed(0);
  return h(
    "div",
    { class: "beside-words" },
    h("p", { class: "answered" }, "Which is the more consistent? ", figure("verdict", verdict(found)), `. Along the target line ${direction(found, "carry")}; across it ${direction(found, "side")}.`),
    besideTable(found, reading),
    h("p", { class: "fine" }, `Each swing was made with both, so that chance favours neither. On common swings a hundredth part of a difference shows, which no player would ever notice: spreads less than ${worth} % apart count as alike. Intervals are for ${(100 * found.level).toFixed(0)} %.`),
  );
}

export class SpreadShort {
  private readonly place = h("div", { class: "words" });
  readonly element: HTMLElement;

  constructor(notes: Node) {
    this.element = h("section", { class: "sheet short", "aria-labelledby": "short-title" }, h("h2", { id: "short-title" }, "In short"), this.place, notes);
  }

  show(found: Found, reading: Reading): void {
    this.place.replaceChildren(
      ...(found.contrast ? [verdictWords(found, reading)] : []),
      h("div", { class: "clubs" }, ...found.names.map((_, i) => clubWords(found, reading, i))),
    );
  }
}
