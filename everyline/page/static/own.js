// Figures, endings and chord scales that belong to these rules alone.

import { chords, control, written } from "./controls.js";
import { button, h } from "./dom.js";
import { change, state } from "./state.js";

/** The part of the rules with everything of the file's own. */
export function ownPart(body) {
  body.append(list("figures", "An approach figure of your own", { name: "", steps: "" }));
  body.append(list("endings", "An ending of your own", { name: "", notes: "" }));
  body.append(scales());
}

/** Cards for the tables of a section that may repeat, and a form for one more. */
function list(name, title, empty) {
  const section = state.vocabulary.sections.find((each) => each.name === name);
  const there = state.tables[name] ?? [];
  const set = (values) => change({ [name]: values.length ? values : null });
  const box = h("section.own", { "aria-label": title }, h("h3", {}, title));
  there.forEach((table, place) => {
    const card = h("div.limit");
    for (const key of section.keys)
      card.append(
        control(`${name} ${place} ${key.name}`, key, table[key.name], (value) => {
          const { [key.name]: _, ...rest } = table;
          set(
            there.map((each, index) =>
              index === place ? (value === null ? rest : { ...rest, [key.name]: value }) : each,
            ),
          );
        }),
      );
    card.append(
      button(
        `Take out ${table.name}`,
        () => set(there.filter((_, index) => index !== place)),
        {},
        "button.quiet",
      ),
    );
    box.append(card);
  });
  const made = { ...empty };
  const form = h("div.limit.new");
  for (const key of section.keys)
    form.append(
      control(`${name} new ${key.name}`, key, undefined, (value) =>
        value === null ? delete made[key.name] : (made[key.name] = value),
      ),
    );
  form.append(
    button("Add it", () => {
      // What was typed last may not have been handed over yet.
      form.querySelectorAll("input").forEach((each) => each.dispatchEvent(new Event("change")));
      if (made.name) set([...there, made]);
      else form.querySelector("input").focus();
    }),
  );
  box.append(form);
  return box;
}

function scales() {
  const names = state.vocabulary.scales;
  const id = "scale-names";
  const there = state.tables.scales ?? {};
  return h(
    "section.own",
    { "aria-label": "Chord scales" },
    h("h3", {}, "Chord scales"),
    h("p.help", {}, "The scale over a chord gives the diatonic neighbours of approach figures."),
    h(
      "datalist",
      { id },
      names.map((each) => h("option", { value: each })),
    ),
    chords().map(([symbol]) => {
      const value = there[symbol];
      return written(
        `Scale over ${symbol}`,
        `scales ${symbol}`,
        Array.isArray(value) ? value.join(" ") : value,
        (text) => {
          const next = { ...there };
          if (text === null) delete next[symbol];
          else next[symbol] = /^[#b\d ]+$/.test(text) ? text.split(/\s+/) : text;
          change({ scales: Object.keys(next).length ? next : null });
        },
        { list: id, example: "as usual" },
      );
    }),
  );
}
