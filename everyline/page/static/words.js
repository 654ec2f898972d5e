// Words of a player for what the rule file and the interface name in words of their own.

/** Which keys a drill set is in. @type {Record<string, string>} */
export const KEY_WORDS = {
  home: "the rules' own key",
  cycle: "all twelve, in the cycle of fourths",
  chromatic: "all twelve, rising",
  random: "all twelve, in any order",
  all: "all twelve",
};

/** How the lines of a drill set are chosen. @type {Record<string, string>} */
export const SAMPLING_WORDS = {
  uniform: "any lines",
  balanced: "spread evenly",
  pairs: "every combination once",
  smoothest: "the smoothest",
  varied: "smooth and unlike each other",
  taste: "much as players move",
};

/** A sentence begins with a capital. @param {string} words */
export const sentence = (words) => (words ? words[0].toUpperCase() + words.slice(1) : "");

const NUMBERS = ["none", "one", "two", "three", "four"];

/** "0-1" as one would say it: "none or one".
 * @param {string | number} text
 */
export function countWords(text) {
  const [least, most = least] = String(text).split("-").map(Number);
  const word = (/** @type {number} */ number) => NUMBERS[number] ?? String(number);
  if (least === most) return word(least);
  if (most >= 99) return least ? `${word(least)} or more` : "any number";
  if (most === least + 1) return `${word(least)} or ${word(most)}`;
  return least ? `${word(least)} to ${word(most)}` : `up to ${word(most)}`;
}

/** A name of the corpora as one would say it. @param {string} name */
export const spoken = (name) => name.replaceAll("-", " ");

/** Accidentals as signs. @param {string} text */
export const signed = (text) => text.replaceAll("b", "♭").replaceAll("#", "♯");

/** Accidentals as signs in a sentence, where a note, a chord or a degree is meant. @param {string} text */
export const signedIn = (text) =>
  text
    .replace(/(?<![A-Za-z])([A-G])(b|#)(?![a-z])/g, (_, letter, sign) => letter + signed(sign))
    .replace(/(?<![A-Za-z])([b#])(?=\d)/g, (_, sign) => signed(sign));

/** Decimal digits in groups of three with thin no-break spaces. @param {string | number | bigint} text */
export const digits = (text) => String(text).replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");

/** A number short enough for a line of print: exact up to so many digits.
 * @param {string | number | bigint} text
 */
export function brief(text, exact = 15) {
  const all = String(text);
  return all.length <= exact ? digits(all) : `${all[0]}.${all.slice(1, 3)} × 10${raised(all.length - 1)}`;
}

/** @param {number} number */
const raised = (number) => [...String(number)].map((digit) => "⁰¹²³⁴⁵⁶⁷⁸⁹"[Number(digit)]).join("");

/** "1 line", "17 lines". @param {string | number | bigint} count */
export const lines = (count) => `${digits(count)} line${String(count) === "1" ? "" : "s"}`;

/** @param {string | number | bigint} count */
export const choruses = (count) => `${digits(count)} chorus${String(count) === "1" ? "" : "es"}`;
