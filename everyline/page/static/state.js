// What one can do with the rules and the pages: change, undo, go. Every state has an address, so that the
// browser's own Back and Forward lead through all of it.

import { addressFor, readFrom } from "./address.js";
import { post } from "./api.js";
import { Past } from "./past.js";
import { shaped } from "./shapes.js";
import { on, state, tell } from "./store.js";
import { valueAt, withChange } from "./tables.js";

export { VIEWS } from "./address.js";
export { on, state };

/** @typedef {import("./store.js").Tables} Tables */

/** The value at a dotted key of the tables. */
export const at = (path, tables = state.tables) => valueAt(path, tables);

/** The tables with dotted keys set; null, "" and empty lists take a key out. */
export const changed = (change, tables = state.tables) => withChange(change, tables);

let round = new AbortController();
/** What is asked about the present rules: stopped, here and on the server, as soon as they change. */
export const untilChanged = () => round.signal;

/** @type {Past<Tables>} */
const past = new Past();
export const canUndo = () => past.canUndo;
export const canRedo = () => past.canRedo;
export const undo = () => back(past.undo(state.tables));
export const redo = () => back(past.redo(state.tables));

function back(tables) {
  if (tables) setTables(tables, { stepping: true });
}

/** Make these the rules, count them, and show the count before anything else is done about them. */
export async function setTables(tables, { keepNumber = false, stepping = false, again = false } = {}) {
  // A field that leaves the page with the focus in it tells its value once more: that is no change.
  const known = state.summary || state.trouble || state.counting;
  if (known && !again && JSON.stringify(tables) === JSON.stringify(state.tables)) return;
  if (known && !stepping && !again) past.record(state.tables);
  // The server is told everything, and says what is wrong; the page is made from what has the right shape.
  state.tables = shaped(tables, state.vocabulary);
  if (!keepNumber) Object.assign(state, { number: "1", place: "1" });
  round.abort();
  const mine = (round = new AbortController());
  state.counting = true;
  tell("busy");
  if (!(await counted(tables, mine))) return;
  state.counting = false;
  // What was arrived at has its place already; what was changed can be gone back from.
  writeAddress(!known || keepNumber);
  tell("count");
  await painted();
  if (mine === round) tell("rules");
}

/** Count the rules; answers whether they are still those that were asked about. */
async function counted(tables, mine) {
  try {
    const found = await post("/api/rules", { tables }, mine.signal);
    if (mine !== round) return false;
    Object.assign(state, { summary: found, trouble: "", away: false });
  } catch (error) {
    if (mine !== round) return false;
    Object.assign(state, { trouble: error.message, away: error.status === undefined });
  }
  return true;
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
  // What was scrolled to is in the address of the page that is left.
  writeAddress(true);
  Object.assign(state, more);
  state.view = view;
  writeAddress(false);
  tell("view");
}

/** The address of a page with these rules, after the #. */
export const addressOf = (view = state.view, more = {}, tables = state.tables) =>
  addressFor({ ...state, ...more, view }, tables);

let last = "";
/** Write the present state to the address: in place of the one before, or as a new one to go back from. */
export function writeAddress(inPlace) {
  // Rules that are still being counted are about to get an entry of their own: what is noted meanwhile, as the
  // place scrolled to, must not put them in place of the rules one would go back to.
  if (inPlace && state.counting) return;
  const made = addressOf();
  if (made === last) return;
  last = made;
  if (inPlace) history.replaceState(null, "", made);
  else history.pushState(null, "", made);
}

/** Take over what the address says; answers whether it says anything about rules. */
export function readAddress() {
  last = location.hash;
  const { where, tables } = readFrom(location.hash);
  Object.assign(state, where);
  return tables;
}
