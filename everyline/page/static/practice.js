// Practice: a student's rounds of today, one after another, each recorded in the students' file as it is graded.

import { get, post, postForStream } from "./api.js";
import { button, h, say, select, field } from "./dom.js";
import { closeMicrophone } from "./microphone.js";
import { doneOf, extraRound, nextOpen, restsAfter, roundName, tempoOf } from "./practice-day.js";
import { pedals } from "./practice-keys.js";
import { RoundPage } from "./practice-round.js";
import { keepSettings, settingsForm, settingsOf, weekdayOf } from "./practice-settings.js";
import { working } from "./progress.js";
import { state, writeAddress } from "./state.js";
import { sentence, signed } from "./words.js";

const CARE =
  "Begin softly and slowly, keep the sound low, and rest often. Stop when anything hurts, and ask your teacher or a " +
  "doctor: they know better than a plan how much is good for you.";
const REST_MINUTES = 5;

const shown = { page: null };

/** Take back the round that was recorded last. */
export const undoRound = () => shown.page?.takeBack();

/** The page of practice; answers what to do when it is left. */
export function showPractice(place) {
  const made = new PracticePage(place);
  shown.page = made;
  made.arrive();
  return () => made.leave();
}

const code = (text) => h("code", {}, text);
const nobody = () =>
  h(
    "p.empty",
    {},
    "There is no student yet. Open a line and press “Give to a student”, or begin with ",
    code("everyline student NAME begin"),
    ".",
  );

class PracticePage {
  constructor(place) {
    this.students = [];
    this.day = null;
    this.page = null; // the round that is open
    this.place = -1; // its place among today's
    this.extra = null; // or the round outside the plan
    this.last = null; // what was recorded last in this window
    this.stage = "list";
    this.head = h("div.practice-head");
    this.told = h("div.recorded", { role: "status" });
    this.body = h("div.practice-body");
    this.round = new AbortController();
    const parts = [h("h2", {}, "Practice"), this.head, this.told, this.body];
    place.replaceChildren(h("section.practice", { "aria-label": "Practice" }, parts));
    this.forget = pedals({ on: () => this.goOn(), back: () => this.goBack(), space: () => this.page?.toggle() });
    this.seen = () => document.visibilityState === "visible" && this.refresh();
    document.addEventListener("visibilitychange", this.seen);
  }

  leave() {
    this.round.abort();
    this.forget();
    document.removeEventListener("visibilitychange", this.seen);
    this.page?.leave();
    closeMicrophone();
    shown.page = null;
  }

  trouble(error) {
    if (error.name !== "AbortError") this.body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
  }

  async arrive() {
    try {
      const found = await get("/api/students", this.round.signal);
      this.students = found.students;
      this.showHead(found);
    } catch (error) {
      this.trouble(error);
      return;
    }
    const known = this.students.some((each) => each.name === state.student);
    if (!known && this.students.length === 1) state.student = this.students[0].name;
    if (known || this.students.length === 1) this.choose(state.student);
  }

  showHead({ file, remark }) {
    const names = this.students.map((each) => each.name);
    const options = [["", "choose"], ...names.map((each) => [each, each])];
    this.who = select(options, "", (name) => this.choose(name));
    this.head.replaceChildren(
      ...[
        names.length ? field("Student", this.who) : null,
        names.length || remark ? null : nobody(),
        remark ? h("p.help", {}, sentence(remark)) : null,
        h("p.help.care", {}, CARE),
        file ? h("p.help", {}, `Rounds are recorded in ${file} and nowhere else.`) : null,
      ].filter(Boolean),
    );
  }

  // -- the plan ----------------------------------------------------------------------------------------------

  get settings() {
    return settingsOf(state.student);
  }

  get asked() {
    return { student: state.student, settings: this.settings, ...(this.day ? { day: this.day.day } : {}) };
  }

  async choose(name, again = false) {
    state.student = this.who.value = name;
    this.head.hidden = false;
    writeAddress(true);
    this.page?.leave();
    Object.assign(this, { day: null, page: null, last: null, stage: "list" });
    this.told.replaceChildren();
    this.body.replaceChildren();
    this.round.abort();
    this.round = new AbortController();
    if (!name) return;
    const mine = this.round;
    try {
      const found = await working(this.body, "Planning", (signal, tell) => {
        signal.addEventListener("abort", () => mine.abort());
        const told = (word) => tell(word.done, word.of, word.words);
        return postForStream("/api/practice/plan", { ...this.asked, again }, mine.signal, told);
      });
      if (mine !== this.round) return;
      if (found) {
        this.day = found;
        this.showList();
      } else {
        const plan = button("Plan today", () => this.choose(name));
        this.body.replaceChildren(h("p", {}, "Stopped; nothing was planned. "), plan);
      }
    } catch (error) {
      if (mine === this.round) this.trouble(error);
    }
  }

  /** What other windows and programs have recorded meanwhile. */
  async refresh() {
    if (!this.day || this.stage === "round") return;
    try {
      Object.assign(this.day, await post("/api/practice/standing", this.asked, this.round.signal));
      if (this.stage === "list") this.showList();
    } catch {
      // It is asked again with the next round.
    }
  }

  // -- the list ----------------------------------------------------------------------------------------------

  showList(focus = false) {
    this.page?.leave();
    Object.assign(this, { page: null, stage: "list" });
    this.head.hidden = false;
    const { day } = this;
    const next = nextOpen(day, 0);
    const begun = day.rounds.some((each) => doneOf(each, day.done));
    const begin = button(begun ? "Go on" : "Begin", () => this.open(next), {}, "button.strong.begin");
    this.body.replaceChildren(
      ...[
        h("h3", {}, this.heading()),
        day.remark ? h("p.help", {}, day.remark) : null,
        day.free ? this.freeDay() : null,
        next >= 0 ? begin : null,
        h("ol.rounds", {}, day.rounds.flatMap((each, place) => this.row(each, place))),
        this.others(),
        settingsForm(this.settings, (settings) => this.use(settings)),
      ].filter(Boolean),
    );
    if (focus) (next >= 0 ? begin : this.body.querySelector("button"))?.focus();
  }

  heading() {
    const { rounds, done, taken, minutes, free } = this.day;
    if (free) return "Today is free.";
    if (!rounds.length) return "Nothing is due today.";
    const open = rounds.filter((each) => !doneOf(each, done)).length;
    if (!open) return "Today's rounds are done.";
    return `Today: ${open} of ${rounds.length} rounds to play, ${taken} of ${minutes} minutes in all`;
  }

  freeDay() {
    const { settings } = this;
    const today = weekdayOf(this.day.day);
    if (settings.weekdays.length >= 6) return h("p", {}, "One day a week is for rest.");
    const use = () => this.use({ ...settings, weekdays: [...settings.weekdays, today].sort() });
    return button("Practise today all the same", use);
  }

  use(settings) {
    keepSettings(state.student, settings);
    this.choose(state.student, true);
  }

  row(each, place) {
    const { day } = this;
    const done = doneOf(each, day.done);
    const tempo = done ? done.tempo : tempoOf(day, each);
    const facts = [`in ${signed(each.key)}`, tempo, each.reason].filter(Boolean).join(" · ");
    const words = [
      h("b", {}, each.name),
      h("span.round-kind", {}, each.kind),
      h("span.help", {}, facts),
      done ? h("span.round-grade", {}, done.grade) : null,
    ];
    const open = button(
      words.filter(Boolean),
      () => this.open(place),
      { "data-done": done ? "yes" : null },
      "button.round-row",
    );
    const rests = restsAfter(day, place) && place + 1 < day.rounds.length;
    return [h("li", {}, open), ...(rests ? [h("li.rest", {}, "Rest")] : [])];
  }

  /** Lines outside the plan: those that are not due, with the reason. */
  others() {
    const { lines, left } = this.day;
    if (!lines.length)
      return h("p.empty", {}, "No line was given yet. Open a line, or the lesson, and press “Give to a student”.");
    const why = new Map(left.map((each) => [each.line, each.why]));
    const line = (each) => {
      const play = button(`Play ${each.name}`, () => this.open(-1, extraRound(each)), {}, "button.quiet");
      return h("li", {}, play, h("span.help", {}, ` ${why.get(each.line) ?? ""}`));
    };
    return h(
      "details.part",
      {},
      h("summary", {}, h("span.part-title", {}, "Any line, outside the plan")),
      h("ul.part-body.unlisted", {}, lines.map(line)),
    );
  }

  // -- one round ---------------------------------------------------------------------------------------------

  open(place, extra = null) {
    this.page?.leave();
    const planned = extra ?? this.day.rounds[place];
    Object.assign(this, { place, extra, stage: "round" });
    this.head.hidden = true;
    const of = extra ? "A round outside the plan" : `Round ${place + 1} of ${this.day.rounds.length}`;
    const heading = h("h3", { tabindex: "-1" }, `${of}: ${planned.name}`);
    const { student } = state;
    const { step } = this.settings;
    const { tempo: begin } = this.day.lines.find((each) => each.line === planned.line) ?? this.settings;
    const round = { planned, student, day: this.day.day, tempo: tempoOf(this.day, planned), begin, step };
    this.page = new RoundPage(round, (grade, tempo) => this.graded(grade, tempo));
    const back = button("Back to the list", () => this.showList(true), {}, "button.quiet");
    this.body.replaceChildren(h("div.row.round-head", {}, heading, back), this.page.body);
    heading.focus({ preventScroll: true });
    this.page.open();
  }

  async graded(grade, tempo) {
    const planned = this.extra ?? this.day.rounds[this.place];
    const { line, key, kind } = planned;
    const round = { id: roundName(), line, key, kind, grade, ...(tempo === null ? {} : { tempo }) };
    // What was recorded before is recorded again only where somebody meant to play it again.
    const again = Boolean(this.extra || doneOf(planned, this.day.done));
    try {
      const { recorded, ...now } = await post("/api/practice/rounds", { ...this.asked, round, again });
      Object.assign(this.day, now);
      this.last = recorded ? { id: round.id, place: this.place, extra: this.extra } : null;
      this.tell(recorded, planned, grade, tempo);
      this.goNext();
    } catch (error) {
      say(error.message);
    }
  }

  tell(recorded, planned, grade, tempo) {
    if (!recorded) {
      this.told.replaceChildren(h("p", {}, "Another window has recorded this round; it is not recorded twice."));
      return;
    }
    const at = tempo === null ? "" : ` at ${tempo}`;
    const what = `${planned.name}, ${planned.kind} in ${signed(planned.key)}${at}: ${grade}.`;
    const next = tempoOf(this.day, planned);
    const on = next === null ? "" : ` This line goes on at ${next}.`;
    const { place, extra } = this.last;
    this.told.replaceChildren(
      h("p", {}, `Recorded: ${what}${on}`),
      button("Take it back", () => this.takeBack(), {}, "button.quiet"),
      button("The same again", () => this.open(place, extra), {}, "button.quiet"),
    );
  }

  async takeBack() {
    const { last } = this;
    if (!last) return say("There is no round of this window to take back.");
    this.last = null;
    try {
      Object.assign(this.day, await post("/api/practice/rounds/take-back", { ...this.asked, round: last.id }));
      this.told.replaceChildren(h("p", {}, "The round was taken back."));
      this.open(last.place, last.extra);
    } catch (error) {
      say(error.message);
    }
  }

  goNext() {
    const { place, extra, day } = this;
    if (extra) {
      this.showList(true);
      return;
    }
    const next = nextOpen(day, place + 1);
    if (next < 0) this.showList(true);
    else if (restsAfter(day, place)) this.rest(next);
    else this.open(next);
  }

  rest(next) {
    this.page?.leave();
    Object.assign(this, { page: null, stage: "rest" });
    this.resting = next;
    const go = button("Go on", () => this.open(next), {}, "button.strong.begin");
    const words = `${REST_MINUTES} minutes without playing: put the instrument down, move about, drink something.`;
    this.body.replaceChildren(h("h3", {}, "Rest"), h("p", {}, words), go);
    go.focus();
  }

  // -- keys and pedals ---------------------------------------------------------------------------------------

  /** The one thing that comes next. Answers whether there is one. */
  goOn() {
    if (this.stage === "rest") {
      this.open(this.resting);
      return true;
    }
    if (this.stage === "list") {
      const next = this.day ? nextOpen(this.day, 0) : -1;
      if (next >= 0) this.open(next);
      return next >= 0;
    }
    return this.page?.goOn() ?? false;
  }

  goBack() {
    if (this.stage === "list") return false;
    if (this.stage === "rest" || !this.page.goBack()) this.showList(true);
    return true;
  }
}
