// SPDX-License-Identifier: GPL-3.0-or-later
// Keeping a setup as it stands, with what was changed in it, as a file in the reader's folder.
import { type ModelFile, type SetupAsk, Refusal, api } from "./api";
import { button, h } from "./dom";
import { fileName } from "./save";

const ENDING = ".yaml";

export class KeepDialog {
  private readonly element = h("dialog", { class: "keep", "aria-labelledby": "keep-title" });
  private readonly called = h("input", { type: "text", id: "keep-name", autocomplete: "off", required: true });
  private readonly file = h("input", { type: "text", id: "keep-file", autocomplete: "off", required: true, "aria-describedby": "keep-said" });
  private readonly about = h("p");
  private readonly said = h("p", { class: "keep-said", id: "keep-said", role: "alert" });
  private readonly go = h("button", { type: "submit", class: "go" }, "Keep");
  private setup: SetupAsk = { folder: "", file: "", set: {} };
  private suggested = true; // the file's name follows the setup's until it is typed
  private replace = ""; // what may be replaced, as the reader has said

  /** `kept` is told what has been kept, once it is there. */
  constructor(private readonly kept: (file: string, files: ModelFile[]) => void) {
    const form = h(
      "form",
      {},
      h("h2", { id: "keep-title" }, "Keep this setup"),
      this.about,
      h("label", { for: "keep-name" }, "what it is called"),
      this.called,
      h("label", { for: "keep-file" }, "its file, in your folder"),
      h("span", { class: "entry" }, this.file, h("span", { class: "unit" }, ENDING)),
      this.said,
      h("div", { class: "keep-buttons" }, this.go, button("Cancel", () => this.element.close())),
    );
    form.noValidate = true;
    this.element.append(form);
    this.element.addEventListener("close", () => this.element.remove());
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      void this.keep();
    });
    this.called.addEventListener("input", () => {
      if (this.suggested) this.file.value = fileName(this.called.value);
      this.asIs();
    });
    this.file.addEventListener("input", () => {
      this.suggested = false;
      this.asIs();
    });
  }

  open(setup: SetupAsk, name: string): void {
    const changed = Object.keys(setup.set).length;
    this.setup = setup;
    this.about.textContent = `With its shaft, head, grip and player in one file${changed ? `, and with what was changed (${changed})` : ""}.`;
    this.called.value = setup.folder === "user" || !changed ? name : `${name}, changed`;
    this.suggested = setup.folder !== "user";
    this.file.value = this.suggested ? fileName(this.called.value) : setup.file.replace(/\.yaml$/, "");
    this.asIs();
    document.body.append(this.element); // there only while it is open
    this.element.showModal();
    this.called.select();
  }

  /** Nothing has been said against what stands there. */
  private asIs(): void {
    this.replace = "";
    this.go.textContent = "Keep";
    this.said.textContent = "";
    for (const box of [this.called, this.file]) box.removeAttribute("aria-invalid");
  }

  private wrong(box: HTMLInputElement, text: string): void {
    box.setAttribute("aria-invalid", "true");
    box.focus();
    this.said.textContent = text;
  }

  /** Whether there is nothing of that name, or the reader has said that it may be replaced. */
  private free(file: string, there: ModelFile | undefined): boolean {
    if (!there || this.replace === file) return true;
    if (there.kind !== "setup" && !there.problem) this.wrong(this.file, `${file} is a ${there.kind} in your folder. Choose another name.`);
    else {
      this.replace = file;
      this.go.textContent = "Replace it";
      this.said.textContent = `${file} is there already${there.name ? ` (${there.name})` : ""}. Replace it? What it holds is then gone.`;
    }
    return false;
  }

  private async keep(): Promise<void> {
    const name = this.called.value.trim();
    const stem = this.file.value.trim().replace(/\.yaml$/i, "");
    if (!name) return this.wrong(this.called, "A name is wanted.");
    if (!stem) return this.wrong(this.file, "The name of a file is wanted.");
    if (/[/\\:*?"<>|]/.test(stem) || stem.startsWith(".")) return this.wrong(this.file, 'The name of a file has none of / \\ : * ? " < > | and does not begin with a dot.');
    const file = stem + ENDING;
    this.go.disabled = true;
    try {
      const { files } = (await api.files()).result;
      if (!this.free(file, files.find((f) => f.folder === "user" && f.file === file))) return;
      const set = { ...this.setup.set, name };
      const { text } = (await api.inputs({ ...this.setup, set }, new AbortController().signal)).result;
      await api.keep(file, text);
      const after = (await api.files()).result.files;
      this.element.close();
      this.kept(file, after);
    } catch (error) {
      this.said.textContent = `It was not kept. ${error instanceof Refusal ? error.message : String(error)}`;
    } finally {
      this.go.disabled = false;
    }
  }
}
