// Figures, endings and chord scales that belong to these rules alone.

import { chords, control, written } from "./controls.js";
import { button, h } from "./dom.js";
import { section } from "./keys.js";
import { change, state } from "./state.js";
import { replaced, withKey } from "./tables.js";

/** The part of the rules with everything of the file's own. */
export function ownPart(body) {
  body.append(list("figures", "An approach figure of your own"));
  body.append(list("endings", "An ending of your own"));
  body.append(scales());
}

export function ownSays() {
  const { figures = [], endings = [], scales = {} } = state.tables;
  const named = [...figures, ...endings].map((each) => each.name);
  return [...named, ...Object.keys(scales).map((each) => `scale of ${each}`)].join(", ") || "none";
}

/** Cards for the tables of a section that may repeat, and a form for one more. */
function list(name, title) {
  const there = state.tables[name] ?? [];
  return h(
    "section.own",
    { "aria-label": title },
    h("h4", {}, title),
    there.map((_, place) => card(name, place)),
    newCard(name),
  );
}

const put = (name, values) => change({ [name]: values.length ? values : null });

function card(name, place) {
  const there = state.tables[name];
  const table = there[place];
  const set = (key) => (value) => put(name, replaced(there, place, withKey(table, key.name, value)));
  const out = () =>
    put(
      name,
      there.filter((_, index) => index !== place),
    );
  return h(
    "div.limit",
    {},
    section(name).keys.map((key) => control(`${name} ${place} ${key.name}`, key, table[key.name], set(key))),
    button(`Take out ${table.name}`, out, {}, "button.quiet"),
  );
}

const begun = { figures: {}, endings: {} }; // what was begun and not added yet

function newCard(name) {
  const set = (key) => (value) => (begun[name] = withKey(begun[name], key.name, value));
  const fields = section(name).keys.map((key) =>
    control(`${name} new ${key.name}`, key, begun[name][key.name], set(key)),
  );
  const form = h("div.limit.new", {}, fields);
  const add = () => {
    // What was typed last may not have been handed over yet.
    form.querySelectorAll("input[type=text]").forEach((each) => each.dispatchEvent(new Event("change")));
    const made = begun[name];
    if (!made.name) return form.querySelector("input").focus();
    begun[name] = {};
    return put(name, [...(state.tables[name] ?? []), made]);
  };
  form.append(button("Add it", add, { "data-key": `${name} add` }));
  return form;
}

function scales() {
  const names = state.vocabulary.scales;
  const id = "scale-names";
  const there = state.tables.scales ?? {};
  return h(
    "section.own",
    { "aria-label": "Chord scales" },
    h("h4", {}, "Chord scales"),
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
