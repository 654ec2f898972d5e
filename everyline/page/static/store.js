// What the page knows, in one place. Views read `state`; whoever changes it says so with `tell`, and whoever
// depends on it hears of it with `on`. What is only looked up again (pictures, counts) is kept in memory.js.

/** @typedef {Record<string, any>} Tables The tables of a rule file, as JSON has them. */

/**
 * A key of the rule file, as the server describes it.
 * @typedef {object} Key
 * @property {string} name
 * @property {string} type which control it has
 * @property {string} shape which kind of value
 * @property {string} label a player's words for it
 * @property {string} what what it is
 * @property {Record<string, any> | null} show what a short example changes
 * @property {string[]} roles of the notes to look at in the example
 * @property {string} help
 * @property {string} example
 * @property {any} default
 * @property {string} default_text
 * @property {number | null} least
 * @property {number | null} most
 * @property {[any, string][]} choices
 */

/** @typedef {{name: string, help: string, many: boolean, keys: Key[]}} Section */
/** @typedef {{kind: string, title: string, summary: string, keys: Key[], example: Tables}} LimitKind */
/**
 * @typedef {object} Instrument
 * @property {string} name
 * @property {string} title
 * @property {string} family
 * @property {number[]} strings MIDI numbers
 * @property {number} frets
 * @property {[string, string]} comfortable the lowest and the highest pitch without special effort
 */

/**
 * Everything that controls are made from; it does not change while the server runs.
 * @typedef {object} Vocabulary
 * @property {Section[]} sections
 * @property {LimitKind[]} limits
 * @property {Instrument[]} instruments
 * @property {Record<string, number>} orders
 * @property {Record<string, string>} cells
 * @property {Record<string, string>} dotted_cells those of beats that are a dotted quarter
 * @property {any[]} figures
 * @property {any[]} families
 * @property {any[]} endings
 * @property {any[]} progressions
 * @property {any[]} rulefiles
 * @property {any[]} marks
 * @property {string[]} keys what a line may be moved to, by pitch class
 * @property {{papers: string[], most_per_page: number}} sheet
 * @property {string[]} scales
 * @property {any} drill
 */

/**
 * What the server said of a set of rules.
 * @typedef {object} Summary
 * @property {string} id the name of the rules in addresses of the interface
 * @property {string} count in decimal digits, for it may be of any size
 * @property {string} changes
 * @property {number} bars
 * @property {number[]} meter
 * @property {number} beats_in_a_bar
 * @property {number} beat_parts into how many parts a beat is divided as a rule
 * @property {number} subdivision
 * @property {string[]} beats
 * @property {{symbol: string, place: string, tick: number}[]} chords
 * @property {string} range
 * @property {number} lowest MIDI number
 * @property {number} highest MIDI number
 * @property {string | null} instrument
 * @property {string[]} figures
 * @property {{name: string, starts: string}[]} endings
 * @property {string} starts
 * @property {string} toml
 */

/**
 * @typedef {object} LessonItem
 * @property {Tables} rules
 * @property {string} number
 * @property {string} notes their names
 * @property {string} [kept_as] the whole line as text, which says which line it is; lines kept long ago have none
 * @property {string} title
 * @property {string} remark
 */
/** @typedef {{title: string, remark: string, items: LessonItem[]}} Lesson */

/**
 * @typedef {object} Drill what a drill set is made from
 * @property {number} how_many
 * @property {string} sampling
 * @property {string} keys
 * @property {string} order
 * @property {string[]} kinds
 * @property {string[]} traits
 * @property {number} seed
 */

/**
 * @typedef {object} Listening how lines are played
 * @property {number} tempo
 * @property {string} swing
 * @property {string} feel how the backing plays
 * @property {number | null} seed draws the rhythms of the backing; null: every line has its own
 * @property {number} count_in
 * @property {boolean} loop
 * @property {string[]} mute
 */
/** @typedef {"lines" | "line" | "build" | "check" | "plan" | "lesson" | "drills" | "practice"} View */

/**
 * @typedef {object} State
 * @property {Vocabulary} vocabulary
 * @property {Tables} tables the rules
 * @property {Summary | null} summary what the server said of them; of the last good ones while they are wrong
 * @property {string} trouble why they are wrong, empty while they are not
 * @property {boolean} away whether the server did not answer
 * @property {boolean} counting whether an answer is on its way
 * @property {View} view
 * @property {string} number of the line that is open, or the first in sight of all lines
 * @property {string} order
 * @property {string} place the first in sight of an order that ranks
 * @property {string} draw which lines were picked
 * @property {string} staves
 * @property {string} fretboard under every line: for which hand, the one that plucks, or none
 * @property {string} begun the notes of a line that is being built: onset, pitch and length of each, as JSON
 * @property {string} board what the next note is chosen on: list, staff, neck or keys
 * @property {string} plan a chorus plan, as JSON; empty before there is one
 * @property {string} typed the notes that are to be checked
 * @property {string} student who practises
 * @property {Drill} drill
 * @property {Lesson} lesson
 * @property {Listening} listening
 * @property {Set<string>} open the parts of the rules that are open
 * @property {string} sought what is looked for among the rules
 * @property {string | null} ruleText a rule file that was begun as text and not used yet
 */

export const USUAL_DRILL = Object.freeze({
  how_many: 12,
  sampling: "uniform",
  keys: "home",
  order: "drawn",
  kinds: ["play"],
  traits: ["figure", "ending"],
  seed: 1,
});

/**
 * What an address holds when it says nothing of it.
 * @type {import("./address.js").Where}
 */
export const USUAL_WHERE = Object.freeze({
  view: "lines",
  number: "1",
  order: "good",
  place: "1",
  draw: "1",
  staves: "auto",
  fretboard: "none",
  begun: "[]",
  board: "staff",
  plan: "",
  typed: "",
  student: "",
  drill: USUAL_DRILL,
});

/** @type {Listening} */
export const USUAL_LISTENING = {
  tempo: 120,
  swing: "by-tempo",
  feel: "by-meter",
  seed: null,
  count_in: 1,
  loop: false,
  mute: [],
};

/** @type {Lesson} */
export const EMPTY_LESSON = { title: "", remark: "", items: [] };

/** @type {State} */
export const state = {
  vocabulary: /** @type {any} */ (null),
  tables: { changes: "Dm7 | G7 | Cmaj7", range: { instrument: "guitar" } },
  summary: null,
  trouble: "",
  away: false,
  counting: false,
  ...USUAL_WHERE,
  drill: structuredClone(USUAL_DRILL),
  lesson: structuredClone(EMPTY_LESSON),
  listening: { ...USUAL_LISTENING },
  open: new Set(),
  sought: "",
  ruleText: null,
};

/**
 * Of what one may be told: "busy" (rules have changed), "count" (they are counted), "rules" (the count is on the
 * screen, and everything else may follow), "view" (another page), "lesson" (lines were kept, moved, lost).
 * @typedef {"busy" | "count" | "rules" | "view" | "lesson"} Event
 */

/** @type {Map<Event, (() => void)[]>} */
const listeners = new Map();

/** Be told of an event; answers what to do to be told no more.
 * @param {Event} event
 * @param {() => void} act
 */
export function on(event, act) {
  const acts = listeners.get(event) ?? [];
  listeners.set(event, [...acts, act]);
  return () => {
    listeners.set(
      event,
      (listeners.get(event) ?? []).filter((each) => each !== act),
    );
  };
}

/** Tell of an event.
 * @param {Event} event
 */
export function tell(event) {
  (listeners.get(event) ?? []).forEach((act) => act());
}

/** What was kept in this browser under a name, or null.
 * @param {string} name
 */
export function kept(name) {
  try {
    return JSON.parse(localStorage.getItem(name) ?? "null");
  } catch {
    // What cannot be read is begun anew.
    return null;
  }
}

/** Keep a value in this browser.
 * @param {string} name
 * @param {unknown} value
 */
export function keepHere(name, value) {
  try {
    localStorage.setItem(name, JSON.stringify(value));
  } catch {
    // A browser may keep nothing: then it lasts as long as the window.
  }
}
