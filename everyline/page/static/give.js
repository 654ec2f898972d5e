// Lines given to a student: into the students' file, with their rules, to be practised.

import { get, post } from "./api.js";
import { button, field, fresh, h, lines, say, select } from "./dom.js";

/** @typedef {{rules: import("./store.js").Tables, number: string, title: string}} Given */

const NEW = "\u0000new";

/** A button that gives lines to a student who is chosen; ``items`` finds them when it is pressed.
 * @param {string} words
 * @param {() => Given[]} items
 */
export function giveButton(words, items, attributes = {}) {
  return button(words, () => choose(items()), attributes, "button.quiet");
}

/** @param {Given[]} items */
async function choose(items) {
  let found;
  try {
    found = await get("/api/students");
  } catch (error) {
    say(error.message);
    return;
  }
  if (found.remark && !found.students.length) say(found.remark);
  else show(items, found.students);
}

function show(items, students) {
  const id = fresh("give");
  const name = h("input", { type: "text", maxlength: "80", autocomplete: "off" });
  const named = field("Name", name);
  const options = [...students.map((each) => [each.name, each.name]), [NEW, "a new student"]];
  const who = select(options, options[0][0], () => (named.hidden = who.value !== NEW));
  named.hidden = who.value !== NEW;
  const trouble = h("p.trouble", { role: "alert", hidden: true });
  const close = () => {
    dialog.close();
    dialog.remove();
  };
  const act = async () => {
    try {
      say(await give(items, who.value === NEW ? name.value : who.value, who.value === NEW));
      close();
    } catch (error) {
      trouble.textContent = error.message;
      trouble.hidden = false;
    }
  };
  const dialog = h(
    "dialog",
    { "aria-labelledby": id },
    h("h2", { id }, `Give ${lines(items.length)} to a student`),
    h("p", {}, "What is given is kept with its notes and rules, and comes up in practice."),
    field("Student", who),
    named,
    trouble,
    h("div.row", {}, button("Give", act, {}, "button.strong"), button("Cancel", close, {}, "button.quiet")),
  );
  dialog.addEventListener("cancel", close);
  document.body.append(dialog);
  dialog.showModal();
}

/** Answers with what to say of it.
 * @param {Given[]} items
 * @param {string} student
 * @param {boolean} isNew
 */
async function give(items, student, isNew) {
  if (isNew) await post("/api/students", { name: student });
  const { given, already } = await post("/api/practice/lines", { student, items });
  const there = already ? ` ${lines(already)} ${already === 1 ? "was" : "were"} there already.` : "";
  return `Given to ${student}: ${lines(given)}.${there}`;
}
