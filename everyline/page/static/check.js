// A student's line: typed, played on the screen or dropped as a file; what is wrong, and what is near.

import { address, post, postFile, withRules } from "./api.js";
import { fretboard, keyboard } from "./boards.js";
import { button, byId, digits, field, h, select } from "./dom.js";
import { onLesson } from "./kept.js";
import { keepButton } from "./keep-button.js";
import { Player, quiet } from "./listen.js";
import { pictureWidth } from "./music.js";
import { ringed, smallestFirst, withoutLast } from "./corrections.js";
import { go, on, state, untilChanged, writeAddress } from "./state.js";
import { toneLine } from "./tones.js";

const KINDS = { musicxml: "musicxml", xml: "musicxml", mxl: "mxl", mid: "mid", midi: "mid", smf: "mid" };
const LARGEST = 5_000_000;
const NEAREST = 3;
const LENGTHS = [
  ["8", "eighth"],
  ["4", "quarter"],
  ["4.", "dotted quarter"],
  ["2", "half"],
  ["8t", "eighth triplet"],
  ["16", "sixteenth"],
];
const BOARDS = [
  ["frets", "a fretboard"],
  ["keys", "a keyboard"],
];
const HOW =
  "Pitches as they sound, eighths unless marked: D4 F4 A4 C5:4 r8 Bb4:4. Octaves may be left out: D F A C. " +
  "Where lines may start on several beats, @2& in front says which.";

/** The page that checks; answers what to do when it is left. */
export function showCheck(place) {
  const view = new Check(place);
  return () => view.leave();
}

class Check {
  constructor(place) {
    this.board = h("div");
    this.area = h("textarea", {
      id: "typed",
      rows: "3",
      spellcheck: "false",
      "data-key": "typed",
      oninput: () => this.typed(),
    });
    this.area.value = state.typed;
    this.answer = h("div.answer", { "aria-live": "polite" });
    place.replaceChildren(
      h(
        "section.check",
        { "aria-label": "Check a line" },
        h("h2", {}, "Check a line"),
        this.form(),
        this.answer,
      ),
    );
    // A verdict is of the rules that hold: other rules, another verdict.
    this.forgets = [
      on("rules", () => state.trouble || this.rulesChanged()),
      onLesson(() => this.answer.querySelectorAll(".keep").forEach((each) => each.update())),
    ];
    if (state.typed.trim()) this.run(false);
  }

  /** Other rules: another verdict, and perhaps another instrument. */
  rulesChanged() {
    this.boards();
    this.again();
  }

  leave() {
    this.forgets.forEach((each) => each());
    clearTimeout(this.noting);
    quiet();
  }

  typed() {
    state.typed = this.area.value;
    clearTimeout(this.noting);
    this.noting = setTimeout(() => writeAddress(true), 400);
  }

  put(text) {
    this.area.value = text;
    this.typed();
  }

  // -- the form ----------------------------------------------------------------------------------------------

  form() {
    const submitted = (event) => {
      event.preventDefault();
      this.run(true);
    };
    const length = select(LENGTHS, "8", () => {});
    length.id = "note-length";
    this.putNote = (name) =>
      this.put(
        `${this.area.value.trimEnd()} ${length.value === "8" ? name : `${name}:${length.value}`}`.trim(),
      );
    this.boards();
    return h(
      "form.entry-tools",
      { onsubmit: submitted },
      field("The notes", this.area, HOW),
      h(
        "div.row",
        {},
        h("button.strong", { type: "submit" }, "Check it"),
        button("Take the last note back", () => this.put(withoutLast(this.area.value))),
        button("Empty", () => this.put(""), {}, "button.quiet"),
        h("div.field.inline", {}, h("label", { for: "note-length" }, "Next note"), length),
        h("div.field.inline", {}, h("label", { for: "board-kind" }, "Play it on"), this.kind),
      ),
      this.board,
      this.drop(),
    );
  }

  /** The fretboard of the rules' instrument, or a keyboard. */
  boards() {
    const { instruments } = state.vocabulary;
    const found = instruments.find((each) => each.name === state.summary.instrument);
    const guitar = instruments.find((each) => each.name === "guitar");
    const fretted = found ? (found.frets ? found : null) : guitar;
    const show = (which) => {
      const made = which === "keys" ? keyboard(this.putNote) : fretboard(fretted ?? guitar, this.putNote);
      this.board.replaceChildren(made);
    };
    const kind = select(BOARDS, fretted ? "frets" : "keys", show);
    kind.id = "board-kind";
    this.kind?.replaceWith(kind);
    this.kind = kind;
    show(kind.value);
  }

  drop() {
    const accept = ".musicxml,.xml,.mxl,.mid,.midi";
    const file = h("input", { type: "file", id: "line-file", class: "hidden-file", accept });
    file.onchange = () => {
      this.readFile(file.files[0]);
      file.value = "";
    };
    const drop = h(
      "div.drop",
      {},
      h("label.button-like", { for: "line-file" }, "Open a MusicXML or MIDI file"),
      file,
      h("span.help", {}, " or drop it here"),
    );
    const over = (there) => (event) => {
      event.preventDefault();
      drop.classList.toggle("over-it", there);
    };
    drop.addEventListener("dragover", over(true));
    drop.addEventListener("dragleave", over(false));
    drop.addEventListener("drop", (event) => {
      over(false)(event);
      this.readFile(event.dataTransfer.files[0]);
    });
    return drop;
  }

  // -- the question ------------------------------------------------------------------------------------------

  complain(text) {
    this.answer.replaceChildren(h("p.trouble", { role: "alert" }, text));
  }

  run(scrolling) {
    const notes = this.area.value;
    if (!notes.trim()) return this.complain("There is no note yet: type some, or play them below.");
    writeAddress(true);
    const body = () => ({ notes, nearest: NEAREST, width: this.wide() });
    this.again = () => this.run(false);
    return this.ask((id) => post(`/api/rules/${id}/check`, body(), untilChanged()), scrolling);
  }

  again() {
    if (this.area.value.trim()) this.run(false);
  }

  async readFile(file) {
    if (!file) return;
    const kind = KINDS[file.name.split(".").pop().toLowerCase()];
    if (!kind)
      return this.complain(
        `${file.name}: a line is read from files that end in .musicxml, .xml, .mxl, .mid or .midi.`,
      );
    if (file.size > LARGEST)
      return this.complain(`${file.name} is larger than 5 megabytes, which no line needs.`);
    const query = { kind, width: this.wide() };
    const asked = (id) => postFile(address(`/api/rules/${id}/check/file`, query), file, untilChanged());
    this.again = () => this.ask(asked, false);
    await this.ask(asked, true);
  }

  async ask(asked, scrolling) {
    const { tables, summary } = state;
    if (!this.answer.childElementCount) this.answer.replaceChildren(h("p", {}, "Checking…"));
    this.answer.classList.add("old");
    try {
      const found = await withRules(tables, summary.id, asked);
      this.answer.classList.remove("old");
      new Verdict(this.answer, found, (text) => this.use(text)).show();
    } catch (error) {
      if (error.name === "AbortError") return;
      this.answer.classList.remove("old");
      this.complain(error.message);
    }
    if (scrolling) intoSight(this.answer);
  }

  /** Take a correction for the line. */
  use(text) {
    this.put(text);
    this.run(true);
  }

  /** How wide the nearest lines are drawn: two columns where there is room. */
  wide() {
    const pixels = this.answer.clientWidth;
    return pictureWidth(pixels > 860 ? pixels / 2 - 20 : pixels, state.summary.bars);
  }
}

/** Scroll so that the verdict and the music under it are seen. */
function intoSight(answer) {
  const { top, bottom } = answer.getBoundingClientRect();
  const room = byId("tally").offsetHeight + 8;
  if (top < room || Math.min(bottom, top + 260) > innerHeight) scrollBy(0, top - room);
}

// -- the answer ----------------------------------------------------------------------------------------------

class Verdict {
  constructor(answer, found, use) {
    this.answer = answer;
    this.found = found;
    this.use = use;
  }

  show() {
    const { found } = this;
    const strip = h("music-strip.large");
    this.answer.replaceChildren(
      this.verdict(),
      found.remarks.length
        ? h(
            "ul.help",
            {},
            found.remarks.map((each) => h("li", {}, each)),
          )
        : "",
      found.picture ? strip : found.text ? h("p.notes", {}, found.text) : "",
      ...(found.valid ? [] : [this.breaches(), this.nearest()]),
    );
    if (!found.picture) return;
    const wrong = found.valid ? [] : ringed(found);
    const spoken = found.notes.map((note, place) =>
      wrong.includes(place) ? `${note.name} (to be changed)` : note.name,
    );
    strip.show(found.picture, spoken.join(" "));
    strip.mark(wrong, "wrong");
  }

  verdict() {
    const { found } = this;
    if (found.valid) return this.good();
    const many = found.breaches.length;
    const part = found.explained && found.explained < found.notes.length;
    const explained = part
      ? ` The first ${found.explained} of ${found.notes.length} notes can be explained.`
      : "";
    const words = `Not a line under these rules: ${many} error${many === 1 ? "" : "s"}.${explained}`;
    return h("div", {}, h("p.verdict.bad", {}, words), h("div.row", {}, this.hearMine()));
  }

  good() {
    const { number, count, notes, kept_as } = this.found;
    return h(
      "div",
      {},
      h("p.verdict.good", {}, `It is a line: no. ${digits(number)} of ${digits(count)}.`),
      h(
        "div.row",
        {},
        player(number, null).starter("Hear it"),
        button("Open it", () => go("line", { number })),
        keepButton(state.tables, { number, notes, kept_as }, ["Keep in the lesson", "Kept in the lesson"]),
      ),
    );
  }

  hearMine() {
    const { notes } = this.found;
    if (!notes.length) return null;
    return button("Hear mine", () => toneLine(notes.map((note) => [note.tick, note.pitch])));
  }

  breaches() {
    const { breaches } = this.found;
    return h(
      "details.breaches",
      { open: breaches.length < 3 },
      h("summary", {}, "What breaks the rules"),
      h(
        "ol",
        {},
        breaches.map((each) => h("li", {}, h("b", {}, `${each.place} (${each.rule}): `), each.message)),
      ),
    );
  }

  /** Corrections, the smallest first, each once. */
  nearest() {
    const near = smallestFirst(this.found);
    if (!near.length) return h("p", {}, "No line satisfies these rules, so none is near.");
    return h(
      "section",
      { "aria-label": "Nearest lines" },
      h("h3", {}, "Nearest lines, the smallest change first"),
      h(
        "div.near-columns",
        {},
        near.map((each) => this.near(each)),
      ),
    );
  }

  near(each) {
    const strip = h("music-strip");
    const number = each.number;
    // The picture comes with the answer; it is drawn as soon as the strip stands in the page.
    queueMicrotask(() => {
      strip.show(each.picture, each.text);
      requestAnimationFrame(() => strip.isConnected && strip.mark(each.marked, "new"));
    });
    return h(
      "div.near",
      {},
      h("p", {}, h("b", {}, `No. ${digits(number)}`), `: ${each.summary}`),
      strip,
      h(
        "ul",
        {},
        each.words.map((words) => h("li", {}, words)),
      ),
      h(
        "div.row",
        {},
        button(
          "Use it",
          () => this.use(each.text),
          { "aria-label": `Use line ${number} in place of mine` },
          "button.strong",
        ),
        player(number, strip).starter("Hear it", { "aria-label": `Hear line ${number}` }),
        button(
          "Open it",
          () => go("line", { number }),
          { "aria-label": `Open line ${number}` },
          "button.quiet",
        ),
      ),
    );
  }
}

const player = (number, strip) =>
  new Player(state.tables, state.summary.id, number, (index) => strip?.light(index));
