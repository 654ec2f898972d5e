// A control for every type of key that a rule file knows. Each is given the key's row of the table, the value
// that stands there, and what to call with a new value (null takes the key out).

import { count } from "./choices.js";
import { button, field, fresh, h } from "./dom.js";
import { state } from "./state.js";

/** A row of choices of which one holds. options: [value, words]. */
export function oneOf(legend, key, options, value, set, change) {
  const name = fresh("one");
  return h(
    "fieldset.choices",
    {},
    h("legend", {}, legend),
    options.map(([each, words, title]) => {
      const leaves = h("span.leaves");
      if (change) count(leaves, change(each));
      return h(
        "label.chip",
        { title },
        h("input", {
          type: "radio",
          name,
          "data-key": `${key} ${each}`,
          checked: each === value,
          onchange: () => set(each),
        }),
        h("span", {}, words),
        leaves,
      );
    }),
  );
}

/** A row of choices of which any number may hold. What holds is read off the boxes themselves, so that whoever
 *  ticks faster than the counts come loses nothing. */
export function anyOf(legend, key, options, values, set, change, help) {
  const inputs = [];
  const chosen = () => inputs.filter((each) => each.checked).map((each) => each.choice);
  const long = options.length > 4 && options.some(([, words]) => String(words).length > 5);
  const box = h(
    long ? "fieldset.choices.long" : "fieldset.choices",
    {},
    h("legend", {}, legend),
    help ? h("p.help", {}, help) : null,
  );
  for (const [each, words, title] of options) {
    const there = values.includes(each);
    const leaves = h("span.leaves");
    if (change)
      count(
        leaves,
        change(options.map(([one]) => one).filter((one) => (one === each ? !there : values.includes(one)))),
      );
    const input = h("input", {
      type: "checkbox",
      "data-key": `${key} ${each}`,
      checked: there,
      onchange: () => set(chosen()),
    });
    input.choice = each;
    inputs.push(input);
    box.append(h("label.chip", { title }, input, h("span", {}, words), leaves));
  }
  box.chosen = chosen;
  return box;
}

/** A line of text.
 * @param {{help?: string, example?: string, list?: string, wide?: boolean}} options
 */
export function written(words, key, value, set, options = {}) {
  const { help, example, list, wide } = options;
  const input = h("input", {
    type: "text",
    class: wide ? "wide" : "",
    "data-key": key,
    value: value ?? "",
    placeholder: example ?? "",
    list,
    autocomplete: "off",
    spellcheck: "false",
    onchange: () => set(input.value.trim() || null),
  });
  input.defaultValue = input.value;
  return field(words, input, help);
}

/** A whole number, with the counts that one less and one more would leave.
 * @param {{least: number, most: number, help?: string, set: (value: number) => void, change?: any}} options
 */
export function number(words, key, value, usual, options) {
  const { least, most, help, set, change } = options;
  const now = value ?? usual;
  const input = h("input", {
    type: "number",
    "data-key": key,
    value: value ?? "",
    placeholder: usual ?? "",
    min: least,
    max: most,
    onchange: () => set(input.value === "" ? null : Math.round(Number(input.value))),
  });
  input.defaultValue = input.value;
  const made = field(words, input, help);
  if (change && typeof now === "number") {
    const steps = h("div.steps");
    for (const next of [now - 1, now + 1]) {
      if ((least !== null && next < least) || (most !== null && next > most)) continue;
      const leaves = h("span.leaves");
      count(leaves, change(next));
      steps.append(
        button(
          [`${next}`, leaves],
          () => set(next),
          { "aria-label": `${words}: ${next}`, "data-key": `${key} to ${next}` },
          "button.chip",
        ),
      );
    }
    made.append(steps);
  }
  return made;
}

/** A choice out of many, by name. */
export function select(words, key, options, value, set, help) {
  const made = h(
    "select",
    { "data-key": key, onchange: () => set(made.value === "" ? null : made.value) },
    options.map(([each, text]) => h("option", { value: each }, text)),
  );
  made.value = value ?? "";
  return field(words, made, help);
}

const DEGREES = ["1", "b9", "9", "b3", "3", "11", "#11", "5", "#5", "13", "b7", "7"];
const SOUNDING = {
  b2: "b9",
  2: "9",
  "#2": "b3",
  "#9": "b3",
  4: "11",
  "#4": "#11",
  b5: "#11",
  b6: "#5",
  b13: "#5",
  6: "13",
  bb7: "13",
};
const readable = (degree) => degree.replace("b", "♭").replace("#", "♯");

/** Degrees, twelve of them, under their commonest names. */
export function degrees(legend, key, value, set, change, help) {
  const there = (value ?? []).map((each) => (DEGREES.includes(each) ? each : (SOUNDING[each] ?? each)));
  return anyOf(
    legend,
    key,
    DEGREES.map((each) => [each, readable(each)]),
    there,
    set,
    change,
    help,
  );
}

const listed = (text) => (text === null ? null : text.split(/[\s,]+/).filter(Boolean));
const words = (key, many) => (many ? key.help[0].toUpperCase() + key.help.slice(1) : key.help);

/** A value as one would say it, without the signs of the rule file. */
const plainly = (value) => (Array.isArray(value) ? value.join(", ") : String(value).replace(/["[\]]/g, ""));

/** The control for a key. ``set(value)`` changes it, ``change(value)`` is the change for live counts. */
export function control(path, key, value, set, change) {
  const { summary, vocabulary } = state;
  const legend = words(key, true);
  const example = key.example.replace(/^"|"$/g, "");
  const usual = key.default_text || (key.default ?? "");
  const help = usual !== "" && key.type !== "number" ? `Default: ${plainly(usual)}.` : null;
  switch (key.type) {
    case "choice":
      return oneOf(legend, path, key.choices, value ?? key.default, set, change);
    case "choices":
      return anyOf(legend, path, key.choices, value ?? [], set, change);
    case "flag":
      return oneOf(
        legend,
        path,
        [
          [true, "yes"],
          [false, "no"],
        ],
        value ?? key.default,
        set,
        change,
      );
    case "cells":
      return cells(legend, path, value ?? [], set, change);
    case "number":
      return number(legend, path, value, key.default ?? (Number(key.default_text) || null), {
        least: key.least,
        most: key.most,
        help: typeof key.default !== "number" ? help : `Otherwise ${key.default}.`,
        set,
        change,
      });
    case "degrees":
      return degrees(legend, path, value, set, change, help);
    case "degree":
      return select(
        legend,
        path,
        [["", "choose"], ...DEGREES.map((each) => [each, readable(each)])],
        value,
        set,
      );
    case "chord":
      return select(legend, path, [["", "every chord"], ...chords()], value, set);
    case "beat":
      return select(
        legend,
        path,
        [["", "any beat"], ...(summary?.beats ?? []).map((each) => [each, each])],
        value,
        set,
      );
    case "beats":
      return anyOf(
        legend,
        path,
        (summary?.beats ?? []).map((each) => [each, each]),
        (value ?? []).map(String),
        set,
        change,
        help,
      );
    case "pickups": {
      const beats = Number((summary?.meter ?? [4])[0]);
      const most = (state.tables.rhythm?.cells ? 2 * beats : beats * (summary?.subdivision ?? 2)) - 1;
      const slots = Array.from({ length: most }, (_, place) => [place + 1, String(place + 1)]);
      return anyOf(legend, path, slots, value ?? [], set, change);
    }
    case "strings": {
      const found = vocabulary.instruments.find((each) => each.name === state.tables.range?.instrument);
      const most = (found?.strings.length || 6) + 1;
      const all = Array.from({ length: most - 1 }, (_, place) => [place + 1, String(place + 1)]);
      return anyOf(legend, path, all, value ?? [], set, change, "1 is the highest. Otherwise all strings.");
    }
    case "intervals":
      return written(legend, path, value?.join(" "), (text) => set(listed(text)?.map(Number) ?? null), {
        example: "-1 -1",
      });
    case "pitches":
    case "qualities":
    case "names":
      return written(legend, path, value?.join(" "), (text) => set(listed(text)), {
        help,
        example: example.replace(/["[\],]/g, ""),
      });
    default:
      return written(legend, path, value, set, {
        help,
        example,
        wide: ["changes", "notes", "rhythm"].includes(key.type),
      });
  }
}

/** Rhythms of which a line is made: those of the table, the file's own beside them, and a line for more. */
function cells(legend, path, values, set, change) {
  const offered = Object.entries(state.vocabulary.cells);
  const own = values.filter((each) => !offered.some(([cell]) => cell === each)).map((each) => [each, each]);
  const box = anyOf(
    legend,
    path,
    [...offered, ...own],
    values,
    set,
    change,
    "None chosen: a note on every part of the beat.",
  );
  box.append(
    written(
      "Another rhythm, in note values",
      `${path} more`,
      "",
      (text) =>
        text &&
        set([
          ...new Set([
            ...box.chosen(),
            ...text
              .split(",")
              .map((each) => each.trim())
              .filter(Boolean),
          ]),
        ]),
      {
        example: "8. 16",
        help: "4 is a quarter, 8 an eighth, a dot lengthens, t makes triplets, r a rest; each lasts whole beats.",
      },
    ),
  );
  return box;
}

/** Every chord of the changes once, for a select. */
export function chords() {
  const symbols = [...new Set((state.summary?.chords ?? []).map((each) => each.symbol))];
  return symbols.map((each) => [each, each]);
}
