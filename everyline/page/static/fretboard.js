// The fretboard under every line: shown or not, for a right- or a left-handed player.

import { h } from "./dom.js";
import { go, state } from "./state.js";

const HANDS = [
  ["none", "not shown"],
  ["right", "right-handed"],
  ["left", "left-handed"],
];

/** The instrument of the rules where it has frets, else nothing. */
export function fretted() {
  const found = state.vocabulary.instruments.find((each) => each.name === state.summary?.instrument);
  return found?.frets ? found : null;
}

/** The control that shows the fretboard under every line; nothing for an instrument without frets. */
export function fretboardChoice() {
  if (!fretted()) return null;
  const choice = h(
    "select",
    { id: "fretboard", onchange: () => go(state.view, { fretboard: choice.value }) },
    HANDS.map(([value, words]) => h("option", { value }, words)),
  );
  choice.value = HANDS.some(([value]) => value === state.fretboard) ? state.fretboard : "none";
  return h("div.field.inline", {}, h("label", { for: "fretboard" }, "Fretboard"), choice);
}
