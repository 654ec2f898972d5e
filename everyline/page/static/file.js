// The rule file: seen, copied, kept as a file, taken from one.

import { post, postForText, withRules, getText } from "./api.js";
import { button, h, keep, say } from "./dom.js";
import { setTables, state } from "./state.js";

const LARGEST = 100_000;

/** Make the "Rule file" button open the file's own window. */
export function setUpFile() {
  const area = h("textarea.toml", {
    rows: "18",
    spellcheck: "false",
    "aria-label": "The rule file, as text",
  });
  const trouble = h("p.trouble", { role: "alert", hidden: true });
  const pick = h("input", {
    type: "file",
    accept: ".toml,text/plain",
    id: "file-pick",
    class: "hidden-file",
  });
  const dialog = h(
    "dialog.file",
    { "aria-labelledby": "file-title" },
    h("h2", { id: "file-title" }, "The rule file"),
    h(
      "p.help",
      {},
      "Everything that these lines depend on. Change it here, or keep it and open it again another day.",
    ),
    area,
    trouble,
    h(
      "div.row",
      {},
      button("Use this text", use, {}, "button.strong"),
      button("Copy", copy),
      button("Keep as a file", save),
      h("label.button-like", { for: "file-pick" }, "Load a file"),
      pick,
      button("Copy a link to these rules", link),
      button("Close", () => dialog.close(), {}, "button.quiet"),
    ),
  );
  document.body.append(dialog);
  document.getElementById("file-open").onclick = async () => {
    trouble.hidden = true;
    area.value = "";
    dialog.showModal();
    try {
      // Rules that are wrong can be mended here too.
      area.value = state.summary?.toml ?? (await postForText("/api/toml", { tables: state.tables }));
    } catch (error) {
      complain(error.message);
    }
  };
  dialog.addEventListener("dragover", (event) => event.preventDefault());
  dialog.addEventListener("drop", (event) => {
    event.preventDefault();
    load(event.dataTransfer.files[0]);
  });
  pick.onchange = () => {
    load(pick.files[0]);
    pick.value = "";
  };

  async function load(file) {
    if (!file) return;
    if (file.size > LARGEST) return complain(`${file.name} is larger than any rule file.`);
    area.value = await file.text();
    use();
  }

  function complain(text) {
    trouble.textContent = text;
    trouble.hidden = false;
  }

  async function use() {
    try {
      const found = await post("/api/rules", { text: area.value });
      trouble.hidden = true;
      dialog.close();
      await setTables(found.tables);
      say("The rule file is in use.");
    } catch (error) {
      complain(error.message);
    }
  }

  async function copy() {
    await copied(area.value, area);
    say("The rule file is copied.");
  }

  async function save() {
    const { summary, tables } = state;
    const text = summary
      ? await withRules(tables, summary.id, (id) => getText(`/api/rules/${id}/rules.toml`))
      : area.value;
    keep(
      new Blob([area.value === summary?.toml ? text : area.value], { type: "application/toml" }),
      "rules.toml",
    );
  }

  async function link() {
    await copied(location.href, area);
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
