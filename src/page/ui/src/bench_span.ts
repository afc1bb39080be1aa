// SPDX-License-Identifier: GPL-3.0-or-later
// The three-point bend along the shaft, and the stiffness that it reads beside the shaft's own.
import type { Bench, ShaftCurve } from "./bench_ask";
import { Chart } from "./chart";
import { type Axis, type Figure, NAVY, RUST } from "./figure";
import type { System } from "./units";

const ALONG: Axis = { name: "along the cut shaft, from the tip", unit: "m", column: "from_the_tip" };

/** The profile's EI along the shaft as it is cut. */
function profile(shaft: ShaftCurve): { x: number[]; y: number[] } {
  const end = shaft.length_m - shaft.tip_trim_m - shaft.butt_trim_m;
  const x: number[] = [];
  const y: number[] = [];
  shaft.curve.at_m.forEach((at, i) => {
    const place = at - shaft.tip_trim_m;
    if (place < -1e-9 || place > end + 1e-9) return;
    x.push(place);
    y.push(shaft.curve.ei_nm2[i]);
  });
  return { x, y };
}

export function eiFigure(bench: Bench, shaft: ShaftCurve): Figure {
  const own = profile(shaft);
  return {
    title: "Stiffness EI, read by spans",
    of: bench.setup,
    x: ALONG,
    y: { name: "EI", unit: "N m2" },
    curves: [
      { name: "the shaft’s profile", colour: NAVY, dash: [7, 4], ...own, column: "profile" },
      {
        name: "as each span reads it", colour: RUST, dots: true, x: bench.span_at_m, y: bench.span_ei_nm2, column: "by_spans",
        low: bench.spread?.low.span_ei_nm2, high: bench.spread?.high.span_ei_nm2,
      },
    ],
  };
}

export function sagFigure(bench: Bench): Figure {
  return {
    title: "Sag of a three-point bend",
    of: bench.setup,
    x: ALONG,
    y: { name: "sag", unit: "mm", field: "span_deflection_mm" },
    curves: [
      {
        name: "in the middle of the span", colour: RUST, x: bench.span_at_m, y: bench.span_deflection_mm, column: "sag",
        low: bench.spread?.low.span_deflection_mm, high: bench.spread?.high.span_deflection_mm,
      },
    ],
  };
}

export class SpanCharts {
  readonly charts: Chart[];

  constructor(look: (at: number) => void) {
    this.charts = ["Stiffness EI, read by spans", "Sag of a three-point bend"].map((title) => new Chart(title, { pick: look, sync: "spans" }));
  }

  show(bench: Bench, shaft: ShaftCurve, at: number | null, units: System): void {
    this.charts[0].show(eiFigure(bench, shaft), units);
    this.charts[1].show(sagFigure(bench), units);
    if (at !== null) for (const chart of this.charts) chart.cursor(at);
  }
}
