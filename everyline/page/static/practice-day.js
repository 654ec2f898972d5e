// The day of practice as it stands: what is planned, what is done, what comes next. No screen and no server here.

/** @typedef {{line: string, kind: string, key: string, tempo: number | null}} Played */
/** @typedef {Played & {name: string, reason: string}} Planned a round to be played, with why it is due */
/** @typedef {Played & {id: string, grade: string}} Done */
/** @typedef {{line: string, name: string, key: string, tempo: number}} LineNow a line, its next round's tempo */
/** @typedef {{rounds: Planned[], rests_after: number[], done: Done[], lines: LineNow[], day: string}} Day */

/** @type {[string, string][]} the grades, from worst to best: what is recorded, and what the button says */
export const GRADES = [
  ["not yet", "Not yet"],
  ["with slips", "With slips"],
  ["clean", "Clean"],
];

/** The kinds whose sound would give the answer away. */
export const ASKING = ["complete", "continue", "find the slip"];

/** The last round recorded of a planned one, if it is done.
 * @param {Planned} planned
 * @param {Done[]} done
 */
export const doneOf = (planned, done) =>
  done
    .filter((each) => each.line === planned.line && each.kind === planned.kind && each.key === planned.key)
    .at(-1);

/** The place of the next round that is open, from a place on and then from the start; -1 where all are done.
 * @param {Day} day
 * @param {number} from
 */
export function nextOpen(day, from) {
  const open = (/** @type {Planned} */ each) => !doneOf(each, day.done);
  const later = day.rounds.findIndex((each, place) => place >= from && open(each));
  return later >= 0 ? later : day.rounds.findIndex(open);
}

/** Whether there is a rest between a round (by place) and what follows.
 * @param {Day} day
 * @param {number} place
 */
export const restsAfter = (day, place) => day.rests_after.includes(place + 1);

/** The tempo of a round: where its line stands by now; none where nothing is played in time.
 * @param {Day} day
 * @param {Planned} planned
 */
export const tempoOf = (day, planned) =>
  planned.tempo === null ? null : (day.lines.find((each) => each.line === planned.line)?.tempo ?? planned.tempo);

/** A round outside the plan: a line played in its own key.
 * @param {LineNow} line
 * @returns {Planned}
 */
export const extraRound = (line) => ({
  line: line.line,
  name: line.name,
  kind: "play",
  key: line.key,
  tempo: line.tempo,
  reason: "",
});

/** Sixteen hexadecimal digits by which a round is known in every copy of the folder. */
export const roundName = () =>
  [...crypto.getRandomValues(new Uint8Array(8))].map((each) => each.toString(16).padStart(2, "0")).join("");

/** Whether an answer on the screen is one of the ways to fill the blanks; else how many notes of the nearest one
 *  are wrong.
 * @param {number[][]} ways
 * @param {number[]} chosen
 */
export const wrongNotes = (ways, chosen) =>
  Math.min(...ways.map((way) => way.filter((pitch, place) => pitch !== chosen[place]).length));
