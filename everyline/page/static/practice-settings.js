// How a student practises: days, minutes, tempi. Kept in this browser; a plan is made by them.

import { button, field, h } from "./dom.js";
import { keepHere, kept } from "./store.js";
import { within } from "./timing.js";

const NAME = "practice";
const DAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

/**
 * @typedef {object} Settings
 * @property {number[]} weekdays Monday is 0
 * @property {number} minutes a day
 * @property {number} round_minutes
 * @property {number} tempo at which a line begins
 * @property {number} step
 * @property {number} goal
 * @property {number} keys
 * @property {number} new_a_week
 */

/** @type {Settings} */
export const USUAL = {
  weekdays: [0, 1, 2, 3, 4],
  minutes: 20,
  round_minutes: 3,
  tempo: 60,
  step: 6,
  goal: 140,
  keys: 3,
  new_a_week: 2,
};

/** @typedef {[Exclude<keyof Settings, "weekdays">, string, number, number]} Row name, words, least, most */
/** @type {Row[]} numbers to be set */
const NUMBERS = [
  ["minutes", "Minutes a day", 3, 240],
  ["round_minutes", "Minutes a round", 1, 30],
  ["tempo", "First tempo", 20, 400],
  ["step", "Up after a clean round by", 1, 60],
  ["goal", "Tempo not gone beyond", 20, 400],
  ["keys", "Keys of a line before a new line", 1, 12],
  ["new_a_week", "New lines a week", 0, 7],
];

/** The settings of a student; what does not fit is as usual.
 * @param {string} student
 * @returns {Settings}
 */
export function settingsOf(student) {
  const all = kept(NAME) ?? {};
  const found = Object.hasOwn(all, student) ? all[student] : {};
  const isDay = (/** @type {any} */ each) => Number.isInteger(each) && each >= 0 && each < DAYS.length;
  /** @type {number[]} */
  const days = Array.isArray(found?.weekdays) ? found.weekdays.filter(isDay) : [];
  const settings = { ...USUAL, weekdays: days.length ? [...new Set(days)].sort() : USUAL.weekdays };
  for (const [name, , least, most] of NUMBERS) settings[name] = within(found?.[name], least, most, USUAL[name]);
  return settings;
}

/** Keep the settings of a student.
 * @param {string} student
 * @param {Settings} settings
 */
export const keepSettings = (student, settings) => keepHere(NAME, { ...kept(NAME), [student]: settings });

/** The weekday of a date (Monday is 0).
 * @param {string} day
 */
export const weekdayOf = (day) => (new Date(`${day}T12:00`).getDay() + 6) % 7;

/** The form; ``use(settings)`` is told what is to be planned by.
 * @param {Settings} settings
 * @param {(settings: Settings) => void} use
 */
export function settingsForm(settings, use) {
  const made = structuredClone(settings);
  const day = (name, place) =>
    h(
      "label.tick",
      {},
      h("input", {
        type: "checkbox",
        checked: made.weekdays.includes(place),
        onchange: (event) => {
          const others = made.weekdays.filter((each) => each !== place);
          made.weekdays = event.target.checked ? [...others, place].sort() : others;
        },
      }),
      name,
    );
  const number = (/** @type {Row} */ [name, words, least, most]) => {
    const input = h("input", { type: "number", min: least, max: most, step: "1", value: made[name] });
    input.addEventListener("change", () => {
      input.value = made[name] = within(input.value === "" ? NaN : Number(input.value), least, most, made[name]);
    });
    return field(words, input);
  };
  return h(
    "details.part.practice-settings",
    {},
    h("summary", {}, h("span.part-title", {}, "How much, and when"), h("span.part-says", {}, words(settings))),
    h(
      "div.part-body",
      {},
      h("fieldset", {}, h("legend", {}, "Days of practice (one a week stays free)"), h("div.ticks", {}, DAYS.map(day))),
      h("div.plan-fields", {}, NUMBERS.map(number)),
      button("Plan with these", () => use(made)),
    ),
  );
}

/** @param {Settings} settings */
const words = ({ weekdays, minutes, tempo, goal }) =>
  `${weekdays.length} day${weekdays.length === 1 ? "" : "s"} a week, ${minutes} minutes, tempi ${tempo} to ${goal}`;
