// Places in a sound: seconds to beats of the bars and back, so that another tempo goes on where the first was.

/** @typedef {{at: number, lead: boolean}} Beat a beat's second, and whether it is counted in */
/** @typedef {{note: number, start: number, end: number}} Timed */
/** @typedef {{begin: number, seconds: number}} Round where bar 1 is in a sound that goes round, and how long it is */
/** @typedef {{seconds: number, bars_start: number, beats: Beat[], notes: Timed[], feel: string, loop: Round}} Timing */

/** Beats of the bars gone at a second, with their part; below 0 while it is counted in.
 * @param {Timing} timing
 * @param {number} seconds
 */
export function beatAt(timing, seconds) {
  const { beats } = timing;
  const lead = beats.filter((each) => each.lead).length;
  let place = 0;
  while (place + 1 < beats.length && beats[place + 1].at <= seconds) place += 1;
  return place - lead + (seconds - beats[place].at) / lengthOf(timing, place);
}

/** The second of a beat of the bars; the start of the sound where it is in a count-in that is not there.
 * @param {Timing} timing
 * @param {number} beat
 */
export function secondsAt(timing, beat) {
  const { beats } = timing;
  const lead = beats.filter((each) => each.lead).length;
  const place = Math.max(0, Math.min(beats.length - 1, Math.floor(beat) + lead));
  return Math.max(0, beats[place].at + (beat + lead - place) * lengthOf(timing, place));
}

/** The seconds of a beat.
 * @param {Timing} timing
 * @param {number} place
 */
function lengthOf({ beats }, place) {
  const next = beats[place + 1] ?? beats[place];
  const before = beats[place + 1] ? beats[place] : beats[place - 1];
  return (before ? next.at - before.at : 0) || 0.5;
}

/** The note that sounds at a second, or null.
 * @param {Timing} timing
 * @param {number} now
 */
export const noteAt = (timing, now) =>
  timing.notes.find((note) => note.start <= now && now < note.end)?.note ?? null;

/** The note that sounds at a second of a sound that goes round: a pickup sounds at the end of the last bar too.
 * @param {Timing} timing
 * @param {number} now
 */
export const noteInLoop = (timing, now) =>
  noteAt(timing, now) ?? noteAt(timing, now - (timing.seconds - timing.bars_start));

/** A number within bounds.
 * @param {number} value
 * @param {number} least
 * @param {number} most
 * @param {number} usual what takes the place of no number
 */
export const within = (value, least, most, usual) =>
  Number.isFinite(value) ? Math.min(most, Math.max(least, Math.round(value))) : usual;
