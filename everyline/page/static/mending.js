// What an error proposes, as something to press: the rules with the word that is meant in place of the one that is
// not known.

/** @typedef {import("./store.js").Tables} Tables */

const PROPOSED = / Did you mean ([^?]*)\?/;

/** The words in quotation marks in a sentence.
 * @param {string} sentence
 */
const quoted = (sentence) => [...sentence.matchAll(/"([^"]+)"/g)].map((found) => found[1]);

/** What a sentence proposes: each word, and the rules with it. Empty where it proposes nothing, or what is not known
 *  stands nowhere in the rules.
 * @param {string} sentence
 * @param {Tables} tables
 * @returns {{word: string, tables: Tables}[]}
 */
export function mendings(sentence, tables) {
  const proposed = PROPOSED.exec(sentence);
  if (!proposed) return [];
  const before = sentence.slice(0, proposed.index);
  const unknown = [...quoted(before), ...bare(before)].find((word) => isIn(word, tables));
  if (unknown === undefined) return [];
  return quoted(proposed[1]).map((word) => ({ word, tables: /** @type {Tables} */ (put(word, unknown, tables)) }));
}

/** A word that a list of names was found to hold: `figures = ["x", "y"]` is quoted already, `kind = x` is not.
 * @param {string} sentence
 */
const bare = (sentence) => [...sentence.matchAll(/= ([^\s:"]+)/g)].map((found) => found[1]);

const BETWEEN = /([\s|]+)/;

/** Whether a word stands in a value, as all of a text or as one of its words.
 * @param {string} word
 * @param {unknown} value
 * @returns {boolean}
 */
function isIn(word, value) {
  if (typeof value === "string") return value === word || value.split(BETWEEN).includes(word);
  return value instanceof Object && Object.values(value).some((each) => isIn(word, each));
}

/** A value with one word in place of another, wherever that stands.
 * @param {string} word
 * @param {string} instead
 * @param {unknown} value
 * @returns {unknown}
 */
function put(word, instead, value) {
  if (typeof value === "string") {
    if (value === instead) return word;
    return value
      .split(BETWEEN)
      .map((each) => (each === instead ? word : each))
      .join("");
  }
  if (Array.isArray(value)) return value.map((each) => put(word, instead, each));
  if (!(value instanceof Object)) return value;
  return Object.fromEntries(Object.entries(value).map(([name, each]) => [name, put(word, instead, each)]));
}
