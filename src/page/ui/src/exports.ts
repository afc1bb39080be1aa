// SPDX-License-Identifier: GPL-3.0-or-later
// The three buttons of a chart: SVG, PNG, CSV.
import { button, h } from "./dom";
import { save, saveCanvas } from "./save";

export interface Export {
  title: string; // of the chart, for who listens
  file: () => string; // the name without its ending
  svg: () => SVGSVGElement;
  csv: () => string;
}

const FINE = 2; // pixels of the PNG to one of the picture

export function svgText(picture: SVGSVGElement): string {
  return new XMLSerializer().serializeToString(picture);
}

function pngSave(name: string, picture: SVGSVGElement): void {
  const { width, height } = picture.viewBox.baseVal;
  const image = new Image();
  image.addEventListener("load", () => {
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [width * FINE, height * FINE];
    canvas.getContext("2d")?.drawImage(image, 0, 0, canvas.width, canvas.height);
    saveCanvas(name, canvas);
  });
  image.src = `data:image/svg+xml,${encodeURIComponent(svgText(picture))}`;
}

export function exportButtons({ title, file, svg, csv }: Export): HTMLElement {
  const one = (kind: string, run: () => void) => button(kind, run, { class: "small", "aria-label": `Save ${title.toLowerCase()} as ${kind}` });
  return h(
    "span",
    { class: "exports" },
    one("SVG", () => save(`${file()}.svg`, "image/svg+xml", svgText(svg()))),
    one("PNG", () => pngSave(`${file()}.png`, svg())),
    one("CSV", () => save(`${file()}.csv`, "text/csv", csv())),
  );
}
