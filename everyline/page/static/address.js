// The address of everything that the page can show: which page, which rules, which line, what was typed.

import { USUAL_DRILL, USUAL_WHERE } from "./store.js";
import { isTable } from "./shapes.js";

/** @typedef {import("./store.js").Tables} Tables */
/** @typedef {import("./store.js").View} View */
/** @typedef {import("./store.js").Drill} Drill */

/** @type {View[]} */
export const VIEWS = ["lines", "line", "build", "check", "plan", "lesson", "drills", "practice"];
const ORDERS = ["good", "number", "smooth", "varied"];
const STAVES = ["auto", "staff", "tab", "both"];
const HANDS = ["none", "right", "left"];
const BOARDS = ["list", "staff", "neck", "keys"];
const LONGEST_PLAN = 60_000;
const LONGEST_NAME = 80;
const LONGEST_TYPED = 10_000;

/**
 * What an address holds beside the rules.
 * @typedef {object} Where
 * @property {View} view
 * @property {string} number
 * @property {string} order
 * @property {string} place
 * @property {string} draw
 * @property {string} staves
 * @property {string} fretboard
 * @property {string} begun
 * @property {string} board
 * @property {string} plan
 * @property {string} typed
 * @property {string} student
 * @property {Drill} drill
 */

export const USUAL = USUAL_WHERE;

/** @param {string} value */
const isNumber = (value) => /^[1-9]\d{0,399}$/.test(value);

/**
 * Names in the address, where they are kept, which pages have them, and which values they may have.
 * @typedef {{key: Exclude<keyof Where, "view" | "drill">, views?: View[], fits: (value: string) => boolean}} Kept
 * @type {Record<string, Kept>}
 */
const KEPT = {
  line: { key: "number", views: ["line", "lines"], fits: isNumber },
  order: { key: "order", fits: (value) => ORDERS.includes(value) },
  place: { key: "place", views: ["lines"], fits: isNumber },
  draw: { key: "draw", fits: (value) => /^[1-9]\d{0,5}$/.test(value) },
  staves: { key: "staves", fits: (value) => STAVES.includes(value) },
  fretboard: { key: "fretboard", fits: (value) => HANDS.includes(value) },
  begun: { key: "begun", views: ["build"], fits: () => true },
  board: { key: "board", views: ["build"], fits: (value) => BOARDS.includes(value) },
  plan: { key: "plan", views: ["plan"], fits: (value) => value.length <= LONGEST_PLAN },
  student: { key: "student", views: ["practice"], fits: (value) => value.length <= LONGEST_NAME },
  notes: { key: "typed", views: ["check"], fits: (value) => value.length <= LONGEST_TYPED },
};

/** The address, after the #, of a page with rules.
 * @param {Where} where
 * @param {Tables} tables
 */
export function addressFor(where, tables) {
  const query = new URLSearchParams();
  for (const [name, { key, views }] of Object.entries(KEPT)) {
    const value = where[key];
    if (value !== USUAL[key] && (views?.includes(where.view) ?? true)) query.set(name, value);
  }
  if (where.view === "drills") {
    for (const [name, value] of Object.entries(where.drill))
      if (JSON.stringify(value) !== JSON.stringify(USUAL_DRILL[/** @type {keyof Drill} */ (name)]))
        query.set(`drill.${name}`, written(value));
  }
  for (const [key, value] of Object.entries(tables)) {
    if (isTable(value)) {
      for (const [inner, each] of Object.entries(value)) query.set(`${key}.${inner}`, written(each));
    } else query.set(key, written(value));
  }
  return `#${where.view}?${query}`;
}

/** @param {unknown} value */
const written = (value) =>
  typeof value === "string" && !/^[\d[{"tf-]/.test(value) ? value : JSON.stringify(value);

/** @param {string} text */
function read(text) {
  try {
    return JSON.parse(text);
  } catch {
    return text;
  }
}

/** What an address says. What does not fit is left out: an address can hold anything.
 * @param {string} hash
 * @returns {{where: Where, tables: Tables | null}} null where it says nothing of rules
 */
export function readFrom(hash) {
  const [view, text = ""] = hash.replace(/^#/, "").split(/\?(.*)/s);
  const query = new URLSearchParams(text);
  /** @type {Where} */
  const where = { ...USUAL, drill: structuredClone(USUAL_DRILL) };
  where.view = VIEWS.find((each) => each === view) ?? "lines";
  // A place among all lines is one by number.
  if (where.view === "lines" && query.has("line") && !query.has("order")) where.order = "number";
  /** @type {Tables} */
  const tables = {};
  for (const [name, value] of query) {
    const [section, key] = name.split(/\.(.*)/s);
    // Names that every object has are keys of no rule file.
    if (section in Object.prototype || (key ?? "") in Object.prototype) continue;
    const place = Object.hasOwn(KEPT, name) ? KEPT[name] : null;
    if (place) {
      if (place.fits(value)) where[place.key] = value;
    } else if (section === "drill") putDrill(where.drill, key, read(value));
    else if (key === undefined) tables[name] = read(value);
    else {
      if (!isTable(tables[section])) tables[section] = {};
      tables[section][key] = read(value);
    }
  }
  return { where, tables: Object.keys(tables).length ? tables : null };
}

/** A setting of a drill set, where it has the shape of the usual one.
 * @param {Drill} drill
 * @param {string} key
 * @param {unknown} value
 */
function putDrill(drill, key, value) {
  if (!Object.hasOwn(USUAL_DRILL, key)) return;
  const usual = USUAL_DRILL[/** @type {keyof Drill} */ (key)];
  const fits = Array.isArray(usual)
    ? Array.isArray(value) && value.length && value.every((each) => typeof each === "string")
    : typeof value === typeof usual && (typeof value !== "number" || Number.isInteger(value));
  if (fits) Object.assign(drill, { [key]: value });
}
