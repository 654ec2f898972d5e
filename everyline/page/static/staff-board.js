// A staff on which the next note is chosen: what may come next as note heads, every other place to ask about.

import { roving, spoken } from "./boards.js";
import { h, svg } from "./dom.js";

const LETTERS = "CDEFGAB";
const STEP = 7; // pixels between a line and the space above it
const COLUMN = 66; // so wide that counts do not run into each other
/** The lowest line of each clef, as staff steps above C0, and the line that its sign stands on. */
const CLEFS = {
  treble: { lowest: 30, on: 32 },
  bass: { lowest: 18, on: 24 },
  alto: { lowest: 24, on: 28 },
  tenor: { lowest: 22, on: 28 },
};
const SIGN = (8 * STEP) / 1000; // a staff is 1000 units high in the music font, y upward
const SIGNS = { "-1": "♭", 0: "", 1: "♯" };

const stepOf = ([letter, , octave]) => 7 * octave + LETTERS.indexOf(letter);

/** `found.clef` and `found.pitches` say how pitches are written; `play` is what boards are played by. Notes that
 *  may come next stand side by side, so that two on one line can be told apart; the others are in the column
 *  before them, one for each line and space. */
export function staffBoard(found, play) {
  const { lowest, on } = CLEFS[found.clef] ?? CLEFS.treble;
  const steps = found.pitches.map((each) => stepOf(each.written));
  const top = Math.max(lowest + 10, ...steps) + 2;
  const bottom = Math.min(lowest - 2, ...steps) - 2;
  const y = (step) => (top - step) * STEP;
  const offered = found.pitches.filter((each) => play.look(each.pitch).offered);
  const width = 100 + COLUMN * (offered.length + 1);
  const spots = offered.map((each, place) => note(each, play, 100 + COLUMN * (place + 0.5), y));
  const others = othersOf(found, offered).map((each) => other(each, play, y));
  const board = h(
    "div.staff-board",
    { role: "group", "aria-label": "Staff" },
    lines(
      width,
      (top - bottom) * STEP,
      lowest,
      y,
      offered.map((each) => stepOf(each.written)),
      svg("path", {
        d: found.sign,
        class: "clef",
        transform: `translate(8 ${y(on)}) scale(${SIGN} ${-SIGN})`,
      }),
    ),
    others,
    spots,
    countsOf(offered, play),
  );
  put(board, { across: width, down: (top - bottom) * STEP });
  roving(
    board,
    [others, spots].filter((row) => row.length),
  );
  return h("div.board-wrap", {}, board);
}

/** The count of each note, below its column. */
const countsOf = (offered, play) =>
  offered.map((each, place) => {
    const words = h("span.count-at", { "aria-hidden": "true" }, play.look(each.pitch).below);
    return put(words, { x: 100 + COLUMN * (place + 0.5) });
  });

/** One pitch for every line and space on which nothing is offered: the one without an accidental, if there is. */
function othersOf(found, offered) {
  const taken = new Set(offered.map((each) => stepOf(each.written)));
  const byStep = new Map();
  for (const each of found.pitches) {
    const step = stepOf(each.written);
    if (!taken.has(step) && (!byStep.has(step) || each.written[1] === 0)) byStep.set(step, each);
  }
  return [...byStep.values()];
}

function note(each, play, x, y) {
  const { more } = play.look(each.pitch);
  const made = h(
    "button.head-spot",
    { ...handlers(each, play), "aria-label": `${spoken(each.name)}${more}` },
    h("span.accidental", {}, SIGNS[each.written[1]] ?? ""),
    h("span.note-head"),
  );
  return put(made, { x, y: y(stepOf(each.written)) });
}

function other(each, play, y) {
  const words = `${spoken(each.name)}${play.look(each.pitch).more}`;
  const made = h("button.other-spot", { ...handlers(each, play), "aria-label": words });
  return put(made, { y: y(stepOf(each.written)) });
}

/** Places in pixels, for the style sheet. The page's policy allows no style in an attribute. */
function put(element, places) {
  for (const [name, pixels] of Object.entries(places)) element.style.setProperty(`--${name}`, `${pixels}px`);
  return element;
}

const handlers = (each, play) => ({
  type: "button",
  "data-pitch": each.pitch,
  "data-place": each.pitch,
  onclick: () => play.act(each.pitch),
  onfocus: () => play.tell(each.pitch),
  onmouseenter: () => play.tell(each.pitch),
});

/** The five lines, and ledger lines for the notes in their columns. */
function lines(width, height, lowest, y, notes, clef) {
  const made = svg("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" });
  for (let line = 0; line < 5; line += 1) {
    const at = y(lowest + 2 * line);
    made.append(svg("path", { d: `M0 ${at}H${width}`, class: "staff-line" }));
  }
  made.append(clef);
  notes.forEach((step, place) => {
    const middle = 100 + COLUMN * (place + 0.5);
    for (let at = lowest - 2; at >= step; at -= 2) ledger(made, middle, y(at));
    for (let at = lowest + 10; at <= step; at += 2) ledger(made, middle, y(at));
  });
  return made;
}

const ledger = (made, x, y) => made.append(svg("path", { d: `M${x - 14} ${y}h28`, class: "staff-line" }));
