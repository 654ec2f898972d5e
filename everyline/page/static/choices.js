// Live counts beside choices: how many lines there would be with one thing changed.

import { address, get, post, withRules } from "./api.js";
import { brief, lines } from "./dom.js";
import { on, state, untilChanged } from "./state.js";

const AT_ONCE = 4; // changes in one request: few, so that the first counts show soon
const PAUSE = 300; // milliseconds without a change, so that whoever goes on changing waits for no choice
let waiting = [];
let running = 0;
let resting = null;
const known = new Map();

on("busy", () => {
  waiting = [];
  clearTimeout(resting);
});
on("rules", () => {
  clearTimeout(resting);
  resting = setTimeout(() => {
    resting = null;
    work();
  }, PAUSE);
});

const keyOf = (id, change) => `${id} ${JSON.stringify(change)}`;

/** Shows in an element how many lines the change would leave; nothing is asked twice. ``ticked`` says that the
 *  change is to take out what the element stands beside. */
export function count(place, change, ticked = false) {
  const id = state.summary?.id;
  if (!id || state.trouble) return;
  const key = keyOf(id, change);
  if (known.has(key)) show(place, known.get(key), ticked);
  else {
    place.textContent = "…";
    waiting.push({ id, key, change, place, ticked });
    queueMicrotask(work);
  }
}

function show(place, found, ticked) {
  const words = found.count === null ? "–" : brief(found.count, 9);
  place.textContent = ticked ? `without: ${words}` : words;
  place.classList.toggle("zero", found.count === "0" || found.count === null);
  place.title =
    found.count === null ? found.why : `${lines(found.count)} ${ticked ? "without it" : "with this choice"}`;
}

async function work() {
  if (running >= 2 || resting) return;
  // What is out of sight (a closed part, another page) need not be counted.
  waiting = waiting.filter((each) => each.id === state.summary?.id && each.place.isConnected);
  const batch = waiting.splice(0, AT_ONCE);
  if (!batch.length) return;
  running += 1;
  const { tables } = state;
  const signal = untilChanged();
  try {
    const changes = batch.map((each) => each.change);
    const found = await withRules(tables, batch[0].id, (id) =>
      post(`/api/rules/${id}/choices`, { changes }, signal),
    );
    batch.forEach((each, index) => {
      known.set(each.key, found.choices[index]);
      show(each.place, found.choices[index], each.ticked);
    });
  } catch (error) {
    if (error.name !== "AbortError")
      batch.forEach((each) => show(each.place, { count: null, why: error.message }, false));
  } finally {
    running -= 1;
    if (known.size > 5000) known.clear();
    work();
  }
  work();
}

const facetsKnown = new Map();
/** The facets of kinds, of the present rules or those given, whose name may be known, or of one phrase of a plan
 *  (1 is the first); asked once. */
export async function facets(only, tables = state.tables, name = null, phrase = null) {
  const key = JSON.stringify([only, tables, phrase]);
  if (!facetsKnown.has(key)) {
    const same = tables === state.tables && state.summary;
    const signal = untilChanged();
    const id = name ?? (same ? state.summary.id : (await post("/api/rules", { tables }, signal)).id);
    const asked = withRules(tables, id, (known) =>
      get(address(`/api/rules/${known}/facets`, { only, phrase }), signal),
    );
    facetsKnown.set(key, asked);
    asked.catch(() => facetsKnown.delete(key));
  }
  if (facetsKnown.size > 200) facetsKnown.delete(facetsKnown.keys().next().value);
  return (await facetsKnown.get(key)).facets;
}
