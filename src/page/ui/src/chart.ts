// SPDX-License-Identifier: GPL-3.0-or-later
// Strip charts through time that share one cursor (uPlot), and each as SVG, PNG and CSV.
import uPlot from "uplot";
import type { Series } from "./api";
import { button, h, svg } from "./dom";
import { valueAt } from "./geometry";
import { csvText, fileName, save, saveCanvas } from "./save";
import { type System, convert, plainName, shown, unitShown } from "./units";

export interface Line {
  column: string;
  name: string;
  colour: string;
  dash?: number[];
}

export interface Strip {
  title: string;
  unit: string; // of the series
  lines: Line[];
}

const INK = "#22303c";
const GRID = "#e2ded4";
const FONT = "12px system-ui, sans-serif";
const HEIGHT = 168;

/** Round steps that divide a range into about `wanted`. */
export function ticks(low: number, high: number, wanted: number): number[] {
  const rough = (high - low) / wanted;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((f) => f * power).find((s) => s >= rough) ?? 10 * power;
  const list = [];
  for (let k = Math.ceil(low / step); k * step <= high + step * 1e-9; k++) list.push(Number((k * step).toPrecision(12)));
  return list;
}

export class StripChart {
  readonly element: HTMLElement;
  private readonly over = h("div", { class: "plot" });
  private readonly values = h("ul", { class: "key" });
  private readonly heading = h("h3");
  private readonly now = h("div", { class: "now" });
  private plot: uPlot | null = null;
  private series: Series | null = null;
  private units: System = "metric";
  private time = 0;

  constructor(
    readonly strip: Strip,
    private readonly pick: (t: number) => void,
  ) {
    this.element = h(
      "figure",
      { class: "strip" },
      h("figcaption", {}, this.heading, this.exports()),
      this.values,
      this.over,
    );
    new ResizeObserver(() => {
      const width = this.over.clientWidth;
      if (this.plot && width > 0 && width !== this.plot.width) {
        this.plot.setSize({ width, height: HEIGHT });
        this.cursor(this.time);
      }
    }).observe(this.over);
  }

  private exports(): HTMLElement {
    const one = (kind: string, run: () => void) =>
      button(kind, run, { class: "small", "aria-label": `Save ${this.strip.title.toLowerCase()} as ${kind}` });
    return h(
      "span",
      { class: "exports" },
      one("SVG", () => save(this.file("svg"), "image/svg+xml", this.svg())),
      one("PNG", () => this.png()),
      one("CSV", () => save(this.file("csv"), "text/csv", this.csv())),
    );
  }

  private file(ending: string): string {
    return `${fileName(this.series?.setup ?? "", this.strip.title)}.${ending}`;
  }
  private get unit(): string {
    return unitShown(this.strip.unit, this.units);
  }
  private get title(): string {
    return `${this.strip.title}, ${this.unit}`;
  }

  private data(): [number[], ...(number | null)[][]] {
    const { columns } = this.series as Series;
    const line = ({ column }: Line) =>
      columns[column].map((v) => (v === null ? null : convert(v, this.strip.unit, this.unit)));
    return [columns.time_s as number[], ...this.strip.lines.map(line)];
  }

  show(series: Series, units: System): void {
    this.series = series;
    this.units = units;
    this.heading.textContent = this.title;
    this.plot?.destroy();
    const axis = { stroke: INK, font: FONT, grid: { stroke: GRID, width: 1 }, ticks: { stroke: GRID, width: 1, size: 4 } };
    this.plot = new uPlot(
      {
        width: Math.max(200, this.over.clientWidth),
        height: HEIGHT,
        padding: [8, 10, 0, 0],
        legend: { show: false },
        scales: { x: { time: false, range: (_, low, high) => [low, high] } },
        hooks: { draw: [() => this.mark()] },
        cursor: { drag: { x: false, y: false }, y: false, points: { show: false }, sync: { key: "swing" } },
        axes: [
          { ...axis, size: 28, values: (_, list) => list.map((v, i) => (i === list.length - 1 ? `${v} s` : String(v))) },
          { ...axis, size: 48 },
        ],
        series: [
          {},
          ...this.strip.lines.map((l) => ({ stroke: l.colour, width: 2, dash: l.dash, points: { show: false } })),
        ],
      },
      this.data() as uPlot.AlignedData,
      this.over,
    );
    const { over } = this.plot;
    over.append(this.now);
    const at = (event: PointerEvent) =>
      this.plot && this.pick(this.plot.posToVal(event.clientX - over.getBoundingClientRect().left, "x"));
    over.addEventListener("pointerdown", (event) => (over.setPointerCapture(event.pointerId), at(event)));
    over.addEventListener("pointermove", (event) => event.buttons && at(event));
    this.values.replaceChildren(
      ...this.strip.lines.map((l) => h("li", {}, this.sample(l) as unknown as HTMLElement, h("span", {}, l.name), h("output"))),
    );
    this.cursor(this.time);
  }

  private sample(l: Line): SVGElement {
    return svg(
      "svg",
      { width: 26, height: 10, "aria-hidden": "true" },
      svg("line", {
        x1: 0, x2: 26, y1: 5, y2: 5, stroke: l.colour, "stroke-width": 2.5, "stroke-dasharray": (l.dash ?? []).join(" "),
      }),
    );
  }

  cursor(t: number): void {
    this.time = t;
    if (!this.plot || !this.series) return;
    this.mark();
    const outputs = this.values.querySelectorAll("output");
    const said: string[] = [];
    this.strip.lines.forEach((l, i) => {
      const value = valueAt(this.series as Series, l.column, t);
      const text = value === null ? "none" : Object.values(shown(value, this.strip.unit, this.units)).join(" ");
      outputs[i].textContent = text;
      said.push(`${l.name} ${text}`);
    });
    this.over.setAttribute("role", "img");
    this.over.setAttribute("aria-label", `${this.strip.title} through time; at ${t.toFixed(4)} s: ${said.join(", ")}`);
  }

  /** The line at the shared time; again after each drawing, before which nothing has a place. */
  private mark(): void {
    const x = this.plot?.valToPos(this.time, "x");
    if (x !== undefined && Number.isFinite(x)) this.now.style.transform = `translateX(${x}px)`;
  }

  // ---------------------------------------------------------------- to take away

  csv(): string {
    const columns = this.data();
    const names = ["time", ...this.strip.lines.map((l) => plainName(l.column).replaceAll(" ", "_"))];
    const rows = columns[0].map((_, i) => columns.map((column) => column[i]));
    return csvText([names, ["s", ...this.strip.lines.map(() => this.unit)], ...rows]);
  }

  svg(width = 720, height = 320): string {
    const [time, ...lines] = this.data();
    const all = lines.flat().filter((v): v is number => v !== null);
    const [left, right, top, bottom] = [60, 16, 52, 40];
    let [low, high] = [Math.min(...all), Math.max(...all)];
    const room = (high - low || 1) * 0.06;
    [low, high] = [low - room, high + room];
    const end = time[time.length - 1];
    const x = (t: number) => left + ((t - time[0]) / (end - time[0])) * (width - left - right);
    const y = (v: number) => top + ((high - v) / (high - low)) * (height - top - bottom);
    const words = (text: string, px: number, py: number, more: Record<string, string | number> = {}) =>
      svg("text", { x: px, y: py, "font-size": 12, fill: INK, ...more }, text);
    const root = svg("svg", {
      xmlns: "http://www.w3.org/2000/svg", viewBox: `0 0 ${width} ${height}`, width, height,
      "font-family": "system-ui, sans-serif",
    });
    root.append(
      svg("title", {}, `${this.series?.setup}: ${this.title}`),
      svg("rect", { width, height, fill: "#fff" }),
      words(`${this.series?.setup}: ${this.title}`, left, 18, { "font-size": 14, "font-weight": 600 }),
    );
    for (const v of ticks(low, high, 5))
      root.append(
        svg("line", { x1: left, x2: width - right, y1: y(v), y2: y(v), stroke: GRID }),
        words(String(v).replace("-", "−"), left - 6, y(v) + 4, { "text-anchor": "end" }),
      );
    for (const t of ticks(time[0], end, 8)) root.append(words(String(t), x(t), height - 22, { "text-anchor": "middle" }));
    root.append(words("time from the start, s", (left + width - right) / 2, height - 5, { "text-anchor": "middle" }));
    let across = left;
    this.strip.lines.forEach((l, i) => {
      const dash = (l.dash ?? []).join(" ");
      const path = time
        .map((t, k) => (lines[i][k] === null ? "" : `${k && lines[i][k - 1] !== null ? "L" : "M"}${x(t).toFixed(2)} ${y(lines[i][k] as number).toFixed(2)}`))
        .join("");
      root.append(
        svg("path", { d: path, fill: "none", stroke: l.colour, "stroke-width": 2, "stroke-dasharray": dash }),
        svg("line", { x1: across, x2: across + 26, y1: 36, y2: 36, stroke: l.colour, "stroke-width": 2.5, "stroke-dasharray": dash }),
        words(l.name, across + 32, 40),
      );
      across += 60 + l.name.length * 7;
    });
    return new XMLSerializer().serializeToString(root);
  }

  private png(): void {
    const [width, height, fine] = [720, 320, 2];
    const picture = new Image();
    picture.addEventListener("load", () => {
      const canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [width * fine, height * fine];
      canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
      saveCanvas(this.file("png"), canvas);
    });
    picture.src = `data:image/svg+xml,${encodeURIComponent(this.svg(width, height))}`;
  }
}
