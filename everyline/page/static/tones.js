// Plain tones for notes that are no line of the rules yet, at the player's tempo.

import { tone } from "./boards.js";
import { playerChoices } from "./listen.js";

const TICKS = 480; // in a beat

/** Sound notes one after another: [onset in ticks, MIDI pitch]. */
export function toneLine(notes) {
  const beat = 60 / playerChoices().tempo;
  const first = notes[0]?.[0] ?? 0;
  try {
    for (const [onset, pitch] of notes) tone(pitch, ((onset - first) / TICKS) * beat);
  } catch {
    // No sound here: the notes are there all the same.
  }
}
