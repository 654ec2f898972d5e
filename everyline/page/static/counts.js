// How many of something start in each chord.

import { count } from "./choices.js";
import { button, h } from "./dom.js";
import { at, change, state } from "./state.js";
import { countWords } from "./words.js";

/** The control for the key ``count`` of a table: a row of choices for each entry of its list. */
export function counts(table, legend, usualChoices) {
  const path = `${table}.count`;
  const usual = state.vocabulary.sections
    .find((each) => each.name === table)
    .keys.find((each) => each.name === "count").default[0];
  const values = (at(path) ?? [usual]).map(String);
  const chords = state.summary?.chords ?? [];
  const tidy = (list) => (list.length === 1 && list[0] === usual ? null : list);
  const box = h("fieldset.counts", {}, h("legend", {}, legend));
  values.forEach((value, place) => {
    const symbol = chords[place]?.symbol ?? `chord ${place + 1}`;
    const where =
      values.length === 1 ? "each chord" : place === values.length - 1 ? `${symbol} and after` : symbol;
    const offered = usualChoices.includes(value) ? usualChoices : [...usualChoices, value];
    box.append(
      countRow(path, where, place, offered, value, (each) => ({
        [path]: tidy(values.map((old, index) => (index === place ? each : old))),
      })),
    );
  });
  const tools = h("div.steps");
  if (values.length < chords.length - 1)
    tools.append(
      button(
        "Another chord by itself",
        () => change({ [path]: [...values, values.at(-1)] }),
        { "data-key": `${path} more` },
        "button.quiet",
      ),
    );
  if (values.length > 1)
    tools.append(
      button(
        "One chord fewer by itself",
        () => change({ [path]: tidy(values.slice(0, -1)) }),
        { "data-key": `${path} fewer` },
        "button.quiet",
      ),
    );
  box.append(tools);
  return box;
}

function countRow(path, where, place, offered, value, changeTo) {
  const row = h(
    "div.count-row",
    { role: "radiogroup", "aria-label": `${where}` },
    h("span.count-where", {}, where),
  );
  for (const each of offered) {
    const leaves = h("span.leaves");
    count(leaves, changeTo(each));
    const input = h("input", {
      type: "radio",
      name: `${path} ${place}`,
      "data-key": `${path} ${place} ${each}`,
      checked: each === value,
      onchange: () => change(changeTo(each)),
    });
    row.append(h("label.chip", {}, input, h("span", {}, countWords(each)), leaves));
  }
  return row;
}
