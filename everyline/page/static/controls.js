// A control for every type of key that a rule file knows. Each is given the key's row of the table, the value
// that stands there, and what to call with a new value (null takes the key out).

import { count } from "./choices.js";
import { button, field, fresh, h, say } from "./dom.js";
import { state } from "./state.js";
import { isNothing, sameMembers } from "./tables.js";
import { signed } from "./words.js";

/** A row of choices of which one holds. options: [value, words]. */
export function oneOf(legend, key, options, value, set, change) {
  const name = fresh("one");
  const option = ([each, words]) => {
    const leaves = h("span.leaves");
    if (change) count(leaves, change(each));
    const attributes = { type: "radio", name, "data-key": `${key} ${each}`, checked: each === value };
    return h(
      "label.chip",
      {},
      h("input", { ...attributes, onchange: () => set(each) }),
      h("span", {}, words),
      leaves,
    );
  };
  return h("fieldset.choices", {}, h("legend", {}, legend), options.map(option));
}

/** A row of choices of which any number may hold. What holds is read off the boxes themselves, so that whoever
 *  ticks faster than the counts come loses nothing. ``usual`` are those that hold where none is named.
 * @param {string} legend
 * @param {string} key
 * @param {[any, string][]} options
 * @param {any[] | null} values
 * @param {(values: any[] | null) => void} set
 * @param {((value: any[] | null) => any) | null} [change]
 * @param {string | null} [help]
 * @param {any[]} [usual]
 */
export function anyOf(legend, key, options, values, set, change, help, usual = []) {
  const long = options.length > 4 && options.some(([, words]) => String(words).length > 5);
  const named = (chosen) => (usual.length && sameMembers(chosen, usual) ? null : chosen);
  const there = isNothing(values) ? usual : values;
  const inputs = [];
  const ticked = (input) => {
    const chosen = inputs.filter((each) => each.checked).map((each) => each.choice);
    if (chosen.length || !usual.length) return set(named(chosen));
    input.checked = true;
    return say("One of them at least must stay.");
  };
  const option = ([each, words]) => {
    const checked = there.includes(each);
    const next = options.map(([one]) => one).filter((one) => (one === each ? !checked : there.includes(one)));
    const leaves = h("span.leaves");
    if (change && (next.length || !usual.length)) count(leaves, change(named(next)), checked);
    const input = h("input", {
      type: "checkbox",
      "data-key": `${key} ${each}`,
      checked,
      onchange: () => ticked(input),
    });
    input.choice = each;
    inputs.push(input);
    return h("label.chip", {}, input, h("span", {}, words), leaves);
  };
  const spec = long ? "fieldset.choices.long" : "fieldset.choices";
  return h(spec, {}, h("legend", {}, legend), help ? h("p.help", {}, help) : null, options.map(option));
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
  const input = h("input", {
    type: "number",
    "data-key": key,
    value: value ?? "",
    placeholder: usual ?? "",
    min: least,
    max: most,
    onchange: () => {
      // What is shown is what holds.
      const asked = Math.round(Number(input.value));
      const within = Math.min(most ?? asked, Math.max(least ?? asked, asked));
      if (input.value !== "") input.value = within;
      set(input.value === "" ? null : within);
    },
  });
  input.defaultValue = input.value;
  const made = field(words, input, help);
  const now = value ?? usual;
  if (change && typeof now === "number") made.append(steps(words, key, now, options));
  return made;
}

/** Buttons for one less and one more; where there is none, room for one, so that the other stays where it is. */
function steps(words, key, now, { least, most, set, change = null }) {
  const step = (next) => {
    const able = (least === null || next >= least) && (most === null || next <= most);
    const leaves = h("span.leaves");
    if (able) count(leaves, change(next));
    const attributes = {
      "aria-label": `${words}: ${next}`,
      "data-key": `${key} to ${next < now ? "less" : "more"}`,
      disabled: !able,
    };
    return button([able ? `${next}` : "–", leaves], () => set(next), attributes, "button.chip");
  };
  return h("div.steps", {}, step(now - 1), step(now + 1));
}

/** A choice out of many, by name. */
export function select(words, key, options, value, set, help = null) {
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

/** Degrees, twelve of them, under their commonest names. */
function degrees(legend, key, value, set, change, help) {
  const there = (value ?? []).map((each) => (DEGREES.includes(each) ? each : (SOUNDING[each] ?? each)));
  return anyOf(
    legend,
    key,
    DEGREES.map((each) => [each, signed(each)]),
    there,
    set,
    change,
    help,
  );
}

const listed = (text) => (text === null ? null : text.split(/[\s,]+/).filter(Boolean));

/** A value as one would say it, without the signs of the rule file. */
const plainly = (value) => (Array.isArray(value) ? value.join(", ") : String(value).replace(/["[\]]/g, ""));

/** @returns {[any, string]} */
const same = (each) => [each, String(each)];
const ANY = "None ticked: any of them.";

/**
 * What each type of key is controlled by.
 * @type {Record<string, (legend: string, path: string, key: any, value: any, set: any, change: any) => any>}
 */
const MAKERS = {
  choice: (legend, path, key, value, set, change) =>
    oneOf(legend, path, key.choices, value ?? key.default, set, change),
  choices: (legend, path, key, value, set, change) => anyOf(legend, path, key.choices, value, set, change),
  flag: (legend, path, key, value, set, change) =>
    oneOf(
      legend,
      path,
      [
        [true, "yes"],
        [false, "no"],
      ],
      value ?? key.default,
      set,
      change,
    ),
  cells: (legend, path, key, value, set, change) => cells(legend, path, value ?? [], set, change),
  number: (legend, path, key, value, set, change) =>
    number(legend, path, value, key.default ?? (Number(key.default_text) || null), {
      least: key.least,
      most: key.most,
      set,
      change,
    }),
  degrees: (legend, path, key, value, set, change) =>
    degrees(legend, path, value, set, change, key.required ? null : ANY),
  degree: (legend, path, key, value, set) =>
    select(legend, path, [["", "choose"], ...DEGREES.map((each) => [each, signed(each)])], value, set),
  chord: (legend, path, key, value, set) =>
    select(legend, path, [["", "every chord"], ...chords()], value, set),
  beat: (legend, path, key, value, set) =>
    select(legend, path, [["", "any beat"], ...(state.summary?.beats ?? []).map(same)], value, set),
  beats: (legend, path, key, value, set, change) => {
    const usual = key.default_text ? plainly(key.default_text).split(", ") : [];
    return anyOf(
      legend,
      path,
      (state.summary?.beats ?? []).map(same),
      value?.map(String),
      set,
      change,
      null,
      usual,
    );
  },
  pickups: (legend, path, key, value, set, change) => anyOf(legend, path, pickups(), value, set, change),
  strings: (legend, path, key, value, set, change) => {
    const all = strings();
    return anyOf(legend, path, all.map(same), value, set, change, null, all);
  },
  intervals: (legend, path, key, value, set) =>
    written(legend, path, value?.join(" "), (text) => set(listed(text)?.map(Number) ?? null), {
      example: "-1 -1",
    }),
};

const LISTED = ["pitches", "qualities", "names"];
const WIDE = ["changes", "notes", "rhythm"];

/** The control for a key. ``set(value)`` changes it, ``change(value)`` is the change for live counts. */
export function control(path, key, value, set, change = null) {
  const maker = MAKERS[key.type];
  if (maker) return maker(key.label, path, key, value, set, change);
  const usual = key.default_text || (key.default ?? "");
  const help = usual === "" ? null : `Default: ${plainly(usual)}.`;
  const example = key.example.replace(/["[\],]/g, "");
  if (LISTED.includes(key.type))
    return written(key.label, path, value?.join(" "), (text) => set(listed(text)), { help, example });
  return written(key.label, path, value, set, {
    help,
    example: key.example.replace(/^"|"$/g, ""),
    wide: WIDE.includes(key.type),
  });
}

function pickups() {
  const { summary, tables } = state;
  const parts = tables.rhythm?.cells ? summary?.beat_parts : summary?.subdivision;
  const most = (summary?.beats_in_a_bar ?? 4) * (parts ?? 2) - 1;
  return Array.from({ length: most }, (_, place) => same(place + 1));
}

function strings() {
  const found = state.vocabulary.instruments.find((each) => each.name === state.tables.range?.instrument);
  return Array.from({ length: found?.strings.length || 6 }, (_, place) => place + 1);
}

/** Rhythms of which a line is made: those of the table, the file's own beside them, and a line for more. */
function cells(legend, path, values, set, change) {
  const { vocabulary, tables } = state;
  const offered = Object.entries(tables.beat === "4." ? vocabulary.dotted_cells : vocabulary.cells);
  const own = values.filter((each) => !offered.some(([cell]) => cell === each)).map(same);
  const box = anyOf(
    legend,
    path,
    [...offered, ...own],
    values,
    set,
    change,
    "None ticked: a note on every part of the beat.",
  );
  const add = (text) => {
    const ticked = [...box.querySelectorAll("input[type=checkbox]")]
      .filter((each) => each.checked)
      .map((each) => each.choice);
    const more = (text ?? "").split(",").map((each) => each.trim());
    if (text) set([...new Set([...ticked, ...more.filter(Boolean)])]);
  };
  const help =
    "4 is a quarter, 8 an eighth, a dot lengthens, t makes triplets, r a rest; each lasts whole beats.";
  box.append(written("Another rhythm, in note values", `${path} more`, "", add, { example: "8. 16", help }));
  return box;
}

/** Every chord of the changes once, for a select. */
export function chords() {
  return [...new Set((state.summary?.chords ?? []).map((each) => each.symbol))].map(same);
}
