// The tables of a chorus plan: phrases put in, moved, taken out. Bars count from 1, as on paper.

/** @typedef {import("./store.js").Tables} Tables */

/** Tables of a rule file that stand for every phrase. */
const SHARED = ["range", "entry", "arpeggio", "passing", "rhythm", "approach", "handoff", "ending"];
const TOP = ["title", "changes", "key", "meter", "beat", "subdivision", "scales", "figures", "endings", "roughness"];
const USUAL_LENGTH = 4;

/** The plan in an address, or null where it holds anything else.
 * @param {string} text
 * @returns {Tables | null}
 */
export function planFrom(text) {
  try {
    const found = JSON.parse(text);
    const phrases = found?.phrase ?? [];
    const fits =
      typeof found === "object" &&
      Array.isArray(phrases) &&
      phrases.every((each) => each && typeof each === "object");
    return fits && !Array.isArray(found) && typeof found.changes === "string" ? found : null;
  } catch {
    return null;
  }
}

/** A plan over the changes of some rules, with what these rules say for every phrase; no phrase yet.
 * @param {Tables} rules
 */
export function planOver(rules) {
  const kept = Object.entries(rules).filter(
    ([name]) => TOP.includes(name) || (SHARED.includes(name) && name !== "entry"),
  );
  return { ...structuredClone(Object.fromEntries(kept)), phrase: [] };
}

/** First and last bar of a phrase; the first bar where it says nothing that can be read.
 * @param {Tables} phrase
 */
export function barsOf(phrase) {
  const [, first, last] = /^\s*(\d+)\s*(?:-\s*(\d+))?\s*$/.exec(String(phrase.bars ?? "1")) ?? [
    null,
    "1",
    undefined,
  ];
  return [Number(first), Number(last ?? first)];
}

/** What rules say, in a few words; nothing where they say nothing.
 * @param {Tables} tables
 */
export const saidOf = (tables) =>
  SHARED.filter((section) => tables[section])
    .flatMap((section) => Object.values(tables[section]).flat())
    .join(", ");

const written = (first, last) => (first === last ? String(first) : `${first}-${last}`);

/** The place of the phrase that has a bar, or -1.
 * @param {Tables} plan
 * @param {number} bar
 */
export const phraseAt = (plan, bar) =>
  plan.phrase.findIndex((each) => barsOf(each)[0] <= bar && bar <= barsOf(each)[1]);

/** The bars that a phrase may take: from the end of the one before it to the beginning of the next.
 * @param {Tables} plan
 * @param {number} place
 * @param {number} bars of the form
 */
export function roomOf(plan, place, bars) {
  const before = plan.phrase[place - 1];
  const after = plan.phrase[place + 1];
  return [before ? barsOf(before)[1] + 1 : 1, after ? barsOf(after)[0] - 1 : bars];
}

/** The plan with one phrase more, from a bar that is free, and its place.
 * @param {Tables} plan
 * @param {number} bar
 * @param {number} bars of the form
 */
export function withPhrase(plan, bar, bars) {
  let last = bar;
  while (last < bars && last - bar + 1 < USUAL_LENGTH && phraseAt(plan, last + 1) < 0) last += 1;
  const added = { name: freshName(plan), bars: written(bar, last) };
  const phrase = [...plan.phrase, added].sort((one, other) => barsOf(one)[0] - barsOf(other)[0]);
  return { plan: { ...plan, phrase }, place: phrase.indexOf(added) };
}

/** A letter that no phrase has yet. @param {Tables} plan */
function freshName(plan) {
  const taken = plan.phrase.map((each) => each.name);
  return (
    [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"].find((each) => !taken.includes(each)) ?? `${plan.phrase.length + 1}`
  );
}

/** The plan with other bars for a phrase, within its room.
 * @param {Tables} plan
 * @param {number} place
 * @param {[number, number]} wanted
 * @param {number} bars of the form
 */
export function withBars(plan, place, [first, last], bars) {
  const [least, most] = roomOf(plan, place, bars);
  const start = Math.min(Math.max(first, least), most);
  const end = Math.min(Math.max(last, start), most);
  return withPhraseKey(plan, place, "bars", written(start, end));
}

/** The plan without a phrase. @param {Tables} plan @param {number} place */
export const without = (plan, place) => ({
  ...plan,
  phrase: plan.phrase.filter((_, index) => index !== place),
});

/** The plan with a key of a phrase set, dotted for one of its tables; nothing takes it out.
 * @param {Tables} plan
 * @param {number} place
 * @param {string} path
 * @param {unknown} value
 */
export function withPhraseKey(plan, place, path, value) {
  const phrase = plan.phrase.map((each, index) => (index === place ? withKeyAt(each, path, value) : each));
  return { ...plan, phrase };
}

/** The plan with a key of its own set, dotted for one of its tables; nothing takes it out.
 * @param {Tables} plan
 * @param {string} path
 * @param {unknown} value
 */
export const withPlanKey = (plan, path, value) => withKeyAt(plan, path, value);

/** @param {Tables} tables @param {string} path @param {unknown} value */
function withKeyAt(tables, path, value) {
  const made = structuredClone(tables);
  const [section, key] = path.includes(".") ? path.split(".") : ["", path];
  const table = section ? (made[section] ??= {}) : made;
  const nothing =
    value === null || value === undefined || value === "" || (Array.isArray(value) && !value.length);
  if (nothing) delete table[key];
  else table[key] = value;
  if (section && !Object.keys(table).length) delete made[section];
  return made;
}
