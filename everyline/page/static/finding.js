// Looking for a rule by its words: parts, controls, limits, figures, endings.

import { spoken } from "./words.js";

/**
 * @typedef {object} Entry
 * @property {string} part the part of the rules that it is in
 * @property {string} words
 * @property {string} more words that are looked through too
 * @property {string} key the control, or empty for the part itself
 */

const MOST = 30;

/** Everything that can be looked for.
 * @param {import("./store.js").Vocabulary} vocabulary
 * @param {{name: string, title: string, sections: string[]}[]} parts
 * @returns {Entry[]}
 */
export function entriesOf(vocabulary, parts) {
  /** @type {Entry[]} */
  const found = parts.map(({ name, title }) => ({ part: name, words: title, more: "", key: "" }));
  for (const { name, sections } of parts)
    for (const section of vocabulary.sections.filter((each) => sections.includes(each.name)))
      for (const key of section.keys) {
        const path = section.name ? `${section.name}.${key.name}` : key.name;
        found.push({ part: name, words: key.label, more: key.what, key: path });
      }
  for (const kind of vocabulary.limits)
    found.push({ part: "limit", words: kind.title, more: kind.summary, key: `limit add ${kind.kind}` });
  for (const figure of vocabulary.figures)
    found.push({
      part: "approach",
      words: figure.name,
      more: figure.remark,
      key: `approach.figures ${figure.name}`,
    });
  for (const ending of vocabulary.endings)
    found.push({
      part: "ending",
      words: spoken(ending.name),
      more: `${ending.name} ${ending.remark}`,
      key: `ending.use ${ending.name}`,
    });
  return found;
}

/** The entries that have every word: those first whose own words have them.
 * @param {Entry[]} entries
 * @param {string} text
 * @returns {Entry[]}
 */
export function matching(entries, text) {
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  if (!words.length) return [];
  const has = (/** @type {string} */ where) => words.every((word) => where.toLowerCase().includes(word));
  const own = entries.filter((each) => has(each.words));
  const more = entries.filter((each) => !own.includes(each) && has(`${each.words} ${each.more}`));
  return [...own, ...more].slice(0, MOST);
}
