// What the controls above the first lines set in the rules: the progression and its key, the place on the
// instrument, the level. The rest of the rules is left to whoever opens them.

import { isNothing, withChange } from "./tables.js";

/** @typedef {import("./store.js").Tables} Tables */
/** @typedef {import("./store.js").Instrument} Instrument */

const LAST_FRET_OF_HAND = 4; // of a position that begins at fret 0; the rule file's usual span is five frets
const POSITIONS = [0, 3, 5, 7, 9];
const NARROWEST = 16; // semitones of a part of a range: an octave and a third, so that every level has lines
const TUNE = ["title", "changes", "key", "meter", "beat", "subdivision", "range", "rhythm", "scales"];

/**
 * Each level has every line of the level below it. The words are a teacher's, the rules those of the rule file.
 * @type {{words: string, rules: Tables}[]}
 */
export const LEVELS = [
  {
    words: "1: chord tones only",
    rules: { approach: { count: ["0"] }, ending: { use: ["plain"] } },
  },
  {
    words: "2: the first enclosures",
    rules: { approach: { figures: ["above-below", "below-above"] }, ending: { use: ["plain"] } },
  },
  { words: "3: all enclosures and endings", rules: {} },
  {
    words: "4: with passing notes of the scale",
    rules: { passing: { kinds: ["scale"], count: ["0-2"] } },
  },
  {
    words: "5: with chromatic notes and skips",
    rules: {
      arpeggio: { skips: 1 },
      passing: { kinds: ["scale", "chromatic"] },
      approach: { count: ["0-2"] },
    },
  },
];

/** The same value whatever the order of its keys.
 * @param {any} value
 * @returns {any}
 */
const ordered = (value) =>
  value !== null && typeof value === "object" && !Array.isArray(value)
    ? Object.keys(value)
        .sort()
        .map((name) => [name, ordered(value[name])])
    : value;

/** @param {unknown} one @param {unknown} other */
const alike = (one, other) => JSON.stringify(ordered(one)) === JSON.stringify(ordered(other));

/** @param {Tables} tables @param {boolean} tune */
const part = (tables, tune) =>
  Object.fromEntries(Object.entries(tables).filter(([name]) => TUNE.includes(name) === tune));

/** The level whose rules these are, 1 to 5, or null where they are somebody's own.
 * @param {Tables} tables
 */
export function levelOf(tables) {
  const place = LEVELS.findIndex(({ rules }) => alike(rules, part(tables, false)));
  return place < 0 ? null : place + 1;
}

/** The rules of a level for the same tune, instrument and rhythm.
 * @param {number} level
 * @param {Tables} tables
 * @returns {Tables}
 */
export const atLevel = (level, tables) =>
  structuredClone({ ...part(tables, true), ...LEVELS[level - 1].rules });

// -- the progression -----------------------------------------------------------------------------------------

const MAJOR = ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"];
const MINOR = ["Am", "Dm", "Gm", "Cm", "Fm", "Bbm", "Ebm", "G#m", "C#m", "F#m", "Bm", "Em"];

/** The progression of the corpora that the changes are, in its own key or, as numerals, in another.
 * @param {Tables} tables
 * @param {any[]} progressions
 */
export const progressionOf = (tables, progressions) =>
  progressions.find((each) => each.changes === tables.changes) ??
  progressions.find((each) => each.numerals === tables.changes && each.meter === (tables.meter ?? "4/4"));

/** The keys to choose from: the twelve of a progression's mode, all where the changes are one's own.
 * @param {any} progression
 * @param {string | undefined} now
 */
export function keysFor(progression, now) {
  const twelve = !progression
    ? [...MAJOR, ...MINOR]
    : /[a-g#b]m$/i.test(progression.key)
      ? MINOR
      : MAJOR;
  return isNothing(now) || twelve.includes(String(now)) ? twelve : [String(now), ...twelve];
}

/** What changes with another key: a progression is moved to it; for one's own changes it is what numerals and
 *  the names of notes go by.
 * @param {string | null} key
 * @param {any} progression
 */
export function inKey(key, progression) {
  if (!progression) return { key };
  return { key, changes: key === progression.key ? progression.changes : progression.numerals };
}

// -- the place on the instrument -----------------------------------------------------------------------------

// Always the same names, so that a part of a range is known again over other changes.
const NAMES = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
const STEPS = /** @type {Record<string, number>} */ ({ C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 });

/** @param {string} name such as Eb3 */
function midi(name) {
  const [, letter, sign, octave] = /^([A-G])([#b]?)(-?\d)$/.exec(name) ?? ["", "C", "", "4"];
  return STEPS[letter] + (sign === "#" ? 1 : sign === "b" ? -1 : 0) + 12 * (Number(octave) + 1);
}

/** @param {number} pitch */
const named = (pitch) => `${NAMES[pitch % 12]}${Math.floor(pitch / 12) - 1}`;

/**
 * The places on an instrument: words, and what they add to its name in the range of the rules.
 * @param {Instrument | null} instrument null: the range that holds without one
 * @returns {{name: string, words: string, range: Record<string, any>}[]}
 */
export function placesOn(instrument) {
  const all = { name: "all", words: instrument?.frets ? "anywhere" : "all of it", range: {} };
  if (!instrument) return [all];
  return [all, ...(instrument.frets ? positions(instrument.frets) : registers(instrument.comfortable))];
}

/** @param {number} frets */
const positions = (frets) =>
  POSITIONS.filter((fret) => fret + LAST_FRET_OF_HAND <= frets).map((fret) => ({
    name: String(fret),
    words: fret
      ? `from the ${fret}${fret === 3 ? "rd" : "th"} fret (to the ${fret + LAST_FRET_OF_HAND}th)`
      : "open strings and first frets",
    range: { position: fret },
  }));

/** @param {[string, string]} comfortable */
function registers([lowest, highest]) {
  const [low, high] = [midi(lowest), midi(highest)];
  const wide = Math.max(NARROWEST, Math.round(0.55 * (high - low)));
  const spare = high - low - wide;
  // Parts that are nearly the whole are no choice.
  if (spare < 3) return [];
  const middle = low + Math.round(spare / 2);
  return [
    { name: "low", words: `low, up to ${named(low + wide)}`, range: { highest: named(low + wide) } },
    {
      name: "middle",
      words: `middle, ${named(middle)} to ${named(middle + wide)}`,
      range: { lowest: named(middle), highest: named(middle + wide) },
    },
    { name: "high", words: `high, from ${named(high - wide)}`, range: { lowest: named(high - wide) } },
  ];
}

/** The place that the range of the rules is, or undefined where it is somebody's own.
 * @param {Tables} tables
 * @param {Instrument | null} instrument
 */
export function placeOf(tables, instrument) {
  const { instrument: _, ...more } = tables.range ?? {};
  return placesOn(instrument).find(({ range }) => alike(range, more));
}

/** The rules with another place on the same instrument.
 * @param {Tables} tables
 * @param {Instrument} instrument
 * @param {string} name
 */
export function atPlace(tables, instrument, name) {
  const found = placesOn(instrument).find((each) => each.name === name);
  const without = withChange({ range: null }, tables);
  return found ? { ...without, range: { instrument: instrument.name, ...found.range } } : tables;
}
