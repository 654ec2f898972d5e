// Pictures of lines: asked once each, two at a time, and what was asked last first, for that is what is in sight.

import { address, get, post, withRules } from "./api.js";
import { Memory } from "./memory.js";
import { on, state } from "./store.js";
import { untilChanged } from "./state.js";

const AT_ONCE = 2;
const MOST_WAITING = 40;

const pictures = new Memory(400);
const named = new Memory(200);

/** The picture of a line at a width, asked once. */
export function picture(tables, id, number, staves, width) {
  const query = { staves, width, fretboard: state.fretboard };
  return pictures.get(`${id} ${number} ${JSON.stringify(query)}`, () =>
    withRules(tables, id, (known) =>
      waitedFor(address(`/api/rules/${known}/lines/${number}/picture`, query)),
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

function waitedFor(path) {
  return new Promise((resolve, reject) => {
    waiting.queue.push({ path, resolve, reject });
    pump();
  });
}

async function pump() {
  if (waiting.running >= AT_ONCE || !waiting.queue.length) return;
  waiting.running += 1;
  const { path, resolve, reject } = waiting.queue.pop();
  while (waiting.queue.length > MOST_WAITING) waiting.queue.shift().reject(outOfSight());
  try {
    resolve((await get(path, untilChanged())).picture);
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
    strip.show(await picture(tables, id, number, state.staves, width(bars)), spoken);
  } catch (error) {
    if (error.name !== "AbortError") strip.replaceWith(document.createTextNode(error.message));
  }
}
