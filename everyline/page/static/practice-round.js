// One round, large: the exercise, its sound, the notes shown or hidden, a MIDI instrument, and how it went.

import { address, post, postFile } from "./api.js";
import { button, field, h, say, select } from "./dom.js";
import { connect, instruments, listenTo, onInstruments } from "./instrument.js";
import { playerChoices, quiet } from "./listen.js";
import { hasMicrophone, openMicrophone, record } from "./microphone.js";
import { answerPart } from "./practice-answer.js";
import { ASKING, GRADES } from "./practice-day.js";
import { heardPart } from "./practice-heard.js";
import { RoundSound } from "./practice-sound.js";
import { Take } from "./practice-take.js";
import { keepHere, kept, state } from "./store.js";
import { noteAt, within } from "./timing.js";
import { sentence, signed } from "./words.js";

const BACKING = ["chords", "bass", "drums"];
const USUAL = { line: false, backing: true, click: true, loop: false, ear: false, count_in: 1 };
const COUNTS = [
  ["0", "none"],
  ["1", "one bar"],
  ["2", "two bars"],
];
const PEDALS =
  "Keys or pedal: space starts and stops; → or Page Down goes on, ← or Page Up goes back, or to another grade.";
const MICROPHONE =
  "The microphone is open. Wear headphones, for it hears loudspeakers too. It listens to rounds played once: " +
  "neither in a loop nor by ear.";
const EARLY = 0.3; // seconds before bar 1 in which a first note is an early one and not one of the count-in
const SLOWEST = 30;
const FASTEST = 400;

/** How rounds sounded last in this browser.
 * @returns {any}
 */
const remembered = () => {
  const found = kept("rounds") ?? {};
  const fits = (name, usual) => (typeof found[name] === typeof usual ? found[name] : usual);
  return Object.fromEntries(Object.entries(USUAL).map(([name, usual]) => [name, fits(name, usual)]));
};

export class RoundPage {
  /** ``round``: {planned, student, day, tempo or null, begin: where the tempo stands, step}; ``graded(grade, tempo)``
   *  records how it went. */
  constructor(round, graded) {
    this.round = round;
    this.graded = graded;
    this.exercise = null;
    this.sound = null;
    this.take = null;
    this.recording = null;
    this.playing = false;
    this.turn = 0;
    this.tempo = round.begin;
    this.sounds = { ...remembered(), ear: round.planned.kind === "hear and find" };
    this.hidden = this.sounds.ear;
    this.body = h("section.round", { "aria-label": "This round" }, h("p", {}, "…"));
  }

  /** Fetch the exercise and show it. */
  async open() {
    const { planned, student, day } = this.round;
    const width = Math.round(Math.max(66, Math.min(260, (this.body.clientWidth || 600) / 4.6)));
    const look = { staves: state.staves, fretboard: state.fretboard, width };
    const asked = { student, day, line: planned.line, key: planned.key, kind: planned.kind, ...look };
    try {
      this.exercise = await post("/api/practice/exercise", asked);
    } catch (error) {
      this.body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
      return;
    }
    if (!this.body.isConnected) return;
    this.sound = new RoundSound(this.exercise.id, this.exercise.bars);
    onInstruments(() => this.tellInstruments());
    this.draw();
  }

  leave() {
    this.turn += 1;
    listenTo(null);
    onInstruments(() => {});
    this.sound?.close();
  }

  // -- the screen --------------------------------------------------------------------------------------------

  draw() {
    const { exercise } = this;
    this.strip = h("music-strip.large");
    this.cover = h("p.cover", { hidden: true }, "The notes are hidden: play by ear.");
    this.heard = h("div.heard", { "aria-live": "polite" });
    this.turnWords = h("p.turn", { "aria-live": "assertive" });
    this.body.replaceChildren(
      h("p.task", {}, this.task()),
      ...[exercise.because, exercise.moved_on].filter(Boolean).map((each) => h("p.help", {}, sentence(each))),
      this.cover,
      this.strip,
      ...[answerPart(exercise, this.strip, () => this.answered())].filter(Boolean),
      this.controls(),
      this.turnWords,
      this.grades(),
      this.heard,
    );
    const notes = exercise.solution ? exercise.shown : exercise.notes;
    this.strip.show(exercise.picture, `The line: ${this.unblanked(notes).join(" ")}`);
    this.hide(this.hidden);
  }

  /** The notes as they are shown: those that are left out are not told either. */
  unblanked(notes) {
    const blanks = new Set(this.exercise.blanks.map((each) => each.note));
    return notes.map((name, place) => (blanks.has(place) ? "…" : name));
  }

  task() {
    const { task, key } = this.exercise;
    const tempo = this.round.tempo === null ? "" : `, ${this.round.tempo} beats a minute`;
    return `${task} In ${signed(key)}${tempo}.`;
  }

  controls() {
    this.go = button("Start", () => this.toggle(), { id: "round-start" }, "button.strong.round-start");
    this.showing = button("", () => this.hide(!this.hidden));
    const asks = ASKING.includes(this.exercise.kind);
    this.lineTick = this.tick("The line sounds", "line", asks ? "Show the answer first." : "");
    const count = select(COUNTS, this.sounds.count_in, (value) => this.set("count_in", Number(value)));
    return h(
      "section.round-controls",
      { "aria-label": "Play" },
      h("div.row", {}, this.go, this.showing, this.tempoPart()),
      h(
        "div.ticks",
        { role: "group", "aria-label": "What sounds" },
        this.lineTick,
        this.tick("Backing", "backing"),
        this.tick("Click", "click"),
        this.tick("Loop", "loop"),
        asks ? null : this.tick("By ear: two bars heard, two bars yours", "ear"),
        this.counted(count),
      ),
      this.instrumentPart(),
    );
  }

  counted(count) {
    const made = field("Count-in", count);
    made.classList.add("inline");
    return made;
  }

  tempoPart() {
    const input = h("input", { type: "number", min: SLOWEST, max: FASTEST, step: "1", value: this.tempo });
    const put = (value) => {
      input.value = this.tempo = within(value, SLOWEST, FASTEST, this.tempo);
      this.again();
    };
    input.addEventListener("change", () => put(input.value === "" ? NaN : Number(input.value)));
    const { step } = this.round;
    return h(
      "div.tempo",
      { role: "group", "aria-label": "Tempo" },
      button("−", () => put(this.tempo - step), { "aria-label": `Slower by ${step}` }),
      field("Tempo", input),
      button("+", () => put(this.tempo + step), { "aria-label": `Faster by ${step}` }),
    );
  }

  tick(words, name, disabled = "") {
    const checked = this.sounds[name] && !disabled;
    const input = h("input", { type: "checkbox", checked, disabled: Boolean(disabled) });
    input.addEventListener("change", () => this.set(name, input.checked));
    return h("label.tick", { title: disabled || null }, input, words);
  }

  set(name, value) {
    this.sounds[name] = value;
    if (name !== "ear") keepHere("rounds", { ...kept("rounds"), [name]: value });
    else this.hide(value);
    this.again();
  }

  /** Hide the notes, or show them. */
  hide(hidden) {
    this.hidden = hidden;
    this.strip.hidden = hidden;
    this.cover.hidden = !hidden;
    this.showing.textContent = hidden ? "Show the notes" : "Hide the notes";
  }

  /** The answer is on the screen: now the line may sound. */
  answered() {
    const input = this.lineTick.querySelector("input");
    input.disabled = false;
    this.lineTick.removeAttribute("title");
  }

  grades() {
    const grades = GRADES.map(([value, words]) =>
      button(words, () => this.grade(value), { "data-grade": value }, "button.grade"),
    );
    this.gradeRow = h("div.grades", { role: "group", "aria-label": "How did it go?" }, grades);
    return h(
      "div.grading",
      {},
      h("h3", {}, "How did it go?"),
      this.gradeRow,
      h("p.help", {}, PEDALS),
    );
  }

  grade(value) {
    this.stop();
    this.graded(value, this.round.tempo === null ? null : this.tempo);
  }

  // -- playing -----------------------------------------------------------------------------------------------

  toggle() {
    if (this.playing) this.stop();
    else this.start();
  }

  /** Start anew where something has changed while it plays. */
  again() {
    if (this.playing) this.start();
  }

  get choices() {
    const { line, backing, click, count_in } = this.sounds;
    const asks = this.lineTick.querySelector("input").disabled;
    const mute = [...(line && !asks ? [] : ["line"]), ...(backing ? [] : BACKING), ...(click ? [] : ["click"])];
    return { ...playerChoices(), tempo: this.tempo, count_in, mute };
  }

  get mode() {
    return this.sounds.ear ? "ear" : this.sounds.loop ? "loop" : "once";
  }

  async start() {
    quiet();
    const turn = (this.turn += 1);
    this.sound.stop();
    this.go.textContent = "Making the sound…";
    try {
      await this.sound.load(this.choices, this.mode);
      if (turn !== this.turn) return;
      await this.sound.start(() => turn === this.turn && this.stop());
    } catch (error) {
      if (turn !== this.turn) return;
      this.go.textContent = "Start";
      say(error.message);
      return;
    }
    this.playing = true;
    this.go.textContent = "Stop";
    this.heard.replaceChildren();
    // By ear or round and round, the sound itself would be recorded more than what is played.
    this.recording = hasMicrophone() && this.mode === "once" ? record() : null;
    this.take = new Take((moment) => this.sound.placeAt(moment));
    listenTo((data, moment) => this.take.hear(data, moment));
    this.follow(turn);
  }

  stop() {
    this.turn += 1;
    if (!this.playing) return;
    this.playing = false;
    const moment = performance.now();
    const { whole, lead } = this.sound.timesRound(moment);
    const since = this.recording ? this.sound.barOne(this.recording.began) - lead - EARLY : 0;
    listenTo(null);
    this.sound.stop();
    this.go.textContent = "Start";
    this.turnWords.textContent = "";
    this.strip.light(null);
    const notes = this.take.struck.length ? this.take.notes(moment, whole, lead) : [];
    if (this.recording) this.tellRecorded(Math.max(0, since));
    else this.tellHeard(notes);
    this.gradeRow.querySelector('[data-grade="clean"]').focus();
  }

  /** Light the notes, and tell whose turn it is. */
  follow(turn) {
    if (!this.playing || turn !== this.turn) return;
    const now = this.sound.now;
    if (!this.hidden && !this.exercise.solution) this.strip.light(now && noteAt(this.sound.timing, now.second));
    const words = this.mode === "ear" && now ? (now.own ? "Your turn: play it back." : "Listen.") : "";
    if (this.turnWords.textContent !== words) this.turnWords.textContent = words;
    requestAnimationFrame(() => this.follow(turn));
  }

  // -- keys and pedals ---------------------------------------------------------------------------------------

  /** Start; stop; then press the grade that is chosen. */
  goOn() {
    if (!this.exercise) return false;
    const chosen = this.gradeRow.querySelector(":focus");
    if (chosen) chosen.click();
    else this.toggle();
    return true;
  }

  /** From the count-in again; among the grades, the one before. Answers whether there was something to do. */
  goBack() {
    if (this.playing) {
      this.start();
      return true;
    }
    const grades = [...(this.gradeRow?.children ?? [])];
    const chosen = grades.findIndex((each) => each === document.activeElement);
    if (chosen < 0) return false;
    grades[(chosen + grades.length - 1) % grades.length].focus();
    return true;
  }

  // -- a MIDI instrument -------------------------------------------------------------------------------------

  instrumentPart() {
    this.plugged = h("span.help", { "aria-live": "polite" });
    const listen = async () => {
      const why = await connect();
      if (why) this.plugged.textContent = why;
      else this.tellInstruments();
    };
    const hear = async () => {
      this.plugged.textContent = (await openMicrophone()) || MICROPHONE;
    };
    const ask = button("Listen to my MIDI instrument", listen, {}, "button.quiet");
    const open = button("Listen by microphone", hear, {}, "button.quiet");
    this.tellInstruments();
    return h("div.row", {}, ask, open, this.plugged);
  }

  tellInstruments() {
    const names = instruments();
    if (!names) return;
    const there = names.length > 0;
    this.plugged.textContent = there ? `Listening to ${names.join(", ")}.` : "No instrument is plugged in.";
  }

  async tellHeard(notes) {
    if (!instruments()?.length) return;
    if (!notes.length) {
      this.heard.replaceChildren(h("p.help", {}, "No note came from the instrument after the count-in."));
      return;
    }
    const body = { tempo: this.tempo, notes, width: this.heardWidth };
    this.showHeard((id) => post(`/api/practice/lines/${id}/heard`, body));
  }

  async tellRecorded(since) {
    this.heard.replaceChildren(h("p.help", {}, "Listening to what was recorded…"));
    const query = { tempo: this.tempo, since: since.toFixed(3), width: this.heardWidth };
    const { recording } = this;
    this.showHeard(async (id) =>
      postFile(address(`/api/practice/lines/${id}/heard/recording`, query), await recording.end()),
    );
  }

  get heardWidth() {
    return Math.round(Math.max(66, Math.min(200, this.body.clientWidth / 5)));
  }

  /** Show what the server heard, unless another exercise is open by then. */
  async showHeard(ask) {
    const { id } = this.exercise;
    try {
      const found = await ask(id);
      if (this.exercise?.id === id) this.heard.replaceChildren(...heardPart(found));
    } catch (error) {
      if (this.exercise?.id === id) this.heard.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
    }
  }
}
