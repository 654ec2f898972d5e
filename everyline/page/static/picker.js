// A long list to choose from: grouped, searchable, in a box of its own height, so that nothing below it moves.

import { count } from "./choices.js";
import { button, fresh, h, say } from "./dom.js";
import { explained } from "./explain.js";

const FEW = 8; // choices from which on it is worth looking for one

/**
 * @typedef {object} Choice
 * @property {string} value
 * @property {string} words
 * @property {string} [note] more to read, such as the notes of an ending
 * @property {string} group
 * @property {any} [what] what explains it
 */

const sought = new Map(); // what was looked for in each list, so that it stays when the rules are drawn anew
const scrolled = new Map();

/** Any number of choices. ``values`` hold, ``set(values)`` changes them, ``change(values)`` is the change for the
 *  counts, ``usual`` are those that hold where none is named: the last one of them cannot be taken out.
 * @typedef {{legend: string, key: string, choices: Choice[], help?: string}} Listed
 * @param {Listed & {values: string[], usual: string[], set: any, change: any}} asked
 */
export function picker(asked) {
  const given = { ...asked, boxes: [] };
  const { legend, key, choices } = given;
  const list = h("div.picker-list", { tabindex: "0", role: "group", "aria-label": legend });
  const groups = [...new Set(choices.map((each) => each.group))];
  const sections = groups.map((group) =>
    section(
      group,
      choices.filter((each) => each.group === group),
      given,
    ),
  );
  list.append(...sections.map((each) => each.place));
  list.addEventListener("scroll", () => scrolled.set(key, list.scrollTop), { passive: true });
  requestAnimationFrame(() => (list.scrollTop = scrolled.get(key) ?? 0));
  return h(
    "fieldset.picker",
    {},
    h("legend", {}, legend),
    given.help ? h("p.help", {}, given.help) : null,
    choices.length > FEW ? finder(given, sections) : null,
    list,
  );
}

function finder({ legend, key }, sections) {
  const id = fresh("find");
  const field = h("input", {
    type: "text",
    id,
    value: sought.get(key) ?? "",
    "data-key": `${key} find`,
    placeholder: "find one",
    autocomplete: "off",
    "aria-label": `Find one of: ${legend}`,
  });
  const look = () => {
    sought.set(key, field.value);
    const words = field.value.trim().toLowerCase();
    for (const { place, rows } of sections) {
      for (const { row, text } of rows) row.hidden = Boolean(words) && !text.includes(words);
      place.hidden = rows.every(({ row }) => row.hidden);
    }
  };
  field.addEventListener("input", look);
  look();
  return field;
}

function section(group, choices, given) {
  const rows = choices.map((choice) => ({
    row: row(choice, given),
    text: `${group} ${choice.words} ${choice.note ?? ""}`.toLowerCase(),
  }));
  const title = group ? h("h4.picker-group", {}, group) : null;
  return {
    place: h(
      "div",
      {},
      title,
      rows.map((each) => each.row),
    ),
    rows,
  };
}

function row(choice, given) {
  const { key, values, usual, change, boxes } = given;
  const there = values.includes(choice.value);
  const others = values.filter((each) => each !== choice.value);
  const more = given.choices
    .map((each) => each.value)
    .filter((each) => values.includes(each) || each === choice.value);
  const leaves = h("span.leaves");
  const last = there && !others.length && usual.length > 0;
  if (!last) count(leaves, change(there ? others : more), there);
  const input = h("input", {
    type: "checkbox",
    checked: there,
    "data-key": `${key} ${choice.value}`,
    onchange: () => ticked(input, given),
  });
  boxes.push([choice.value, input]);
  const words = h(
    "span.pick-words",
    {},
    h("span", {}, choice.words),
    choice.note ? h("span.help", {}, choice.note) : null,
    leaves,
  );
  const label = h("label.pick", {}, input, words);
  return choice.what ? explained(`${key} ${choice.value}`, choice.what, label) : label;
}

/** What holds is read off the boxes themselves, so that whoever ticks faster than the counts come loses nothing. */
function ticked(input, { boxes, usual, set }) {
  const chosen = boxes.filter(([, each]) => each.checked).map(([value]) => value);
  if (chosen.length || !usual.length) return set(chosen);
  input.checked = true;
  return say("One of them at least must stay.");
}

/** Buttons that choose all or one. */
export const pickTools = (tools) =>
  h(
    "div.steps",
    {},
    tools.map(([words, key, act, able]) =>
      button(words, act, { "data-key": key, disabled: !able }, "button.quiet"),
    ),
  );
