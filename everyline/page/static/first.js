// What to play: four choices in a player's words, that set the same rules as the list of rules. They stand beside
// every page that goes by the rules; where there is no room beside, above the good lines.

import { select } from "./controls.js";
import { h, redrawing } from "./dom.js";
import {
  atLevel,
  atPlace,
  inKey,
  keysFor,
  levelOf,
  LEVELS,
  placeOf,
  placesOn,
  progressionOf,
} from "./first-rules.js";
import { changesArea, instrumentChoice, progressionChoice, rangeInstrument } from "./music-part.js";
import { at, change, on, setTables, state } from "./state.js";
import { signed } from "./words.js";

const OWN = "my own rules";

/** Show the choices, anew whenever the rules change. */
export function setUpFirst(place) {
  const choices = () => [theChanges(), h("div.first-rest", {}, onWhat(), where(), howHard())];
  on("rules", () => redrawing(place, () => place.replaceChildren(...choices())));
}

function theChanges() {
  const named = { "data-key": "first changes", "aria-label": "The changes, bar by bar" };
  return h(
    "div.first-changes",
    { role: "group", "aria-label": "The changes and their key" },
    progressionChoice("Over which changes", "first progression"),
    theKey(),
    changesArea({ rows: 2, ...named }),
  );
}

function theKey() {
  const progression = progressionOf(state.tables, state.vocabulary.progressions);
  const now = at("key");
  const keys = keysFor(progression, now).map((each) => [each, signed(each).replace(/m$/, " minor")]);
  // A progression always has a key; one's own chords need none.
  const options = progression && now ? keys : [["", "no key"], ...keys];
  return select("In the key of", "first key", options, now, (key) => change(inKey(key, progression)));
}

const instrument = () => rangeInstrument(state.tables.range ?? {}) ?? null;

const onWhat = () => instrumentChoice(instrument(), "Played on", "first instrument", "any, from E3 to E5");

/** What holds and is none of the options is shown as the reader's own, and cannot be chosen. */
function choice(words, key, options, value, set) {
  const made = select(words, key, [["", OWN], ...options], value, (chosen) => chosen && set(chosen));
  made.querySelector("option").disabled = true;
  made.querySelector("option").hidden = Boolean(value);
  return made;
}

function where() {
  const chosen = instrument();
  const options = placesOn(chosen).map(({ name, words }) => [name, words]);
  const set = (name) => chosen && setTables(atPlace(state.tables, chosen, name));
  const words = chosen?.frets ? "Where on the neck" : "Part of its range";
  return choice(words, "first place", options, placeOf(state.tables, chosen)?.name, set);
}

function howHard() {
  const options = LEVELS.map(({ words }, place) => [String(place + 1), words]);
  const now = levelOf(state.tables);
  const set = (level) => setTables(atLevel(Number(level), state.tables));
  return choice("Level", "first level", options, now && String(now), set);
}
