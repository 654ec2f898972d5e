// One line of the lesson, shown and heard by the notes that it was kept with: whatever becomes of the corpora, it
// stays the line that was kept.

import { address, get, post, withRules } from "./api.js";
import { h, say, select } from "./dom.js";
import { changeLesson, keptWith, named, toSend } from "./kept.js";
import { Player } from "./listen.js";
import { pictureWidth } from "./music.js";
import { drawn, idOf, summaryOf } from "./pictures.js";
import { go, setTables, state } from "./state.js";
import { signed } from "./words.js";

/** @typedef {import("./store.js").LessonItem} LessonItem */

/** The music of a line, its player, and room for what is to be said of its rules.
 * @param {LessonItem} item
 */
export function shownLine(item) {
  const strip = h("music-strip");
  const moved = h("p.help", { role: "status", hidden: true });
  const light = (index) => strip.light(index);
  const player = new Player(item.rules, () => idOf(item.rules), item.number, light, item.kept_as ?? null);
  draw(item, strip, moved, player);
  return { strip, moved, player };
}

async function draw(item, strip, moved, player) {
  const tell = (words) => {
    moved.textContent = words;
    moved.hidden = !words;
  };
  try {
    const { id, bars } = await summaryOf(item.rules);
    if (!item.kept_as) tell(await foundAgain(item, id));
    player.notes = item.kept_as ?? null;
    const width = pictureWidth(document.getElementById("content").clientWidth - 50, bars);
    const found = await drawn(item.rules, id, item, state.staves, width, strip);
    strip.show(found.picture, `Line ${item.number}: ${item.notes ?? ""}`);
    if (found.moved) tell(`${found.moved[0].toUpperCase()}${found.moved.slice(1)}`);
  } catch (error) {
    if (error.name !== "AbortError") strip.replaceWith(document.createTextNode(error.message));
  }
}

/** A line that was kept by its number alone: where the number still has the notes that it had, it is kept with them
 *  from now on. Answers with what is to be said where it has not.
 * @param {LessonItem} item
 * @param {string} id
 */
async function foundAgain(item, id) {
  const line = await withRules(item.rules, id, (known) => get(`/api/rules/${known}/lines/${item.number}`));
  if (!item.notes || item.notes === named(line.notes)) {
    keptWith(item, line.kept_as);
    return "";
  }
  return `This line was kept by its number, and its rules have moved on since. Its notes were ${item.notes}.`;
}

/** Open a line with its rules; one that they do not have any more is there to be changed and checked.
 * @param {LessonItem} item
 */
export async function opened(item) {
  await setTables(structuredClone(item.rules));
  const number = item.kept_as ? await numberOf(item) : item.number;
  if (number) return go("line", { number });
  say("Its rules do not have this line any more. Here are its notes, and why not.");
  return go("check", { typed: item.kept_as });
}

/** @param {LessonItem} item */
async function numberOf(item) {
  try {
    const path = (id) => address(`/api/rules/${id}/number`, { notes: item.kept_as });
    const found = await withRules(item.rules, await idOf(item.rules), (id) => get(path(id)));
    return found.number;
  } catch (error) {
    if (error.status === 400) return null;
    throw error;
  }
}

const moves = () => [
  ["", "Move"],
  ["octave-up", "an octave up"],
  ["octave-down", "an octave down"],
  ...state.vocabulary.keys.map((key) => [key, `to ${signed(key)}`]),
];

/** Another octave or key for a line, its rules with it; title and remark stay.
 * @param {LessonItem} item
 * @param {number} place
 * @param {string} spoken
 */
export function moveChoice(item, place, spoken) {
  const made = select(moves(), "", async (to) => {
    made.value = "";
    try {
      const { rules, number, notes: kept_as } = toSend(item);
      const asked = { rules, number, ...(kept_as ? { notes: kept_as } : {}) };
      const found = await post("/api/lesson/move", { item: asked, to });
      changeLesson(() => Object.assign(item, found));
    } catch (error) {
      say(error.message);
    }
  });
  made.dataset.key = `move ${place}`;
  made.setAttribute("aria-label", `Move ${spoken} to another octave or key`);
  made.className = "move";
  return made;
}
