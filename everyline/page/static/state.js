// What the page is about: rules, page, line, order. All of it stands in the address.

import { post } from "./api.js";
import { isTable, shaped } from "./shapes.js";

export const VIEWS = ["lines", "line", "build", "check", "lesson", "drills"];

export const state = {
  vocabulary: null,
  tables: { changes: "Dm7 | G7 | Cmaj7", range: { instrument: "guitar" } },
  summary: null, // what the server said of these rules, null while they are wrong
  trouble: "", // why they are wrong
  view: "lines",
  number: "1",
  order: "good",
  draw: "1", // which lines were picked
  staves: "auto",
  fretboard: "none", // under every line: for which hand, the one that plucks
  begun: "[]", // the notes of a line that is being built: onset, pitch and length of each
};

const listeners = new Map();
/** Be told of a change: "busy" (rules have changed), "count" (they are counted), "rules" (the count is on the
 *  screen, and everything else may follow), "view". */
export function on(event, act) {
  if (!listeners.has(event)) listeners.set(event, []);
  listeners.get(event).push(act);
}
const tell = (event) => (listeners.get(event) ?? []).forEach((act) => act());

/** The value at a dotted key of the tables. */
export function at(path, tables = state.tables) {
  const [section, key] = path.includes(".") ? path.split(".") : ["", path];
  return section ? tables[section]?.[key] : tables[key];
}

/** The tables with dotted keys set; null, "" and empty lists take a key out. */
export function changed(change, tables = state.tables) {
  const made = structuredClone(tables);
  for (const [path, value] of Object.entries(change)) {
    const [section, key] = path.includes(".") ? path.split(".") : ["", path];
    const gone = value === null || value === "" || (Array.isArray(value) && !value.length);
    const table = section ? (made[section] ??= {}) : made;
    if (gone) delete table[key];
    else table[key] = value;
    if (section && !Object.keys(table).length) delete made[section];
  }
  return made;
}

let round = new AbortController();
/** What is asked about the present rules: stopped, here and on the server, as soon as they change. */
export const untilChanged = () => round.signal;

const MOST_UNDONE = 200;
const past = [];
const future = [];
export const canUndo = () => past.length > 0;
export const canRedo = () => future.length > 0;
export const undo = () => step(past, future);
export const redo = () => step(future, past);

function step(from, to) {
  if (!from.length) return;
  to.push(state.tables);
  setTables(from.pop(), { stepping: true });
}

let counting = false;
/** Make these the rules, count them, and show the count before anything else is done about them. */
export async function setTables(tables, { keepNumber = false, stepping = false } = {}) {
  // A field that leaves the page with the focus in it tells its value once more: that is no change.
  const known = state.summary || state.trouble || counting;
  if (known && JSON.stringify(tables) === JSON.stringify(state.tables)) return;
  if (known && !stepping) {
    past.push(state.tables);
    past.splice(0, past.length - MOST_UNDONE);
    future.length = 0;
  }
  // The server is told everything, and says what is wrong; the page is made from what has the right shape.
  state.tables = shaped(tables, state.vocabulary);
  if (!keepNumber) state.number = "1";
  round.abort();
  const mine = (round = new AbortController());
  counting = true;
  tell("busy");
  try {
    const found = await post("/api/rules", { tables }, mine.signal);
    if (mine !== round) return;
    state.summary = found;
    state.trouble = "";
  } catch (error) {
    if (mine !== round) return;
    state.summary = null;
    state.trouble = error.message;
  }
  counting = false;
  writeAddress(true);
  tell("count");
  await painted();
  if (mine === round) tell("rules");
}

/** When what was just changed stands on the screen; soon, where the page is in the background. */
const painted = () =>
  new Promise((resolve) => {
    const late = setTimeout(resolve, 200);
    requestAnimationFrame(() => {
      clearTimeout(late);
      setTimeout(resolve);
    });
  });

/** Change keys of the rules. */
export const change = (values) => setTables(changed(values));

/** Go to a page, with a line or an order. */
export function go(view, more = {}) {
  Object.assign(state, more);
  state.view = view;
  writeAddress(false);
  tell("view");
}

const KEPT = { line: "number", order: "order", draw: "draw", staves: "staves", fretboard: "fretboard", begun: "begun" };
const USUAL = { number: "1", order: "good", draw: "1", staves: "auto", fretboard: "none", begun: "[]" };
const ONLY_IN = { line: ["line", "lines"], begun: ["build"] };

/** The address of a page with these rules, after the #. */
export function addressOf(view = state.view, more = {}, tables = state.tables) {
  const query = new URLSearchParams();
  for (const [name, key] of Object.entries(KEPT)) {
    const value = more[key] ?? state[key];
    if (value !== USUAL[key] && (ONLY_IN[name]?.includes(view) ?? true)) query.set(name, value);
  }
  for (const [key, value] of Object.entries(tables)) {
    if (value && typeof value === "object" && !Array.isArray(value)) {
      for (const [inner, each] of Object.entries(value)) query.set(`${key}.${inner}`, written(each));
    } else query.set(key, written(value));
  }
  return `#${view}?${query}`;
}

const written = (value) =>
  typeof value === "string" && !/^[\d[{"tf-]/.test(value) ? value : JSON.stringify(value);

function read(text) {
  try {
    return JSON.parse(text);
  } catch {
    return text;
  }
}

let last = "";
function writeAddress(quietly) {
  const made = addressOf();
  if (made === last) return;
  last = made;
  // A changed rule replaces, a visit adds: so Back leads to the page before, not through every key pressed.
  if (quietly) history.replaceState(null, "", made);
  else history.pushState(null, "", made);
}

/** Take over what the address says; answers whether it says anything about rules. */
export function readAddress() {
  const [view, text = ""] = location.hash.slice(1).split(/\?(.*)/s);
  if (location.hash === last) return null;
  last = location.hash;
  const query = new URLSearchParams(text);
  state.view = VIEWS.includes(view) ? view : "lines";
  Object.assign(state, USUAL);
  // A place among all lines is one by number.
  if (state.view === "lines" && query.has("line")) state.order = "number";
  const tables = {};
  for (const [name, value] of query) {
    const [section, key] = name.split(/\.(.*)/s);
    // Names that every object has are keys of no rule file.
    if (section in Object.prototype || key in Object.prototype) continue;
    if (Object.hasOwn(KEPT, name)) state[KEPT[name]] = value;
    else if (key === undefined) tables[name] = read(value);
    else {
      if (!isTable(tables[section])) tables[section] = {};
      tables[section][key] = read(value);
    }
  }
  return Object.keys(tables).length ? tables : null;
}
