// A sound that goes round without a gap: what comes before bar 1 once, then the bars over and over, to the sample.

import { getBytes } from "./api.js";

const LEVEL = 0.8;
const SOON = 0.05; // seconds, so that what is planned is not late
const EDGE = 0.005; // seconds over which one sound takes over from the other

/** @typedef {import("./timing.js").Timing} Timing */

/** Samples a second of a WAV file (its header says so at byte 24).
 * @param {ArrayBuffer} bytes
 */
export const rateOf = (bytes) => new DataView(bytes).getUint32(24, true);

/** Where a loop is in the sound that its timing tells of, from the seconds since it was begun.
 * @param {Timing} timing
 * @param {number} from the second of that sound at which it was begun
 * @param {number} gone
 */
export function placeInLoop(timing, from, gone) {
  const now = from + gone;
  if (now < timing.bars_start) return now;
  const { begin, seconds } = timing.loop;
  const round = (now - timing.bars_start + begin) % seconds;
  return timing.bars_start - begin + round;
}

/** One line going round. */
export class Loop {
  constructor() {
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {AudioBuffer | null} */
    this.lead = null;
    /** @type {AudioBuffer | null} */
    this.round = null;
    /** @type {AudioBufferSourceNode[]} */
    this.sources = [];
    this.begun = null;
  }

  /** Fetch both sounds: the one that leads in, and the one that goes round.
   * @param {string} lead
   * @param {string} round
   */
  async load(lead, round) {
    const [first, bytes] = await Promise.all([getBytes(lead), getBytes(round)]);
    const rate = rateOf(bytes);
    // At the rate of the file nothing is resampled, so that the end still meets the beginning.
    if (this.context?.sampleRate !== rate) {
      this.context?.close();
      this.context = new AudioContext({ sampleRate: rate });
    }
    [this.lead, this.round] = await Promise.all([first, bytes].map((each) => this.context.decodeAudioData(each)));
  }

  /** Play from a second of the sound that leads in.
   * @param {Timing} timing
   * @param {number} from
   */
  async start(timing, from) {
    await this.context.resume();
    this.stop();
    const now = this.context.currentTime + SOON;
    const left = Math.max(0, timing.bars_start - from);
    this.sources = [];
    if (left > 0) this.play(this.lead, now, from).stop(now + left + EDGE);
    const into = Math.max(0, from - timing.bars_start) + timing.loop.begin;
    const round = this.play(this.round, now + left, into % timing.loop.seconds, left > 0);
    round.loop = true;
    this.begun = { timing, from, at: now };
  }

  /** @param {AudioBuffer} buffer @param {number} when @param {number} offset @param {boolean} soft */
  play(buffer, when, offset, soft = false) {
    const source = this.context.createBufferSource();
    const level = this.context.createGain();
    source.buffer = buffer;
    level.gain.setValueAtTime(soft ? 0 : LEVEL, when);
    if (soft) level.gain.linearRampToValueAtTime(LEVEL, when + EDGE);
    source.connect(level).connect(this.context.destination);
    source.start(when, offset);
    this.sources.push(source);
    return source;
  }

  /** The second of the sound that leads in which is heard now. */
  get time() {
    if (!this.begun) return 0;
    const { timing, from, at } = this.begun;
    return placeInLoop(timing, from, Math.max(0, this.context.currentTime - at));
  }

  stop() {
    for (const source of this.sources) source.stop();
    this.sources = [];
    this.begun = null;
  }
}
