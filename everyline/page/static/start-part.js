// The part of the rules about the first note: when a line starts, and on what.

import { facets } from "./choices.js";
import { written } from "./controls.js";
import { h } from "./dom.js";
import { explained } from "./explain.js";
import { changer, keyOf, keysPart, setter } from "./keys.js";
import { picker } from "./picker.js";
import { at, change, changed, state } from "./state.js";

export function entrySays() {
  const entry = state.tables.entry ?? {};
  const said = [];
  if (entry.beats || !entry.pickup) said.push(`beat ${(entry.beats ?? ["1"]).join(", ")}`);
  if (entry.pickup) said.push(`pickup of ${entry.pickup.join(", ")}`);
  if (entry.start) said.push(`on ${entry.start.join(", ")}`);
  if (entry.degrees) said.push(`on ${entry.degrees.join(", ")}`);
  return said.join(", ");
}

export function entryPart(body) {
  keysPart(body, "entry", ["beats", "degrees"]);
  const notes = h("div");
  body.append(notes);
  keysPart(body, "entry", ["pickup"]);
  if (seen.notes) notes.replaceChildren(startNotes(seen.notes));
  fill(notes);
}

// What was offered last stays until the new is known: nothing below it moves.
const seen = { notes: null };

/** First notes that some line has, each with its count. */
async function fill(place) {
  try {
    const found = await facets(["start-note"], changed({ "entry.start": null }));
    seen.notes = (found[0]?.values ?? []).map((each) => each.label);
    if (place.isConnected) place.replaceChildren(startNotes(seen.notes));
  } catch {
    const start = at("entry.start") ?? [];
    const set = (text) => change({ "entry.start": text?.split(/[\s,]+/) ?? null });
    if (!place.childElementCount)
      place.replaceChildren(written("First note", "entry.start", start.join(" "), set));
  }
}

function startNotes(labels) {
  const start = at("entry.start") ?? [];
  const all = [...labels, ...start.filter((each) => !labels.includes(each))];
  const choices = all.map((each) => ({ value: each, words: each, group: each.replace(/-?\d+$/, "") }));
  const key = keyOf("entry", "start");
  return explained(
    "entry.start",
    key,
    picker({
      legend: key.label,
      key: "entry.start",
      choices: choices.sort((one, other) => one.group.localeCompare(other.group)),
      values: start,
      usual: [],
      set: setter("entry.start"),
      change: changer("entry.start"),
      help: "None ticked: any of them.",
    }),
  );
}
