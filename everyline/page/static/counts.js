// How many of something start in each chord.

import { count } from "./choices.js";
import { button, h } from "./dom.js";
import { explained } from "./explain.js";
import { keyOf } from "./keys.js";
import { at, change, state } from "./state.js";
import { replaced } from "./tables.js";
import { countWords } from "./words.js";

/** The control for the key ``count`` of a table: a row of choices for each entry of its list. */
export function counts(table, usualChoices) {
  const path = `${table}.count`;
  const key = keyOf(table, "count");
  const usual = key.default[0];
  const values = (at(path) ?? [usual]).map(String);
  const tidy = (list) => (list.length === 1 && list[0] === usual ? null : list);
  const rows = values.map((value, place) => {
    const offered = usualChoices.includes(value) ? usualChoices : [...usualChoices, value];
    const changeTo = (each) => ({ [path]: tidy(replaced(values, place, each)) });
    return countRow(path, place, whereOf(place, values.length), offered, value, changeTo);
  });
  const { length } = state.summary?.chords ?? [];
  const more = () => change({ [path]: [...values, values.at(-1)] });
  const fewer = () => change({ [path]: tidy(values.slice(0, -1)) });
  const tools = h(
    "div.steps",
    {},
    button(
      "Add a chord of its own",
      more,
      { "data-key": `${path} more`, disabled: values.length >= length - 1 },
      "button.quiet",
    ),
    button(
      "Remove the last",
      fewer,
      { "data-key": `${path} fewer`, disabled: values.length < 2 },
      "button.quiet",
    ),
  );
  return explained(path, key, h("fieldset.counts", {}, h("legend", {}, key.label), rows, tools));
}

/** Which chords a place in the list is about. */
function whereOf(place, length) {
  const symbol = state.summary?.chords[place]?.symbol ?? `chord ${place + 1}`;
  if (length === 1) return "each chord";
  return place === length - 1 ? `${symbol} and after` : symbol;
}

function countRow(path, place, where, offered, value, changeTo) {
  const option = (each) => {
    const leaves = h("span.leaves");
    count(leaves, changeTo(each));
    const attributes = {
      type: "radio",
      name: `${path} ${place}`,
      "data-key": `${path} ${place} ${each}`,
      checked: each === value,
    };
    return h(
      "label.chip",
      {},
      h("input", { ...attributes, onchange: () => change(changeTo(each)) }),
      h("span", {}, countWords(each)),
      leaves,
    );
  };
  return h(
    "div.count-row",
    { role: "radiogroup", "aria-label": where },
    h("span.count-where", {}, where),
    offered.map(option),
  );
}
