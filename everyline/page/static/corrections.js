// What a check found: which notes to ring, and the corrections in the order in which they are shown.

/**
 * A valid line near the one that was checked.
 * @typedef {object} Near
 * @property {string} number
 * @property {number} size how many notes and lengths differ
 * @property {number[]} given places, from 0, of the notes of the line as given that it changes
 */

/**
 * @typedef {object} Found
 * @property {Near[]} by_onset nearest, note for note
 * @property {Near[]} by_order nearest, with notes added or left out
 * @property {{note: number | null}[]} breaches the notes, from 1, that break a rule
 */

/** The corrections, the smallest first, each line once.
 * @param {Found} found
 * @returns {Near[]}
 */
export function smallestFirst({ by_onset, by_order }) {
  /** @type {Map<string, Near>} */
  const lines = new Map();
  for (const each of [...by_onset, ...by_order]) {
    const before = lines.get(each.number);
    if (!before || each.size < before.size) lines.set(each.number, each);
  }
  return [...lines.values()].sort((one, other) => one.size - other.size);
}

/** The notes, from 0, that the smallest correction changes; where there is none, those that break a rule.
 * @param {Found} found
 * @returns {number[]}
 */
export function ringed(found) {
  const [near] = smallestFirst(found);
  if (near) return near.given;
  const notes = found.breaches.map((each) => each.note).filter((note) => note !== null);
  return [...new Set(notes)].map((note) => Number(note) - 1);
}

/** A typed line without its last note.
 * @param {string} text
 */
export const withoutLast = (text) => text.trim().replace(/\s*\S+$/, "");
