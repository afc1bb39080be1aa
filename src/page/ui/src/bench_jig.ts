// SPDX-License-Identifier: GPL-3.0-or-later
// How the bench is set: clamps, tip masses and loads, as texts with units.
import { type Bench, JIG, type JigField } from "./bench_ask";
import { button, h } from "./dom";
import { type System, convert } from "./units";

/** The unit in which a fitter sets it. */
export function jigUnit(unit: string, units: System): string {
  const metric: Record<string, string> = { m: "mm", kg: "g" };
  const trade: Record<string, string> = { m: "in", kg: "g", N: "lbf", "N m": "ft lbf" };
  return (units === "trade" ? trade[unit] : metric[unit]) ?? unit;
}

export const jigNumber = (value: number) => String(Number(value.toPrecision(6)));

const NUMBER = /^([-+]?(?:\d+\.?\d*|\.\d+))\s*(.*)$/;

/** "5 in" in another unit, as it stands in a box; what is no quantity stays as it is. */
function tokenIn(token: string, unit: string): string {
  const found = NUMBER.exec(token.trim());
  if (!found || !unit) return token.trim();
  try {
    return jigNumber(convert(Number(found[1]), found[2], unit));
  } catch {
    return token.trim();
  }
}

/** What was typed, each number with a unit: the one shown beside the box where it has none. */
function tokenTyped(token: string, unit: string): string {
  const text = token.trim().replace("−", "-");
  const found = NUMBER.exec(text);
  return found && !found[2] && unit ? `${found[1]} ${unit}` : text;
}

export class JigPanel {
  readonly element = h("section", { class: "inputs jig", "aria-labelledby": "jig-title" });

  constructor(private readonly change: (key: string, text: string | null) => void) {}

  /** `bench` is null before the first answer: then only what was asked stands there. */
  show(ask: Record<string, string>, bench: Bench | null, units: System): void {
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.id : "";
    const changed = JIG.filter(({ key }) => ask[`bench.${key}`] !== undefined).length;
    this.element.replaceChildren(
      h(
        "header",
        {},
        h("h2", { id: "jig-title" }, "How the bench is set"),
        changed ? button(`as usual (${changed} changed)`, () => this.change("", null), { class: "small" }) : null,
      ),
      h("div", { class: "fields" }, ...JIG.map((field) => this.row(field, ask[`bench.${field.key}`], bench, units))),
    );
    if (focused) document.getElementById(focused)?.focus();
  }

  wrong(key: string | null): void {
    for (const box of this.element.querySelectorAll("[aria-invalid]")) box.removeAttribute("aria-invalid");
    if (key) document.getElementById(`jig-${key.replace(/[^a-z_].*/, "")}`)?.setAttribute("aria-invalid", "true");
  }

  private values(field: JigField, bench: Bench): number[] {
    if (field.key === "clamp") return bench.frequency_table.clamp_m;
    if (field.key === "tip_mass") return bench.frequency_table.tip_mass_kg;
    return [field.of ? bench.jig[field.of] : bench.frequencies_hz.length];
  }

  private text(field: JigField, asked: string | undefined, bench: Bench | null, unit: string): string {
    if (asked !== undefined) return asked.split(",").map((t) => tokenIn(t, unit)).join(", ");
    return bench ? this.values(field, bench).map((v) => jigNumber(convert(v, field.unit, unit))).join(", ") : "";
  }

  private row(field: JigField, asked: string | undefined, bench: Bench | null, units: System): HTMLElement {
    const { key, label, list, meaning } = field;
    const unit = jigUnit(field.unit, units);
    const id = `jig-${key}`;
    const box = h("input", {
      id, type: "text", autocomplete: "off", "aria-describedby": `${id}-about`, value: this.text(field, asked, bench, unit),
    });
    box.addEventListener("change", () => {
      const tokens = (list ? box.value.split(",") : [box.value]).map((t) => tokenTyped(t, unit));
      this.change(key, box.value.trim() ? tokens.join(",") : null);
    });
    const back = button("back", () => this.change(key, null), { class: "small", "aria-label": `back: ${label} as usual` });
    return h(
      "div",
      { class: `field ${list ? "wide" : ""} ${asked === undefined ? "" : "changed"}` },
      h("label", { for: id }, label),
      h("span", { class: "entry" }, box, unit ? h("span", { class: "unit" }, unit) : null),
      asked === undefined ? null : back,
      h("small", { id: `${id}-about` }, meaning),
    );
  }
}
