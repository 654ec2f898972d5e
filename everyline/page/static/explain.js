// "What is this?": a few words on a rule, and a short line that shows it, to see and to hear.

import { post } from "./api.js";
import { button, fresh, h } from "./dom.js";
import { Player } from "./listen.js";
import { Memory } from "./memory.js";
import { pictureWidth } from "./music.js";
import { drawInto, idOf } from "./pictures.js";
import { state } from "./state.js";

const WIDEST = 420; // CSS pixels of an example

/** @type {Memory<any>} */
const examples = new Memory(100);
const open = new Set(); // the explanations that are open, so that they stay when the rules are drawn anew

/** A rule's control with the button that explains it. ``what`` has the words of the rule: label, what, show, roles. */
export function explained(key, what, control) {
  if (!what.what) return control;
  const place = h("div.explanation", { id: fresh("explanation"), hidden: !open.has(key) });
  const act = () => {
    place.hidden = !place.hidden;
    mark.setAttribute("aria-expanded", String(!place.hidden));
    if (place.hidden) open.delete(key);
    else open.add(key);
    if (!place.hidden) fill(place, what);
  };
  const mark = button(
    "?",
    act,
    {
      "aria-label": `What is this: ${what.label}`,
      "aria-expanded": String(open.has(key)),
      "aria-controls": place.id,
      "data-key": `what ${key}`,
    },
    "button.quiet.what",
  );
  if (open.has(key)) fill(place, what);
  return h("div.rule", {}, mark, control, place);
}

function fill(place, what) {
  if (place.childElementCount) return;
  place.append(h("p", {}, what.what));
  if (what.show) showExample(place, what);
}

async function showExample(place, { show, roles = [] }) {
  const strip = h("music-strip");
  const row = h("div.example", {}, strip);
  place.append(row);
  try {
    const found = await examples.get(JSON.stringify([show, state.tables.changes]), () =>
      post("/api/example", { change: show, tables: state.tables }, undefined),
    );
    const player = new Player(
      found.rules,
      () => idOf(found.rules),
      found.number,
      (index) => strip.light(index),
    );
    row.append(player.starter("Play", { "aria-label": "Play the example" }));
    const room = Math.min(WIDEST, place.clientWidth || WIDEST);
    await drawInto(strip, found.rules, found.number, `For example: ${found.notes}`, (bars) =>
      pictureWidth(room, bars),
    );
    const shown = found.roles.flatMap((role, index) => (roles.includes(role) ? [index] : []));
    if (strip.isConnected && shown.length < found.roles.length) strip.mark(shown, "new");
  } catch (error) {
    if (error.name !== "AbortError") row.replaceChildren(h("p.help", {}, error.message));
  }
}
