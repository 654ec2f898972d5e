// A fretboard and a keyboard to play a line on. The arrow keys move over them, Enter or Space plays.

import { h } from "./dom.js";
import { state } from "./state.js";

const FLATS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];
const SHARPS = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const BLACK = [1, 3, 6, 8, 10];

/** The name of a MIDI pitch, with the accidentals that the changes have. */
export function nameOf(pitch) {
  const written = `${state.tables.key ?? ""} ${state.summary?.chords.map((each) => each.symbol).join(" ") ?? ""}`;
  const names = /[A-G]#/.test(written) ? SHARPS : FLATS;
  return `${names[pitch % 12]}${Math.floor(pitch / 12) - 1}`;
}

export const spoken = (name) => name.replace("b", "♭").replace("#", "♯");
let sound = null;
/** A short soft tone in so many seconds, so that the hand hears what it touched. */
export function tone(pitch, wait = 0) {
  sound ??= new AudioContext();
  const now = sound.currentTime + wait;
  const voice = sound.createOscillator();
  const level = sound.createGain();
  voice.type = "triangle";
  voice.frequency.value = 440 * 2 ** ((pitch - 69) / 12);
  level.gain.setValueAtTime(0, now);
  level.gain.linearRampToValueAtTime(0.12, now + 0.01);
  level.gain.exponentialRampToValueAtTime(0.001, now + 0.6);
  voice.connect(level).connect(sound.destination);
  voice.start(now);
  voice.stop(now + 0.62);
}

const outside = (pitch) => pitch < state.summary.lowest || pitch > state.summary.highest;

/** A board on which every pitch can be played: touched, it sounds and is put down. */
function free(put) {
  return {
    look: (pitch) => ({
      name: nameOf(pitch),
      kind: outside(pitch) ? "out" : "",
      more: outside(pitch) ? ", out of range" : "",
    }),
    act: (pitch) => {
      put(nameOf(pitch));
      try {
        tone(pitch);
      } catch {
        // No sound here: the note is written all the same.
      }
    },
  };
}

/** A place on a board. `play.look(pitch)` gives its name, its class, what is said beyond its name, and what is
 *  written below it; `play.act(pitch)` is what a touch does, `play.tell(pitch)` what the focus or the mouse does. */
function spot(play, pitch, where, shown) {
  const { name, kind, more, below } = play.look(pitch);
  return h(
    "button",
    {
      type: "button",
      class: kind,
      "data-pitch": pitch,
      "data-place": `${where}${pitch}`,
      "aria-label": `${where}${spoken(name)}${more}`,
      onclick: () => play.act(pitch),
      onfocus: () => play.tell?.(pitch),
      onmouseenter: () => play.tell?.(pitch),
    },
    shown(spoken(name)),
    below ? h("small", {}, below) : null,
  );
}

/** One button has the Tab stop; arrows move it. ``grid`` is rows of buttons. */
export function roving(place, grid) {
  const all = grid.flat().filter(Boolean);
  all.forEach((each, index) => (each.tabIndex = index ? -1 : 0));
  place.addEventListener("keydown", (event) => {
    const row = grid.findIndex((each) => each.includes(event.target));
    if (row < 0) return;
    const column = grid[row].indexOf(event.target);
    const [down, right] = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowDown: [1, 0], ArrowUp: [-1, 0] }[
      event.key
    ] ?? [0, 0];
    const next = grid[row + down]?.[column + right];
    if (!next || (!down && !right)) return;
    event.preventDefault();
    event.target.tabIndex = -1;
    next.tabIndex = 0;
    next.focus();
  });
}

/** A fretboard: string 1 on top, as on the tablature. */
export const fretboard = (instrument, put) => neckBoard(instrument, free(put));

/** A keyboard of the range, an octave at least. */
export const keyboard = (put) => keysBoard(free(put));

/** A fretboard with what stands on each place and what a touch does. */
export function neckBoard(instrument, play) {
  const position = state.tables.range?.position;
  const grid = instrument.strings.map((open, string) =>
    Array.from({ length: instrument.frets + 1 }, (_, fret) =>
      spot(play, open + fret, `string ${string + 1}, fret ${fret}: `, (name) => h("span", {}, name)),
    ),
  );
  const row = (cells, string) =>
    h(
      "tr",
      { role: "presentation" },
      h("th", { role: "presentation" }, String(string + 1)),
      cells.map((each) => h("td", { role: "presentation" }, each)),
    );
  const numbers = grid[0].map((_, fret) =>
    h("th", { role: "presentation", "aria-hidden": "true" }, String(fret)),
  );
  const table = h(
    "table.board",
    { role: "group", "aria-label": `Fretboard of the ${instrument.title}` },
    h(
      "tbody",
      { role: "presentation" },
      grid.map(row),
      h("tr", { role: "presentation" }, h("th", { role: "presentation" }), numbers),
    ),
  );
  roving(table, grid);
  const wrap = h("div.board-wrap", {}, table);
  if (position) requestAnimationFrame(() => (wrap.scrollLeft = grid[0][position].offsetLeft - 40));
  return wrap;
}

/** A keyboard with what stands on each key and what a touch does. */
export function keysBoard(play) {
  const { lowest, highest } = state.summary;
  const from = Math.max(0, lowest - (lowest % 12));
  const to = Math.min(127, Math.max(highest, from + 12));
  const keys = [];
  for (let pitch = from; pitch <= to; pitch += 1) {
    const black = BLACK.includes(pitch % 12);
    const shown = (name) => (!black && pitch % 12 === 0 ? name : "");
    const key = spot(play, pitch, "", shown);
    if (black) key.classList.add("black");
    keys.push(key);
  }
  const row = h("div.keys", { role: "group", "aria-label": "Keyboard" }, keys);
  roving(row, [keys]);
  const wrap = h("div.board-wrap", {}, row);
  requestAnimationFrame(() => {
    const middle = keys[Math.max(0, lowest - from)];
    if (middle) wrap.scrollLeft = middle.offsetLeft - 20;
  });
  return wrap;
}
