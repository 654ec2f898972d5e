// The sound of a round: once, round and round, or by ear, where two bars are heard and two are the player's own.
// It knows at each moment which second of the line is the player's, so that what is played has its place.

import { address, get, getBytes } from "./api.js";
import { Loop, rateOf } from "./loop.js";

/** @typedef {import("./timing.js").Timing} Timing */
/** @typedef {"once" | "loop" | "ear"} Mode */
/** @typedef {{heard: boolean, own: boolean, from: number, until: number}} Piece
 *    a stretch of the sound in seconds: whether the line is heard in it, and whether it is the player's own */
/** @typedef {{second: number, pass: number}} Place seconds since bar 1 of the line, and which time round */

const LEVEL = 0.8;
const SOON = 0.06; // seconds, so that what is planned is not late
const EDGE = 0.004; // seconds in which one piece gives way to the next
const AT_ONCE = 2; // bars by ear

/** Whether a line begins before bar 1.
 * @param {Timing} timing
 */
const hasPickup = (timing) => timing.notes.length > 0 && timing.notes[0].start < timing.bars_start - 0.01;

/** The stretches of a sound by ear: each two bars heard, then played back over the backing alone.
 * @param {Timing} timing
 * @param {number} bars
 * @returns {Piece[]}
 */
export function earPieces(timing, bars) {
  const bar = timing.loop.seconds / bars;
  const at = (/** @type {number} */ place) => timing.bars_start + place * bar;
  const found = [];
  for (let first = 0; first < bars; first += AT_ONCE) {
    const until = at(Math.min(bars, first + AT_ONCE));
    // A pickup sounds in the bar before.
    const own = first === 0 && hasPickup(timing) ? Math.max(0, at(0) - bar) : at(first);
    found.push({ heard: true, own: false, from: first === 0 ? 0 : at(first), until });
    found.push({ heard: false, own: true, from: own, until });
  }
  return found;
}

/** Where a moment is in the line, by the pieces that were begun one after another; null where it is not the
 *  player's own.
 * @param {Piece[]} pieces
 * @param {Timing} timing
 * @param {number} gone seconds since the first piece began
 * @returns {Place | null}
 */
export function placeInPieces(pieces, timing, gone) {
  let begun = 0;
  for (const piece of pieces) {
    const length = piece.until - piece.from;
    if (gone < begun + length)
      return piece.own && gone >= begun ? { second: piece.from + gone - begun - timing.bars_start, pass: 0 } : null;
    begun += length;
  }
  return null;
}

/** Where a moment of a loop is in its line.
 * @param {Timing} timing
 * @param {number} gone seconds since it was begun
 * @returns {Place}
 */
export function placeRound(timing, gone) {
  const { seconds } = timing.loop;
  const since = gone - timing.bars_start;
  const pass = Math.max(0, Math.floor(since / seconds));
  const second = since - pass * seconds;
  const lead = hasPickup(timing) ? timing.bars_start - timing.notes[0].start + 0.15 : 0.15;
  // What comes just before bar 1 belongs to the time round that begins there.
  return second > seconds - lead ? { second: second - seconds, pass: pass + 1 } : { second, pass };
}

export class RoundSound {
  /** @param {string} id the name of the exercise's line @param {number} bars */
  constructor(id, bars) {
    this.id = id;
    this.bars = bars;
    this.loop = new Loop();
    /** @type {Mode} */
    this.mode = "once";
    /** @type {Piece[]} */
    this.pieces = [];
    /** @type {AudioBufferSourceNode[]} */
    this.sources = [];
    this.buffers = { heard: null, backing: null };
    this.timing = null;
    this.context = null;
    this.begun = null;
  }

  /** Have the sound made and fetched. ``choices`` are those of the interface, with the voices that are silent.
   * @param {any} choices
   * @param {Mode} mode
   */
  async load(choices, mode) {
    const path = `/api/practice/lines/${this.id}`;
    this.mode = mode;
    this.timing = await get(address(`${path}/timing`, choices));
    const sound = (/** @type {any} */ more) => address(`${path}/sound.wav`, { ...choices, ...more });
    if (mode === "loop") {
      await this.loop.load(sound({}), sound({ loop: true }));
      return;
    }
    const silent = [...new Set([...choices.mute, "line"])];
    if (mode === "ear") {
      const whole = choices.mute.filter((/** @type {string} */ each) => each !== "line");
      const [heard, backing] = await this.fetched([sound({ mute: whole }), sound({ mute: silent })]);
      this.buffers = { heard, backing };
      this.pieces = earPieces(this.timing, this.bars);
    } else {
      const [heard] = await this.fetched([sound({})]);
      this.buffers = { heard, backing: heard };
      this.pieces = [{ heard: true, own: true, from: 0, until: this.timing.seconds }];
    }
  }

  /** @param {string[]} addresses */
  async fetched(addresses) {
    const files = await Promise.all(addresses.map(getBytes));
    const rate = rateOf(files[0]);
    if (this.context?.sampleRate !== rate) {
      this.context?.close();
      this.context = new AudioContext({ sampleRate: rate });
    }
    return Promise.all(files.map((each) => this.context.decodeAudioData(each)));
  }

  /** Begin; ``ended`` is called when it is over by itself.
   * @param {() => void} ended
   */
  async start(ended) {
    if (this.mode === "loop") {
      await this.loop.start(this.timing, 0);
      return;
    }
    await this.context.resume();
    this.stop();
    this.begun = this.context.currentTime + SOON;
    let at = this.begun;
    for (const piece of this.pieces) {
      this.play(piece, at);
      at += piece.until - piece.from;
    }
    this.sources.at(-1).onended = () => this.begun !== null && ended();
  }

  /** @param {Piece} piece @param {number} at */
  play(piece, at) {
    const source = this.context.createBufferSource();
    const level = this.context.createGain();
    const length = piece.until - piece.from;
    source.buffer = piece.heard ? this.buffers.heard : this.buffers.backing;
    level.gain.setValueAtTime(LEVEL, at);
    level.gain.setValueAtTime(LEVEL, at + length - EDGE);
    level.gain.linearRampToValueAtTime(0, at + length);
    source.connect(level).connect(this.context.destination);
    source.start(at, piece.from, length);
    this.sources.push(source);
  }

  stop() {
    this.begun = null;
    this.loop.stop();
    for (const source of this.sources) source.stop();
    this.sources = [];
  }

  /** Silence, for good. */
  close() {
    this.stop();
    this.context?.close();
    this.loop.context?.close();
    this.context = this.loop.context = null;
  }

  /** Seconds since it was begun, at a moment of the window's clock (milliseconds).
   * @param {number} moment
   */
  gone(moment) {
    const context = this.mode === "loop" ? this.loop.context : this.context;
    const begun = this.mode === "loop" ? this.loop.begun?.at : this.begun;
    if (!context || begun === null || begun === undefined) return null;
    const { contextTime, performanceTime } = context.getOutputTimestamp();
    // Where the browser does not tell what is heard now, what it plays now must do.
    const known = performanceTime ? contextTime : context.currentTime;
    return known + (moment - (performanceTime || performance.now())) / 1000 - begun;
  }

  /** How many times round are over at a moment, and how many seconds before bar 1 the line begins.
   * @param {number} moment
   */
  timesRound(moment) {
    const { bars_start, loop, notes } = this.timing;
    const since = (this.gone(moment) ?? 0) - bars_start;
    const whole = this.mode === "loop" ? Math.max(0, Math.floor(since / loop.seconds)) : 0;
    return { whole, lead: Math.max(0, bars_start - (notes[0]?.start ?? bars_start)) };
  }

  /** How many seconds after a moment bar 1 begins.
   * @param {number} moment
   */
  barOne(moment) {
    return this.timing.bars_start - (this.gone(moment) ?? 0);
  }

  /** Where in the line a moment is; null where it is not the player's turn.
   * @param {number} moment
   * @returns {Place | null}
   */
  placeAt(moment) {
    const gone = this.gone(moment);
    if (gone === null) return null;
    return this.mode === "loop" ? placeRound(this.timing, gone) : placeInPieces(this.pieces, this.timing, gone);
  }

  /** The second of the sound that is heard now, and whether the player is to play. */
  get now() {
    const gone = this.gone(performance.now());
    if (gone === null) return null;
    if (this.mode === "loop") return { second: this.loop.time, own: true };
    let begun = 0;
    for (const piece of this.pieces) {
      if (gone < begun + piece.until - piece.from) return { second: piece.from + gone - begun, own: piece.own };
      begun += piece.until - piece.from;
    }
    return null;
  }
}
