// A line built note by note: the notes so far, what may come next with exact counts, and the chord ahead.

import { address, get, post, withRules } from "./api.js";
import { keysBoard, neckBoard, nameOf } from "./boards.js";
import { brief, button, digits, h, lines, say } from "./dom.js";
import { fretted } from "./fretboard.js";
import { keepLines } from "./kept.js";
import { pictureWidth } from "./music.js";
import { staffBoard } from "./staff-board.js";
import { go, state, writeAddress } from "./state.js";
import { toneLine } from "./tones.js";
import { signed, signedIn } from "./words.js";

const FINISHES = [
  ["strange", "least strange"],
  ["smooth", "smoothest"],
  ["random", "at random"],
];
const BOARDS = [
  ["staff", "Staff"],
  ["neck", "Fretboard"],
  ["keys", "Keyboard"],
  ["list", "List alone"],
];
const VALUES = { 8: "", 4: "quarter", "4.": "dotted quarter", 2: "half", 16: "sixteenth", "8t": "triplet" };
const MOST_KNOWN = 300; // answers that are kept
const NOTHING = {
  names: [],
  steps: [],
  count: "0",
  ahead: null,
  number: null,
  pitches: [],
  clef: "treble",
  sign: "",
};

const isNote = (each) => Array.isArray(each) && each.length === 3 && each.every(Number.isInteger);

/** The notes in an address, or none where it holds anything else. */
function begun() {
  try {
    const found = JSON.parse(state.begun);
    if (Array.isArray(found) && found.every(isNote)) return found;
  } catch {
    // An address can hold anything.
  }
  return [];
}

/** The page where a line is built; answers what to do when it is left. */
export function showBuild(place) {
  const made = new Build(place);
  return () => made.round.abort();
}

/** Onset and length: two next notes of one pitch differ in these. */
const momentOf = (step) => `${step.event[0]} ${step.event[2]}`;

class Build {
  constructor(place) {
    this.tables = state.tables;
    this.id = state.summary.id;
    this.round = new AbortController();
    this.known = new Map(); // answers by the notes they are about, also those that nobody has asked for yet
    this.music = h("div.begun-music");
    this.next = h("div.next");
    this.told = h("p.told", { "aria-live": "polite" });
    this.body = h("div.build", {}, h("h2", {}, "Build a line"), this.music, this.next);
    this.body.addEventListener("keydown", (event) => {
      const typing = event.target instanceof Element && event.target.matches("input, textarea, select");
      if (event.key === "Backspace" && !typing) this.takeBack();
    });
    place.replaceChildren(this.body);
    this.show(begun());
  }

  ask(what, more, signal = this.round.signal) {
    const body = { notes: this.notes, ...more };
    return withRules(this.tables, this.id, (id) => post(`/api/rules/${id}/${what}`, body, signal));
  }

  /** Show a beginning: its counts as soon as they are there, at once where they were fetched ahead; then what each
   *  note would be, and the music. What was there before stays until the new is there. */
  async show(notes) {
    this.round.abort();
    this.round = new AbortController();
    const { signal } = this.round;
    this.notes = notes;
    this.waiting = true;
    state.begun = JSON.stringify(notes);
    writeAddress(true);
    try {
      const found = this.known.get(state.begun) ?? (await this.ask("next", {}));
      if (this.round.signal !== signal) return;
      this.know(notes, found);
      this.draw(found);
      await Promise.all([this.addWords(signal), this.addMusic(signal)]);
      // Nobody waits for this one.
      await this.lookAhead(signal).catch(() => {});
    } catch (error) {
      if (error.name === "AbortError" || this.round.signal !== signal) return;
      this.draw({ ...NOTHING, trouble: error.message });
    }
  }

  know(notes, found) {
    this.known.set(JSON.stringify(notes), found);
    if (this.known.size > MOST_KNOWN) this.known.delete(this.known.keys().next().value);
  }

  /** Have the counts after each note that may be chosen, before one is. */
  async lookAhead(signal) {
    const { steps } = this.found;
    const next = (step) => [...this.notes, step.event];
    if (!steps.length || steps.every((step) => this.known.has(JSON.stringify(next(step))))) return;
    const { after } = await this.ask("next/each", {});
    if (this.round.signal === signal) steps.forEach((step, place) => this.know(next(step), after[place]));
  }

  async addWords(signal) {
    const { steps } = await this.ask("next/words", {});
    if (this.round.signal !== signal) return;
    this.found.steps = steps;
    for (const step of steps) {
      const place = this.next.querySelector(`[data-event="${step.event.join(" ")}"] .next-words`);
      if (place) place.textContent = this.wordsOf(step);
    }
  }

  async addMusic(signal) {
    const width = pictureWidth(this.body.clientWidth - 24, state.summary.bars);
    const { picture } = await this.ask("begun", { width });
    if (this.round.signal !== signal) return;
    const words = "Choose the first note: a chord tone, or a note that leads to one.";
    if (!picture) return this.music.replaceChildren(h("p.empty-staff", {}, words));
    const strip = h("music-strip.large");
    strip.show(picture, this.found.names.join(" "));
    this.music.replaceChildren(strip);
  }

  // -- what is on the screen ---------------------------------------------------------------------------------

  draw(found) {
    const held = this.heldPlaces();
    this.waiting = false;
    this.found = found;
    const moments = [...new Set(found.steps.map(momentOf))];
    if (!moments.includes(this.moment)) this.moment = moments[0];
    this.told.textContent = "";
    const parts = [
      this.tools(),
      found.trouble ? h("p.trouble", { role: "alert" }, found.trouble) : this.standing(found),
      found.number && this.whole(found),
      found.steps.length && this.boards(moments),
      ...this.choices(found),
    ];
    this.next.replaceChildren(...parts.filter(Boolean));
    const again = held.map((each) => this.next.querySelector(each)).find(Boolean);
    if (again) again.focus({ preventScroll: true });
  }

  /** Where the focus is, and where it may go else, so that whoever plays by keyboard goes on from there. */
  heldPlaces() {
    const focused = document.activeElement;
    if (!this.next.contains(focused) || !(focused instanceof HTMLElement)) return [];
    const { key, place } = focused.dataset;
    const same = key ? `[data-key="${key}"]:enabled` : place ? `[data-place="${place}"]` : ".next-note";
    const near = place ? ".board-wrap button" : ".next-note";
    return [same, near, ".next-note", "[data-key='take back']"];
  }

  tools() {
    const none = !this.notes.length;
    const ways = FINISHES.map(([how, words]) =>
      button(words, () => this.finish(how), { "data-key": how }, "button.quiet"),
    );
    return h(
      "div.row.build-tools",
      {},
      button("Take back", () => this.takeBack(), { disabled: none, "data-key": "take back" }),
      button("Start again", () => this.show([]), { disabled: none }, "button.quiet"),
      button("Hear it", () => toneLine(this.notes), { disabled: none, "data-key": "hear" }),
      h("span.finish", { role: "group", "aria-label": "Finish it" }, h("b", {}, "Finish it:"), ways),
    );
  }

  standing(found) {
    const { ahead } = found;
    const tones = ahead?.names.length ? ahead.names.join(" or ") : "no tone in the range";
    return h(
      "p.standing",
      { "aria-live": "polite" },
      h("b", {}, lines(found.count)),
      this.notes.length ? (found.count === "1" ? " begins so." : " begin so.") : " to choose from.",
      ahead
        ? h(
            "span.ahead",
            {},
            ` Ahead: ${ahead.chord} on ${ahead.place}; nearest from ${found.names.at(-1)}: ${tones}.`,
          )
        : "",
    );
  }

  whole(found) {
    return h(
      "div.row.whole-line",
      {},
      h("b", {}, `This is a whole line: No. ${digits(found.number)}.`),
      button("Open it", () => go("line", { number: found.number }), {}, "button.strong"),
      button("Keep in the lesson", async () => {
        const line = await withRules(this.tables, this.id, (id) =>
          get(address(`/api/rules/${id}/lines/${found.number}`)),
        );
        keepLines([{ ...line, tables: this.tables }]);
        say("The line is kept in the lesson.");
      }),
    );
  }

  // -- staff, fretboard, keyboard ----------------------------------------------------------------------------

  boards(moments) {
    const offered = BOARDS.filter(([board]) => board !== "neck" || fretted());
    const shown = offered.some(([board]) => board === state.board) ? state.board : "staff";
    const tabs = offered.map(([board, words]) =>
      button(
        words,
        () => this.choose({ board }),
        { "aria-pressed": String(board === shown), "data-key": board },
        "button.tab",
      ),
    );
    return h(
      "section.next-board",
      { "aria-label": "Choose the next note" },
      h("div.tabs", { role: "group", "aria-label": "Choose on" }, tabs),
      moments.length > 1 && shown !== "list" ? this.moments(moments) : null,
      shown === "list" ? null : this.board(shown),
      shown === "list" ? null : this.told,
      shown === "list"
        ? null
        : h(
            "p.help",
            {},
            "Touch a note to go on with it; touch any other place to be told why it is not offered.",
          ),
    );
  }

  choose(change) {
    if (change.board) state.board = change.board;
    if (change.moment) this.moment = change.moment;
    writeAddress(true);
    this.draw(this.found);
  }

  /** Where the next note may begin, and how long it may last: boards show one of these. */
  moments(moments) {
    return h(
      "div.tabs.moments",
      { role: "group", "aria-label": "When it begins" },
      moments.map((moment) => {
        const step = this.found.steps.find((each) => momentOf(each) === moment);
        const value = VALUES[step.value] ?? step.value;
        const words = value ? `${step.place}, ${value}` : step.place;
        const pressed = { "aria-pressed": String(moment === this.moment), "data-key": `moment ${moment}` };
        return button(words, () => this.choose({ moment }), pressed, "button.tab");
      }),
    );
  }

  board(shown) {
    const play = {
      look: (pitch) => this.look(pitch),
      act: (pitch) => this.touch(pitch),
      tell: (pitch) => this.tell(pitch),
    };
    if (shown === "neck") return neckBoard(fretted(), play);
    return shown === "keys" ? keysBoard(play) : staffBoard(this.found, play);
  }

  stepAt(pitch) {
    return this.found.steps.find((each) => each.event[1] === pitch && momentOf(each) === this.moment);
  }

  /** What stands on a pitch: offered with its count, not offered, or out of range. */
  look(pitch) {
    const step = this.stepAt(pitch);
    if (step) {
      const more = `: ${lines(step.count)}`;
      return { name: step.name, kind: "offered", offered: true, more, below: brief(step.count, 6) };
    }
    const known = this.found.pitches.find((each) => each.pitch === pitch);
    if (!known) return { name: nameOf(pitch), kind: "out", more: ", out of range" };
    return { name: known.name, kind: "closed", more: ", not offered" };
  }

  tell(pitch) {
    const step = this.stepAt(pitch);
    if (!step) return;
    const words = this.wordsOf(step);
    const head = `${signed(step.name)}, ${signed(step.degree)} of ${step.chord}: ${lines(step.count)}`;
    this.told.textContent = words ? `${head} · ${words}` : head;
  }

  touch(pitch) {
    // What is still on the screen while its answer is on the way is of the note before.
    if (this.waiting) return;
    const step = this.stepAt(pitch);
    if (step) this.take(step);
    else this.whyNot(pitch);
  }

  async whyNot(pitch) {
    const [onset, length] = this.moment.split(" ").map(Number);
    try {
      const { why } = await this.ask("next/why-not", { event: [onset, pitch, length] });
      this.told.textContent = signedIn(why);
    } catch (error) {
      if (error.name !== "AbortError") this.told.textContent = error.message;
    }
  }

  // -- the list ----------------------------------------------------------------------------------------------

  /** A group of buttons for each moment on which the next note may begin. */
  choices(found) {
    const places = [...new Set(found.steps.map((each) => each.place))];
    return places.map((place) => {
      const here = found.steps.filter((each) => each.place === place);
      return h(
        "section.next-notes",
        { "aria-label": `Next note on ${place}` },
        h("h3", {}, `${place}, over ${here[0].chord}`),
        h(
          "div.next-grid",
          {},
          here.map((step) => this.choice(step)),
        ),
      );
    });
  }

  wordsOf(step) {
    const value = VALUES[step.value] ?? step.value;
    return [value, signedIn(step.words.join(", or "))].filter(Boolean).join(" · ");
  }

  choice(step) {
    return button(
      [
        h("b", {}, signed(step.name)),
        h("span.next-degree", {}, signed(step.degree)),
        h("span.next-words", {}, this.wordsOf(step)),
        h("span.leaves", {}, digits(step.count)),
      ],
      () => !this.waiting && this.take(step),
      { "data-pitch": step.event[1], "data-event": step.event.join(" ") },
      "button.next-note",
    );
  }

  // -- what is done ------------------------------------------------------------------------------------------

  take(step) {
    // The counts first: a browser that wakes its sound takes a while.
    this.show([...this.notes, step.event]);
    requestAnimationFrame(() => setTimeout(() => toneLine([step.event])));
  }

  takeBack() {
    if (this.notes.length) this.show(this.notes.slice(0, -1));
  }

  async finish(how) {
    const seed = crypto.getRandomValues(new Uint32Array(1))[0] >>> 1;
    try {
      const line = await this.ask("finish", { how, seed });
      this.show(line.events);
      toneLine(line.events);
    } catch (error) {
      if (error.name !== "AbortError") say(error.message);
    }
  }
}
