// The rule file: seen, copied, kept as a file, taken from one.

import { getText, post, postForText, withRules } from "./api.js";
import { button, h, keep, say } from "./dom.js";
import { setTables, state } from "./state.js";

const LARGEST = 100_000;

/** Make the "Rule file" button open the file's own window. */
export function setUpFile() {
  const made = new RuleFile();
  document.body.append(made.dialog);
  document.getElementById("file-open").onclick = () => made.open();
}

class RuleFile {
  constructor() {
    const changed = () => (state.ruleText = this.area.value);
    this.area = h("textarea.toml", {
      rows: "18",
      spellcheck: "false",
      "aria-label": "The rule file, as text",
      oninput: changed,
    });
    this.trouble = h("p.trouble", { role: "alert", hidden: true });
    // What was begun and not used yet is there again after Esc.
    this.begun = h(
      "p.help",
      { hidden: true },
      "This text is not in use yet. ",
      button("Discard my changes", () => this.fresh(), {}, "button.quiet"),
    );
    this.dialog = this.window();
    this.dialog.addEventListener("dragover", (event) => event.preventDefault());
    this.dialog.addEventListener("drop", (event) => {
      event.preventDefault();
      this.load(event.dataTransfer.files[0]);
    });
  }

  window() {
    const pick = h("input", {
      type: "file",
      accept: ".toml,text/plain",
      id: "file-pick",
      class: "hidden-file",
    });
    pick.onchange = () => {
      this.load(pick.files[0]);
      pick.value = "";
    };
    return h(
      "dialog.file",
      { "aria-labelledby": "file-title" },
      h("h2", { id: "file-title" }, "The rule file"),
      h(
        "p.help",
        {},
        "Everything that these lines depend on. Change it here, or keep it and open it again another day.",
      ),
      this.area,
      this.begun,
      this.trouble,
      h(
        "div.row",
        {},
        button("Use this text", () => this.use(), {}, "button.strong"),
        button("Copy", () => this.copy()),
        button("Keep as a file", () => this.save()),
        h("label.button-like", { for: "file-pick" }, "Load a file"),
        pick,
        button("Copy a link to these rules", () => this.link()),
        button("Close", () => this.dialog.close(), {}, "button.quiet"),
      ),
    );
  }

  async open() {
    this.trouble.hidden = true;
    this.dialog.showModal();
    this.begun.hidden = state.ruleText === null;
    if (state.ruleText === null) await this.fresh();
    else this.area.value = state.ruleText;
  }

  /** The text of the rules in use. */
  async fresh() {
    state.ruleText = null;
    this.begun.hidden = true;
    this.area.value = "";
    try {
      // Rules that are wrong can be mended here too.
      this.area.value =
        (!state.trouble && state.summary?.toml) || (await postForText("/api/toml", { tables: state.tables }));
    } catch (error) {
      this.complain(error.message);
    }
  }

  complain(text) {
    this.trouble.textContent = text;
    this.trouble.hidden = false;
  }

  async load(file) {
    if (!file) return;
    if (file.size > LARGEST) {
      this.complain(`${file.name} is larger than any rule file.`);
      return;
    }
    this.area.value = state.ruleText = await file.text();
    this.use();
  }

  async use() {
    try {
      const found = await post("/api/rules", { text: this.area.value });
      this.trouble.hidden = true;
      state.ruleText = null;
      this.dialog.close();
      await setTables(found.tables);
      say("The rule file is in use; Undo brings the rules before back.");
    } catch (error) {
      this.complain(error.message);
    }
  }

  async copy() {
    await copied(this.area.value, this.area);
    say("The rule file is copied.");
  }

  async save() {
    const { summary, tables } = state;
    const unchanged = summary && this.area.value === summary.toml;
    const text = unchanged
      ? await withRules(tables, summary.id, (id) => getText(`/api/rules/${id}/rules.toml`))
      : this.area.value;
    keep(new Blob([text], { type: "application/toml" }), "rules.toml");
  }

  async link() {
    await copied(location.href, this.area);
    say("The link is copied.");
  }
}

/** Put a text on the clipboard; where the browser does not allow it, select it for the reader. */
export async function copied(text, area) {
  try {
    await navigator.clipboard.writeText(text);
  } catch {
    area?.select?.();
    document.execCommand("copy");
  }
}
