// What a MIDI instrument plays in a round: notes with their places in the line, one time round of them at the end.

/** @typedef {import("./practice-sound.js").Place} Place */
/** @typedef {{pitch: number, velocity: number, place: Place, begun: number, ended: number | null}} Struck */
/** @typedef {{pitch: number, onset: number, length: number, velocity: number}} PlayedNote seconds */

const LEAST = 0.01; // seconds that a note lasts at least
const EARLY = 0.3; // seconds before bar 1 in which a first note is an early one and not one of the count-in

/** A MIDI message as a note that begins or ends, or null (MIDI 1.0: a begin without velocity is an end).
 * @param {ArrayLike<number>} data
 * @returns {{on: boolean, pitch: number, velocity: number} | null}
 */
export function noteOf(data) {
  const kind = data[0] >> 4;
  if ((kind !== 8 && kind !== 9) || data.length < 3) return null;
  return { on: kind === 9 && data[2] > 0, pitch: data[1], velocity: data[2] };
}

export class Take {
  /** @param {(moment: number) => Place | null} place where in the line a moment is, null where nobody is to play */
  constructor(place) {
    this.place = place;
    /** @type {Struck[]} */
    this.struck = [];
  }

  /** Hear one message.
   * @param {ArrayLike<number>} data
   * @param {number} moment milliseconds of the window's clock
   */
  hear(data, moment) {
    const note = noteOf(data);
    if (!note) return;
    const open = this.struck.find((each) => each.pitch === note.pitch && each.ended === null);
    if (open) open.ended = moment;
    const place = note.on ? this.place(moment) : null;
    if (place) this.struck.push({ pitch: note.pitch, velocity: note.velocity, place, begun: moment, ended: null });
  }

  /** The notes of the last time round that was played to its end, or else of the last one. Onsets are seconds from
   *  a moment before bar 1, so that none is below 0.
   * @param {number} moment when it is over
   * @param {number} whole how many times round are over
   * @param {number} lead seconds before bar 1 that belong to the line: those of its pickup
   * @returns {PlayedNote[]}
   */
  notes(moment, whole, lead) {
    const after = this.struck.filter((each) => each.place.second >= -lead - EARLY);
    const passes = after.map((each) => each.place.pass);
    const ended = passes.filter((each) => each < whole);
    const pass = Math.max(...(ended.length ? ended : passes));
    return after
      .filter((each) => each.place.pass === pass)
      .map((each) => ({
        pitch: each.pitch,
        onset: Math.max(0, each.place.second + lead + EARLY),
        length: Math.max(LEAST, ((each.ended ?? moment) - each.begun) / 1000),
        velocity: each.velocity,
      }));
  }
}
