// SPDX-License-Identifier: GPL-3.0-or-later
// Elements in one line.

type Child = Node | string | null | undefined | false;

export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  props: Record<string, unknown> = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (value === undefined || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value as EventListener);
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  for (const child of children) if (child) element.append(child);
  return element;
}

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag: string, props: Record<string, string | number>, ...children: (Node | string)[]): SVGElement {
  const element = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(props)) element.setAttribute(key, String(value));
  element.append(...children);
  return element;
}

export function button(text: string, click: () => void, props: Record<string, unknown> = {}): HTMLButtonElement {
  return h("button", { type: "button", onclick: click, ...props }, text);
}
