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

/**
 * A line as it is shown: its number, its notes, and the whole of it as text.
 * @typedef {{number: string, notes: string | {name: string}[], kept_as?: string}} Line
 */

/** The place of a line in the lesson, or -1: its notes say which it is, its number where they were not kept.
 * @param {Tables} tables
 * @param {Line} line
 */
export function keptAt(tables, line) {
  const rules = JSON.stringify(tables);
  return state.lesson.items.findIndex((item) => {
    const known = item.kept_as && line.kept_as;
    const same = known ? item.kept_as === line.kept_as : item.number === line.number;
    return same && JSON.stringify(item.rules) === rules;
  });
}

/** Whether a line is in the lesson.
 * @param {Tables} tables
 * @param {Line} line
 */
export const isKept = (tables, line) => keptAt(tables, line) >= 0;

/** Put lines into the lesson, each once, as one step.
 * @param {(Line & {tables: Tables, title?: string})[]} lines
 */
export function keepLines(lines) {
  if (lines.every((each) => isKept(each.tables, each))) return;
  changeLesson((lesson) => {
    for (const each of lines) if (!isKept(each.tables, each)) lesson.items.push(itemOf(each));
  });
}

/** @param {Line & {tables: Tables, title?: string}} line
 * @returns {LessonItem}
 */
function itemOf({ tables, number, notes, kept_as, title = "" }) {
  const item = { rules: structuredClone(tables), number, notes: named(notes), title, remark: "" };
  return kept_as ? { ...item, kept_as } : item;
}

/** A line that was kept by its number alone has its notes from now on. Nobody did anything: there is nothing to
 *  undo.
 * @param {LessonItem} item
 * @param {string} notes
 */
export function keptWith(item, notes) {
  item.kept_as = notes;
  keepHere(NAME, state.lesson);
}

/** The names of notes.
 * @param {string | {name: string}[]} notes
 */
export const named = (notes) => (typeof notes === "string" ? notes : notes.map((note) => note.name).join(" "));

/** Take a line out where it is in, put it in where it is not; answers whether it is in now.
 * @param {Tables} tables
 * @param {Line} line
 */
export function toggleLine(tables, line) {
  const place = keptAt(tables, line);
  if (place < 0) keepLines([{ ...line, tables }]);
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
  items: state.lesson.items.map((item) => ({ ...toSend(item), remark: item.remark })),
});

/** A line of it as the interface takes it.
 * @param {LessonItem} item
 */
export const toSend = ({ rules, number, title, kept_as }) => ({
  rules,
  number,
  title,
  ...(kept_as ? { notes: kept_as } : {}),
});
