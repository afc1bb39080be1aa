// SPDX-License-Identifier: GPL-3.0-or-later
// Bundles the live page, and the page of caber report without its data, into the folder that is given:
// node build.mjs FOLDER
import { build } from "esbuild";
import { createHash } from "node:crypto";
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
const common = {
  absWorkingDir: here,
  bundle: true,
  minify: true,
  target: "es2022",
  legalComments: "none", // the licences are a text of their own
  metafile: true,
  outdir: out,
  logLevel: "warning",
};
const live = await build({ ...common, entryPoints: { app: "src/main.ts", style: "style.css" }, format: "esm" });
copyFileSync(join(here, "index.html"), join(out, "index.html"));
writeFileSync(join(out, "licences.txt"), licences("The live page of caber", live));

// A report is one file: style and script stand in it, and its policy lets no other run or be fetched. Its charts are
// drawn without uPlot, which goes where nothing of it is used.
const unused = {
  name: "unused",
  setup: (b) =>
    b.onResolve({ filter: /^uplot$/ }, async ({ path, resolveDir, kind, pluginData }) =>
      pluginData ? undefined : { ...(await b.resolve(path, { resolveDir, kind, pluginData: true })), sideEffects: false },
    ),
};
const report = await build({ ...common, entryPoints: { report: "src/report.ts", style: "report.css" }, format: "iife", write: false, plugins: [unused] });
const [script, style] = [".js", ".css"].map((ending) => report.outputFiles.find((file) => file.path.endsWith(ending)).text);
const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
const parts = {
  policy: `default-src 'none'; img-src data:; style-src ${hash(style)}; script-src ${hash(script)}; base-uri 'none'; form-action 'none'`,
  licences: licences("This page, made by caber,", report),
  style,
  script,
};
for (const [name, end] of [["licences", "-->"], ["style", "</style"], ["script", "</script"], ["script", "<!--"], ["policy", '"']])
  if (parts[name].toLowerCase().includes(end)) throw new Error(`the report's ${name} holds ${end}`);
const page = readFileSync(join(here, "report.html"), "utf8").replace(/\{\{(\w+)\}\}/g, (_, name) => parts[name]);
writeFileSync(join(out, "report.part"), page);

/** What is bundled, with its licence; a package without one stops the build. */
function licences(what, made) {
  const packages = new Set();
  const kept = Object.values(made.metafile.outputs).flatMap(({ inputs }) => Object.keys(inputs).filter((name) => inputs[name].bytesInOutput));
  for (const input of kept) {
    const found = /node_modules\/((?:@[^/]+\/)?[^/]+)/.exec(input);
    if (found) packages.add(found[1]);
  }
  let text = `${what} is GPL-3.0-or-later. ${packages.size ? "It contains these packages under their own licences." : "It contains nothing else."}\n`;
  for (const name of [...packages].sort()) {
    const folder = join(here, "node_modules", name);
    const licence = readdirSync(folder).find((file) => /^licen[cs]e/i.test(file));
    if (!licence) throw new Error(`${name} has no licence file`);
    const { version } = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
    text += `\n${"-".repeat(72)}\n${name} ${version}\n\n${readFileSync(join(folder, licence), "utf8").trim()}\n`;
  }
  return text;
}
