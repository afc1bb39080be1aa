// SPDX-License-Identifier: GPL-3.0-or-later
// Bundles the page into the folder that is given: node build.mjs FOLDER
import { build } from "esbuild";
import { copyFileSync, mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2];
if (!out) {
  console.error("usage: node build.mjs FOLDER");
  process.exit(2);
}
rmSync(out, { recursive: true, force: true });
mkdirSync(out, { recursive: true });
const made = await build({
  absWorkingDir: here,
  entryPoints: { app: "src/main.ts", style: "style.css" },
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  legalComments: "none", // the licences are a file of their own
  metafile: true,
  outdir: out,
  logLevel: "warning",
});
copyFileSync(join(here, "index.html"), join(out, "index.html"));

// What is bundled, with its licence; a package without one stops the build.
const packages = new Set();
for (const input of Object.keys(made.metafile.inputs)) {
  const found = /node_modules\/((?:@[^/]+\/)?[^/]+)/.exec(input);
  if (found) packages.add(found[1]);
}
let text = "The live page of caber is GPL-3.0-or-later. It contains these packages under their own licences.\n";
for (const name of [...packages].sort()) {
  const folder = join(here, "node_modules", name);
  const licence = readdirSync(folder).find((file) => /^licen[cs]e/i.test(file));
  if (!licence) throw new Error(`${name} has no licence file`);
  const { version } = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
  text += `\n${"-".repeat(72)}\n${name} ${version}\n\n${readFileSync(join(folder, licence), "utf8").trim()}\n`;
}
writeFileSync(join(out, "licences.txt"), text);
