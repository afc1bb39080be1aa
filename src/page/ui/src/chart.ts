// SPDX-License-Identifier: GPL-3.0-or-later
// A figure on the screen (uPlot): with a cursor that charts share, and points that can be dragged.
import uPlot from "uplot";
import { h, svg } from "./dom";
import { exportButtons } from "./exports";
import { type Figure, GRID, INK, axisScale, axisTitle, axisUnit, curveAt, curveSample, figureCsv, figureRange, figureSvg, figureTitle, figureWords, zoneSample, zonesNamed } from "./figure";
import { fileName } from "./save";
import { type System, numberText, unitShown } from "./units";

/** A point of a chart that the reader moves, by hand or by arrow keys; in the program's units. */
export interface Handle {
  name: string; // one of its chart's; for who listens
  x: number;
  y: number;
  moves: "x" | "y" | "both";
  step: number; // of an arrow key (Shift: ten times), along the axis it moves; of y when it moves in both
  stepX?: number; // of x when it moves in both
  least: number; // of the value that is said: y, or x when it moves along x alone
  most: number;
  text: string; // the value as it is said, with its unit
  colour: string;
  /** Where it has been moved to. All moves of one drag have the same gesture: one step of undo. */
  move(x: number, y: number, gesture: string): void;
}

export interface ChartSettings {
  height?: number;
  /** The reader points at x: gives the chart a cursor. */
  pick?: (x: number) => void;
  sync?: string; // charts of the same name share the pointer's line
  /** The cursor's place as it is said, such as "at 0.1 s"; x with its unit without it. */
  place?: (x: number) => string;
}

const FONT = "12px system-ui, sans-serif";
const HEIGHT = 168;
let gestures = 0;

export class Chart {
  readonly element: HTMLElement;
  private readonly over = h("div", { class: "plot" });
  private readonly key = h("ul", { class: "key" });
  private readonly heading = h("h3");
  private readonly now = h("div", { class: "now" });
  private readonly marks = h("div", { class: "marks" });
  private readonly knobs = new Map<string, { element: HTMLElement; handle: Handle }>();
  private plot: uPlot | null = null;
  private figure: Figure | null = null;
  private units: System = "metric";
  private shape = ""; // what the plot was made for
  private at: number | null = null;
  private dragging = false;
  private range: [number, number] = [0, 1];

  constructor(
    title: string,
    private readonly settings: ChartSettings = {},
  ) {
    const file = () => fileName(this.figure?.of ?? "", title);
    const exports = exportButtons({
      title, file,
      svg: () => figureSvg(this.figure as Figure, this.units),
      csv: () => figureCsv(this.figure as Figure, this.units),
    });
    this.heading.textContent = title;
    this.element = h("figure", { class: "strip" }, h("figcaption", {}, this.heading, exports), this.key, this.over);
    new ResizeObserver(() => this.resize()).observe(this.over);
  }

  private get height(): number {
    return this.settings.height ?? HEIGHT;
  }
  private resize(): void {
    const width = this.over.clientWidth;
    if (this.plot && width > 0 && width !== this.plot.width) this.plot.setSize({ width, height: this.height });
  }

  // ---------------------------------------------------------------- showing

  show(figure: Figure, units: System): void {
    this.figure = figure;
    this.units = units;
    const [low, high] = figureRange(figure, units);
    // Under the reader's hand the scale only widens: else the point would run away from it.
    this.range = this.dragging ? [Math.min(low, this.range[0]), Math.max(high, this.range[1])] : [low, high];
    const shape = JSON.stringify([figure.title, figure.x, figure.y, units, figure.curves.map((c) => [c.name, c.colour, c.dash, c.dots, !c.low]), zonesNamed(figure)]);
    const data = this.data();
    if (this.plot && shape === this.shape) this.plot.setData(data);
    else {
      this.shape = shape;
      this.heading.textContent = figureTitle(figure, units);
      this.make(data);
      this.keyMake();
    }
    this.said();
  }

  private span(): [number, number] | undefined {
    const { span, x } = this.figure as Figure;
    return span?.map(axisScale(x, this.units)) as [number, number] | undefined;
  }

  /** Columns for uPlot: x, and of each curve its values and the ends of its band. */
  private data(): uPlot.AlignedData {
    const { x, y, curves } = this.figure as Figure;
    const [sx, sy] = [axisScale(x, this.units), axisScale(y, this.units)];
    const scaled = (list: (number | null)[]) => list.map((v) => (v === null ? null : sy(v)));
    const tables = curves.map((c): uPlot.AlignedData => [c.x.map(sx), scaled(c.y), ...(c.low && c.high ? [scaled(c.low), scaled(c.high)] : [])]);
    if (curves.every((c) => c.x === curves[0].x)) return [tables[0][0], ...tables.flatMap((t) => t.slice(1))] as uPlot.AlignedData;
    return uPlot.join(tables);
  }

  private make(data: uPlot.AlignedData): void {
    const figure = this.figure as Figure;
    const focused = [...this.knobs.values()].find(({ element }) => element === document.activeElement);
    this.plot?.destroy();
    const axis = { stroke: INK, font: FONT, grid: { stroke: GRID, width: 1 }, ticks: { stroke: GRID, width: 1, size: 4 } };
    const series: uPlot.Series[] = [{}];
    const bands: uPlot.Band[] = [];
    for (const c of figure.curves) {
      series.push({
        stroke: c.colour, width: c.dots ? 0 : 2, dash: c.dash, spanGaps: false,
        points: c.dots ? { show: true, size: 6, width: 0, fill: c.colour } : { show: false },
      });
      if (!c.low || !c.high) continue;
      const edge = { stroke: c.colour, width: 0, points: { show: false } };
      series.push(edge, edge);
      bands.push({ series: [series.length - 1, series.length - 2], fill: `${c.colour}2b` });
    }
    const unit = axisUnit(figure.x, this.units);
    this.plot = new uPlot(
      {
        width: Math.max(200, this.over.clientWidth),
        height: this.height,
        padding: [8, 18, 0, 0],
        legend: { show: false },
        scales: { x: { time: false, range: (_, low, high) => this.span() ?? [low, high] }, y: { range: () => this.range } },
        hooks: { drawClear: [(plot) => this.zonesDraw(plot)], draw: [() => this.place()] },
        cursor: { drag: { x: false, y: false }, y: false, points: { show: false }, ...(this.settings.sync ? { sync: { key: this.settings.sync } } : {}) },
        axes: [
          { ...axis, size: 28, values: (_, list) => list.map((v, i) => (i === list.length - 1 && unit ? `${v} ${unit}` : String(v))) },
          { ...axis, size: 48 },
        ],
        series,
        bands,
      },
      data,
      this.over,
    );
    const { over } = this.plot;
    over.append(this.marks, this.now);
    for (const { element } of this.knobs.values()) over.append(element);
    focused?.element.focus();
    if (this.settings.pick) this.listen(over, this.settings.pick);
    this.over.setAttribute("role", this.knobs.size ? "group" : "img");
  }

  private zonesDraw(plot: uPlot): void {
    const figure = this.figure as Figure;
    const { ctx, bbox } = plot;
    const scale = axisScale(figure.x, this.units);
    ctx.save();
    ctx.fillStyle = ctx.strokeStyle = INK;
    ctx.setLineDash([2 * devicePixelRatio, 4 * devicePixelRatio]);
    for (const { from, to, shade } of figure.zones ?? []) {
      const [left, right] = [plot.valToPos(scale(from), "x", true), plot.valToPos(scale(to), "x", true)];
      ctx.globalAlpha = shade;
      ctx.beginPath();
      if (to > from) ctx.fillRect(left, bbox.top, right - left, bbox.height);
      else ctx.moveTo(left, bbox.top), ctx.lineTo(left, bbox.top + bbox.height), ctx.stroke();
    }
    ctx.restore();
  }

  private listen(over: HTMLElement, pick: (x: number) => void): void {
    const at = (event: PointerEvent) => pick(this.toValue(event.clientX - over.getBoundingClientRect().left, "x"));
    over.addEventListener("pointerdown", (event) => {
      if (event.target !== over && event.target !== this.now) return; // a handle
      over.setPointerCapture(event.pointerId);
      at(event);
    });
    over.addEventListener("pointermove", (event) => event.buttons && over.hasPointerCapture(event.pointerId) && at(event));
  }

  private keyMake(): void {
    const sample = (drawn: SVGElement) => svg("svg", { width: 26, height: 10, "aria-hidden": "true" }, drawn) as unknown as HTMLElement;
    this.key.replaceChildren(
      ...(this.figure as Figure).curves.map((c) => h("li", {}, sample(curveSample(c)), h("span", {}, c.name), this.settings.pick ? h("output") : null)),
      ...zonesNamed(this.figure as Figure).map((zone) => h("li", {}, sample(zoneSample(zone)), h("span", {}, zone.name))),
    );
  }

  // ---------------------------------------------------------------- the cursor

  cursor(x: number): void {
    this.at = x;
    this.said();
    this.place();
  }

  private said(): void {
    const figure = this.figure;
    if (!figure) return;
    const at = this.settings.pick && this.at !== null ? this.at : undefined;
    if (at !== undefined) {
      const [unit, scale] = [axisUnit(figure.y, this.units), axisScale(figure.y, this.units)];
      const outputs = this.key.querySelectorAll("output");
      figure.curves.forEach((c, i) => {
        const value = curveAt(c, at);
        outputs[i].textContent = value === null ? "none" : [numberText(scale(value), unit, figure.y.field), unit].filter(Boolean).join(" ");
      });
    }
    const place = at === undefined ? "" : (this.settings.place?.(at) ?? `at ${numberText(axisScale(figure.x, this.units)(at), axisUnit(figure.x, this.units))} ${unitShown(figure.x.unit, this.units, figure.x.field)}`);
    const marked = (figure.marks ?? []).map(({ x, name }) => `; ${name} at ${numberText(axisScale(figure.x, this.units)(x), axisUnit(figure.x, this.units))} ${axisUnit(figure.x, this.units)}`).join("");
    this.over.setAttribute("aria-label", `${figure.title} over ${axisTitle(figure.x, this.units)}${place ? `; ${place}` : ""}: ${figureWords(figure, this.units, at)}${marked}`);
  }

  /** The cursor and the handles, where they belong; again after each drawing, before which nothing has a place. */
  private place(): void {
    if (!this.plot || !this.figure) return;
    const [sx, sy] = [axisScale(this.figure.x, this.units), axisScale(this.figure.y, this.units)];
    this.now.hidden = this.at === null;
    this.marks.replaceChildren(
      ...(this.figure.marks ?? []).map(({ x: at, name }) => {
        const px = this.plot?.valToPos(sx(at), "x") ?? 0;
        const isRight = px > (this.plot?.over.clientWidth ?? 0) - 60; // there its name stands before it
        const mark = h("span", { class: isRight ? "before" : "" }, name);
        mark.style.transform = `translateX(calc(${px}px - ${isRight ? 100 : 0}%))`;
        return mark;
      }),
    );
    const x = this.at === null ? Number.NaN : this.plot.valToPos(sx(this.at), "x");
    if (Number.isFinite(x)) this.now.style.transform = `translateX(${x}px)`;
    for (const { element, handle } of this.knobs.values()) {
      const [px, py] = [this.plot.valToPos(sx(handle.x), "x"), this.plot.valToPos(sy(handle.y), "y")];
      if (Number.isFinite(px) && Number.isFinite(py)) element.style.transform = `translate(${px}px, ${py}px)`;
    }
  }

  /** Of the program's units, at a place in px from the left or top of the plot. */
  private toValue(px: number, axis: "x" | "y"): number {
    const plot = this.plot as uPlot;
    const figure = this.figure as Figure;
    const shown = plot.posToVal(px, axis);
    const scale = axisScale(figure[axis], this.units);
    const [zero, one] = [scale(0), scale(1)];
    return (shown - zero) / (one - zero);
  }

  // ---------------------------------------------------------------- points to drag

  /** Shows these and no others; one of the same name stays under the hand. */
  handles(list: Handle[]): void {
    for (const [name, { element }] of this.knobs)
      if (!list.some((handle) => handle.name === name)) {
        element.remove();
        this.knobs.delete(name);
      }
    const before = this.knobs.size;
    const elements = list.map((handle) => {
      const knob = this.knobs.get(handle.name) ?? this.knobMake(handle);
      knob.handle = handle;
      this.knobSay(knob.element, handle);
      return knob.element;
    });
    if (this.knobs.size > before && !this.dragging) this.inOrder(elements);
    this.over.setAttribute("role", this.knobs.size ? "group" : "img");
    this.place();
  }

  /** Tab goes from one to the next as they are listed. */
  private inOrder(elements: HTMLElement[]): void {
    const focused = document.activeElement as HTMLElement | null;
    this.plot?.over.append(...elements);
    if (focused && elements.includes(focused)) focused.focus();
  }

  private knobSay(element: HTMLElement, handle: Handle): void {
    const value = handle.moves === "x" ? handle.x : handle.y;
    element.style.color = handle.colour;
    element.dataset.moves = handle.moves;
    element.setAttribute("aria-label", handle.name);
    element.setAttribute("aria-orientation", handle.moves === "x" ? "horizontal" : "vertical");
    element.setAttribute("aria-valuemin", String(handle.least));
    element.setAttribute("aria-valuemax", String(handle.most));
    element.setAttribute("aria-valuenow", String(value));
    element.setAttribute("aria-valuetext", handle.text);
    element.title = `${handle.name}: ${handle.text}`;
  }

  private knobMake(handle: Handle): { element: HTMLElement; handle: Handle } {
    const element = h("div", { class: "handle", role: "slider", tabindex: 0 });
    const knob = { element, handle };
    this.knobs.set(handle.name, knob);
    this.plot?.over.append(element);
    let gesture = "";
    let keyed = 0;
    element.addEventListener("pointerdown", (event) => {
      element.setPointerCapture(event.pointerId);
      gesture = `drag ${++gestures}`;
      this.dragging = true;
      element.focus();
      event.preventDefault();
    });
    element.addEventListener("pointermove", (event) => {
      if (!this.dragging || !element.hasPointerCapture(event.pointerId)) return;
      const box = (this.plot as uPlot).over.getBoundingClientRect();
      this.move(knob.handle, this.toValue(event.clientX - box.left, "x"), this.toValue(event.clientY - box.top, "y"), gesture);
    });
    const over = () => {
      if (!this.dragging) return;
      this.dragging = false;
      if (this.figure) this.show(this.figure, this.units); // the scale that fits
    };
    element.addEventListener("pointerup", over);
    element.addEventListener("lostpointercapture", over);
    element.addEventListener("keydown", (event) => {
      const { moves, x, y, step, stepX } = knob.handle;
      const times = event.shiftKey ? 10 : 1;
      const [right, up] = [{ ArrowRight: 1, ArrowLeft: -1 }[event.key] ?? 0, { ArrowUp: 1, ArrowDown: -1 }[event.key] ?? 0];
      if (!right && !up) return;
      event.preventDefault();
      if (event.timeStamp - keyed > 1000) gesture = `keys ${++gestures}`;
      keyed = event.timeStamp;
      const along = moves === "both" ? [right, up] : moves === "x" ? [right + up, 0] : [0, right + up];
      this.move(knob.handle, x + along[0] * times * (moves === "both" ? (stepX ?? step) : step), y + along[1] * times * step, gesture);
    });
    return knob;
  }

  private move(handle: Handle, x: number, y: number, gesture: string): void {
    const within = (v: number) => Math.min(handle.most, Math.max(handle.least, v));
    if (handle.moves === "x") handle.move(within(x), handle.y, gesture);
    else handle.move(handle.moves === "both" ? x : handle.x, within(y), gesture);
  }
}
