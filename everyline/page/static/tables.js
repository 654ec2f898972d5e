// The tables of a rule file: looking a value up, and a copy with values changed. Keys are dotted: "range.lowest".

/** @typedef {import("./store.js").Tables} Tables */

/** @param {string} path */
const parts = (path) => (path.includes(".") ? path.split(/\.(.*)/s) : ["", path]);

/** The value at a dotted key.
 * @param {string} path
 * @param {Tables} tables
 */
export function valueAt(path, tables) {
  const [section, key] = parts(path);
  return section ? tables[section]?.[key] : tables[key];
}

/** @param {unknown} value */
export const isNothing = (value) =>
  value === null || value === undefined || value === "" || (Array.isArray(value) && !value.length);

/** The tables with dotted keys set; null, "" and empty lists take a key out.
 * @param {Record<string, any>} change
 * @param {Tables} tables
 */
export function withChange(change, tables) {
  const made = structuredClone(tables);
  for (const [path, value] of Object.entries(change)) {
    const [section, key] = parts(path);
    const table = section ? (made[section] ??= {}) : made;
    if (isNothing(value)) delete table[key];
    else table[key] = value;
    if (section && !Object.keys(table).length) delete made[section];
  }
  return made;
}

/** Whether two lists have the same members.
 * @param {unknown[]} one
 * @param {unknown[]} other
 */
export const sameMembers = (one, other) =>
  one.length === other.length && one.every((each) => other.includes(each));

/** A key of a table set or taken out.
 * @param {Tables} table
 * @param {string} key
 * @param {unknown} value
 */
export function withKey(table, key, value) {
  const { [key]: _, ...rest } = table;
  return isNothing(value) ? rest : { ...table, [key]: value };
}

/** The list with one member replaced.
 * @template Member
 * @param {Member[]} list
 * @param {number} place
 * @param {Member} value
 */
export const replaced = (list, place, value) => list.map((each, index) => (index === place ? value : each));
