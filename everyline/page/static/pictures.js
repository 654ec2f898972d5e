// Pictures of lines: asked once each, two at a time, what is in sight before what is near it. Where the place that it
// was asked for is gone, nobody waits for it.

import { address, get, post, withRules } from "./api.js";
import { Memory } from "./memory.js";
import { on, state } from "./store.js";
import { untilChanged } from "./state.js";

const AT_ONCE = 2;

const pictures = new Memory(400);
const named = new Memory(200);

/** The picture of a line at a width, for a place on the page. */
export const picture = async (tables, id, number, staves, width, place) =>
  (await drawn(tables, id, { number }, staves, width, place)).picture;

/** The same, of the notes that a line was kept with, and what has become of its rules since. */
export function drawn(tables, id, { number, kept_as = null }, staves, width, place) {
  const query = { staves, width, fretboard: state.fretboard, notes: kept_as };
  return pictures.get(`${id} ${number} ${JSON.stringify(query)}`, () =>
    withRules(tables, id, (known) =>
      waitedFor(address(`/api/rules/${known}/lines/${number}/picture`, query), place),
    ),
  );
}

/** What the server says of rules that are not those of the page, asked once. */
export const summaryOf = (tables) =>
  named.get(JSON.stringify(tables), () => post("/api/rules", { tables }, undefined));

/** The name of such rules in addresses of the interface. */
export const idOf = async (tables) => (await summaryOf(tables)).id;

const waiting = { running: 0, queue: [] };
on("busy", () => {
  waiting.queue.forEach(({ reject }) => reject(outOfSight()));
  waiting.queue = [];
});
const outOfSight = () => new DOMException("out of sight", "AbortError");

function waitedFor(path, place) {
  return new Promise((resolve, reject) => {
    waiting.queue.push({ path, place, resolve, reject });
    // What is asked for in one go is looked at together, once it stands on the page.
    queueMicrotask(pump);
  });
}

/** How many pixels a place is away from what is in sight. */
function away(place) {
  const { top, bottom } = place.getBoundingClientRect();
  return Math.max(0, top - innerHeight, -bottom);
}

/** Take out of what waits what is next. */
function next() {
  waiting.queue.forEach((each) => (each.stood ||= each.place.isConnected));
  const gone = waiting.queue.filter(({ stood, place }) => stood && !place.isConnected);
  waiting.queue = waiting.queue.filter((each) => !gone.includes(each));
  gone.forEach(({ reject }) => reject(outOfSight()));
  if (!waiting.queue.length) return null;
  const nearest = waiting.queue
    .map((each) => [away(each.place), each])
    .reduce((best, each) => (each[0] < best[0] ? each : best))[1];
  waiting.queue.splice(waiting.queue.indexOf(nearest), 1);
  return nearest;
}

async function pump() {
  if (waiting.running >= AT_ONCE) return;
  const asked = next();
  if (!asked) return;
  const { path, resolve, reject } = asked;
  waiting.running += 1;
  // The server draws two at the same time: the other is not waited for.
  queueMicrotask(pump);
  try {
    resolve(await get(path, untilChanged()));
  } catch (error) {
    reject(error);
  }
  waiting.running -= 1;
  pump();
}

/** Draw a line of any rules into a strip; words take its place where there is no picture. */
export async function drawInto(strip, tables, number, spoken, width) {
  try {
    const { id, bars } = await summaryOf(tables);
    strip.show(await picture(tables, id, number, state.staves, width(bars), strip), spoken);
  } catch (error) {
    if (error.name !== "AbortError") strip.replaceWith(document.createTextNode(error.message));
  }
}
