// A line built note by note: the notes so far, what may come next with exact counts, and the chord ahead.

import { address, get, post, withRules } from "./api.js";
import { tone } from "./boards.js";
import { button, digits, h, lines, say } from "./dom.js";
import { keepLines } from "./kept.js";
import { playerChoices } from "./listen.js";
import { pictureWidth } from "./music.js";
import { go, state, writeAddress } from "./state.js";

const FINISHES = [
  ["strange", "least strange"],
  ["smooth", "smoothest"],
  ["random", "at random"],
];
const TICKS = 480; // in a beat

/** The notes in an address, or none where it holds anything else. */
function begun() {
  try {
    const found = JSON.parse(state.begun);
    if (Array.isArray(found) && found.every((each) => Array.isArray(each) && each.length === 3 && each.every(Number.isInteger))) return found;
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

class Build {
  constructor(place) {
    this.tables = state.tables;
    this.id = state.summary.id;
    this.round = new AbortController();
    this.body = h("div.build", {}, h("h2", {}, "Build a line"), h("p", {}, "…"));
    this.body.addEventListener("keydown", (event) => {
      if (event.key === "Backspace" && !event.target.matches("input, textarea")) this.takeBack();
    });
    place.replaceChildren(this.body);
    this.show(begun());
  }

  /** Show a beginning; what was there before stays until the new is there. */
  async show(notes, focus = false) {
    this.round.abort();
    this.round = new AbortController();
    const { signal } = this.round;
    this.notes = notes;
    this.waiting = true;
    state.begun = JSON.stringify(notes);
    writeAddress(true);
    const width = pictureWidth(this.body.clientWidth - 24, state.summary.bars);
    try {
      const found = await withRules(this.tables, this.id, (id) => post(`/api/rules/${id}/next`, { notes, width }, signal));
      if (this.round.signal === signal) this.draw(found, focus);
    } catch (error) {
      if (error.name !== "AbortError") this.draw({ trouble: error.message, names: [], steps: [], count: "0", ahead: null, picture: null, number: null }, focus);
    }
  }

  draw(found, focus) {
    this.waiting = false;
    const parts = [
      h("h2", {}, "Build a line"),
      this.staff(found),
      this.tools(),
      found.trouble ? h("p.trouble", { role: "alert" }, found.trouble) : this.standing(found),
      found.number && this.whole(found),
      ...this.choices(found),
    ];
    this.body.replaceChildren(...parts.filter(Boolean));
    if (focus) (this.body.querySelector(".next-note") ?? this.body.querySelector("[data-key='take back']"))?.focus({ preventScroll: true });
  }

  staff(found) {
    if (!found.picture) return h("p.empty-staff", {}, found.trouble ? "" : "Choose the first note: a chord tone, or a note that leads to one.");
    const strip = h("music-strip.large");
    strip.show(found.picture, found.names.join(" "));
    return strip;
  }

  tools() {
    const none = !this.notes.length;
    return h(
      "div.row.build-tools",
      {},
      button("Take back", () => this.takeBack(), { disabled: none, "data-key": "take back" }),
      button("Start again", () => this.show([]), { disabled: none }, "button.quiet"),
      button("Hear it", () => this.hear(), { disabled: none }),
      h("span.finish", { role: "group", "aria-label": "Finish it" }, h("b", {}, "Finish it:"), FINISHES.map(([how, words]) => button(words, () => this.finish(how), {}, "button.quiet"))),
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
      ahead ? ` Ahead: ${ahead.chord} on ${ahead.place}; nearest from ${found.names.at(-1)}: ${tones}.` : "",
    );
  }

  whole(found) {
    return h(
      "div.row.whole-line",
      {},
      h("b", {}, `This is a whole line: No. ${digits(found.number)}.`),
      button("Open it", () => go("line", { number: found.number }), {}, "button.strong"),
      button("Keep in the lesson", async () => {
        const line = await withRules(this.tables, this.id, (id) => get(address(`/api/rules/${id}/lines/${found.number}`)));
        keepLines([{ ...line, tables: this.tables }]);
        say("The line is kept in the lesson.");
      }),
    );
  }

  /** A group of buttons for each moment on which the next note may begin. */
  choices(found) {
    const places = [...new Set(found.steps.map((each) => each.place))];
    return places.map((place) => {
      const here = found.steps.filter((each) => each.place === place);
      return h("section.next-notes", { "aria-label": `Next note on ${place}` }, h("h3", {}, `${place}, over ${here[0].chord}`), h("div.next-grid", {}, here.map((step) => this.choice(step))));
    });
  }

  choice(step) {
    const value = { 8: "", 4: "quarter", "4.": "dotted quarter", 2: "half", 16: "sixteenth", "8t": "triplet" }[step.value] ?? step.value;
    return button(
      [
        h("b", {}, step.name.replaceAll("b", "♭").replaceAll("#", "♯")),
        h("span.next-degree", {}, step.degree.replaceAll("b", "♭").replaceAll("#", "♯")),
        h("span.next-words", {}, [value, step.words.join(", or ")].filter(Boolean).join(" · ")),
        h("span.leaves", {}, digits(step.count)),
      ],
      () => {
        // What is still on the screen while its answer is on the way is of the note before.
        if (this.waiting) return;
        this.sound([step.event]);
        this.show([...this.notes, step.event], true);
      },
      { "data-pitch": step.event[1] },
      "button.next-note",
    );
  }

  takeBack() {
    if (this.notes.length) this.show(this.notes.slice(0, -1), true);
  }

  async finish(how) {
    const seed = crypto.getRandomValues(new Uint32Array(1))[0] >>> 1;
    try {
      const line = await withRules(this.tables, this.id, (id) => post(`/api/rules/${id}/finish`, { notes: this.notes, how, seed }, this.round.signal));
      this.show(line.events);
      this.sound(line.events);
    } catch (error) {
      if (error.name !== "AbortError") say(error.message);
    }
  }

  hear() {
    this.sound(this.notes);
  }

  /** Plain tones at the player's tempo. */
  sound(notes) {
    const beat = 60 / playerChoices().tempo;
    const first = notes[0]?.[0] ?? 0;
    try {
      for (const [onset, pitch] of notes) tone(pitch, ((onset - first) / TICKS) * beat);
    } catch {
      // No sound here: the notes are there all the same.
    }
  }
}
