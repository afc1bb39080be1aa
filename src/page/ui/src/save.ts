// SPDX-License-Identifier: GPL-3.0-or-later
// Files that the reader takes away.

export function save(name: string, type: string, content: BlobPart): void {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

export function saveCanvas(name: string, canvas: HTMLCanvasElement): void {
  canvas.toBlob((blob) => blob && save(name, "image/png", blob), "image/png");
}

function csvCell(cell: string | number | null): string {
  const text = cell === null ? "" : String(cell);
  return /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The first row names, the second gives units, as everywhere in caber. */
export function csvText(rows: (string | number | null)[][]): string {
  return rows.map((row) => row.map(csvCell).join(",") + "\n").join("");
}

export function fileName(...parts: string[]): string {
  return parts.join(" ").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");
}
