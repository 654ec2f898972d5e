// The lines that are kept in a lesson: put in, taken out, moved, renamed, each step of it undone and redone. The
// lesson stays in this browser, and another window of it shows the same.

import { Past } from "./past.js";
import { EMPTY_LESSON, keepHere, kept, on, state, tell } from "./store.js";

/** @typedef {import("./store.js").Tables} Tables */
/** @typedef {import("./store.js").Lesson} Lesson */
/** @typedef {import("./store.js").LessonItem} LessonItem */

const NAME = "lesson";
/** @type {Past<Lesson>} */
const past = new Past();

/** Take over what was kept in this browser, and what other windows keep. */
export function setUpLesson() {
  state.lesson = stored();
  addEventListener("storage", (event) => {
    if (event.key !== NAME && event.key !== null) return;
    state.lesson = stored();
    tell("lesson");
  });
}

/** @returns {Lesson} */
function stored() {
  const found = kept(NAME);
  const empty = structuredClone(EMPTY_LESSON);
  return found && Array.isArray(found.items) ? { ...empty, ...found } : empty;
}

/** Change the lesson so that it can be undone.
 * @param {(lesson: Lesson) => void} act
 */
export function changeLesson(act) {
  past.record(state.lesson);
  act(state.lesson);
  saved();
}

function saved() {
  keepHere(NAME, state.lesson);
  tell("lesson");
}

export const canUndoLesson = () => past.canUndo;
export const canRedoLesson = () => past.canRedo;
export const undoLesson = () => put(past.undo(state.lesson));
export const redoLesson = () => put(past.redo(state.lesson));

/** @param {Lesson | undefined} lesson */
function put(lesson) {
  if (!lesson) return;
  state.lesson = lesson;
  saved();
}

/** Be told when the lesson changes.
 * @param {() => void} act
 */
export const onLesson = (act) => on("lesson", act);

/** How many lines are kept. */
export const lessonSize = () => state.lesson.items.length;

/** The place of a line in the lesson, or -1.
 * @param {Tables} tables
 * @param {string} number
 */
export function keptAt(tables, number) {
  const rules = JSON.stringify(tables);
  return state.lesson.items.findIndex(
    (item) => item.number === number && JSON.stringify(item.rules) === rules,
  );
}

/** Whether a line is in the lesson.
 * @param {Tables} tables
 * @param {string} number
 */
export const isKept = (tables, number) => keptAt(tables, number) >= 0;

/** Put lines into the lesson, each once, as one step.
 * @param {{tables: Tables, number: string, notes: string | {name: string}[], title?: string}[]} lines
 */
export function keepLines(lines) {
  if (lines.every((each) => isKept(each.tables, each.number))) return;
  changeLesson((lesson) => {
    for (const { tables, number, notes, title = "" } of lines)
      if (!isKept(tables, number))
        lesson.items.push({ rules: structuredClone(tables), number, notes: named(notes), title, remark: "" });
  });
}

/** @param {string | {name: string}[]} notes */
const named = (notes) => (typeof notes === "string" ? notes : notes.map((note) => note.name).join(" "));

/** Take a line out where it is in, put it in where it is not; answers whether it is in now.
 * @param {Tables} tables
 * @param {{number: string, notes: string | {name: string}[]}} line
 */
export function toggleLine(tables, line) {
  const place = keptAt(tables, line.number);
  if (place < 0) keepLines([{ tables, number: line.number, notes: line.notes }]);
  else changeLesson((lesson) => lesson.items.splice(place, 1));
  return place < 0;
}

/** Move a line by so many places.
 * @param {number} place
 * @param {number} by
 */
export function moveLine(place, by) {
  changeLesson(({ items }) => items.splice(place + by, 0, ...items.splice(place, 1)));
}

/** The lesson as the interface takes it: without what is only shown here. */
export const lessonToSend = () => ({
  title: state.lesson.title,
  remark: state.lesson.remark,
  items: state.lesson.items.map(({ rules, number, title, remark }) => ({ rules, number, title, remark })),
});
