// Drill sets: how many, which keys, how chosen, in which order, as what kinds of exercise.

import { postForStream, withRules } from "./api.js";
import { anyOf, number, select } from "./controls.js";
import { button, digits, h, keep, lines, printed, redrawing, say } from "./dom.js";
import { keepLines } from "./kept.js";
import { Player, quiet } from "./listen.js";
import { pictureWidth } from "./music.js";
import { drawInto, idOf } from "./pictures.js";
import { fileFrom, working } from "./progress.js";
import { state, writeAddress } from "./state.js";
import { USUAL_DRILL } from "./store.js";
import { KEY_WORDS, SAMPLING_WORDS, sentence } from "./words.js";

const MOST = 100;
const LARGEST_SEED = 2 ** 31 - 1;

const made = { set: null }; // the set that was made last, and what it was made from

/** The page of drills; answers what to do when it is left. */
export function showDrills(place) {
  const view = new Drills(place);
  return () => view.leave();
}

class Drills {
  constructor(place) {
    this.form = h("div");
    this.answer = h("div.answer", { "aria-live": "polite" });
    this.work = h("div.work");
    place.replaceChildren(
      h(
        "section.drills",
        { "aria-label": "Drill sets" },
        h("h2", {}, "A drill set"),
        this.form,
        this.work,
        this.answer,
      ),
    );
    this.drawForm();
    if (made.set?.rules === state.summary.id) this.show();
  }

  leave() {
    quiet();
    this.work.querySelector(".working button")?.click();
  }

  set(key, value) {
    state.drill[key] = value ?? USUAL_DRILL[key];
    writeAddress(true);
    redrawing(this.form, () => this.drawForm());
    this.compare();
  }

  /** Whether what is shown is of these settings. */
  compare() {
    const old = made.set && this.answer.childElementCount && made.set.wish !== JSON.stringify(state.drill);
    this.answer.classList.toggle("old", Boolean(old));
    this.answer.querySelector(".old-words")?.toggleAttribute("hidden", !old);
  }

  // -- what to make ------------------------------------------------------------------------------------------

  drawForm() {
    const { drill } = state.vocabulary;
    const { traits, kinds, sampling } = state.drill;
    const set =
      (key, usual, most = Infinity) =>
      (values) =>
        this.set(key, values?.length ? values.slice(0, most) : usual);
    const kind = anyOf(
      "Kinds of exercise, in turn",
      "drill kinds",
      Object.entries(drill.kinds),
      kinds,
      set("kinds", ["play"]),
    );
    const trait = anyOf(
      "Spread evenly over",
      "drill traits",
      Object.entries(drill.traits),
      traits,
      set("traits", ["figure"], 4),
    );
    const spread = ["balanced", "pairs"].includes(sampling);
    const go = button(
      "Make the set",
      () => this.make(),
      { id: "drill-make", "data-key": "drill make" },
      "button.strong",
    );
    this.form.replaceChildren(
      h("div.drill-form", {}, this.numbers(), this.choices()),
      kind,
      spread ? trait : "",
      h("div.row", {}, go),
    );
  }

  numbers() {
    const wish = state.drill;
    const whole = (words, key, least, most) =>
      number(words, `drill ${key}`, wish[key], USUAL_DRILL[key], {
        least,
        most,
        set: (value) => this.set(key, value),
      });
    return [
      whole("How many exercises", "how_many", 1, MOST),
      whole("Set number: the same number gives the same set again", "seed", 0, LARGEST_SEED),
    ];
  }

  choices() {
    const { drill } = state.vocabulary;
    const wish = state.drill;
    const choice = (words, key, options, help = null) =>
      select(words, `drill ${key}`, options, wish[key], (value) => this.set(key, value), help);
    const keys = drill.keys.map((each) => [each, keyWords(each, drill.levels)]);
    const samplings = Object.keys(drill.samplings).map((each) => [each, SAMPLING_WORDS[each] ?? each]);
    const orders = Object.entries(drill.orders).map(([each, words]) => [each, sentence(words)]);
    return [
      choice("Keys", "keys", keys),
      choice("Lines", "sampling", samplings, `${sentence(drill.samplings[wish.sampling] ?? "")}.`),
      choice("Order", "order", orders),
    ];
  }

  // -- making it ---------------------------------------------------------------------------------------------

  async make() {
    const { tables, summary } = state;
    const wish = structuredClone(state.drill);
    const body = { ...wish, width: pictureWidth(this.answer.clientWidth, summary.bars) };
    this.answer.replaceChildren();
    this.work.replaceChildren();
    const exercises = [];
    try {
      const found = await working(this.work, "Choosing lines", (signal, tell) =>
        withRules(tables, summary.id, (id) =>
          postForStream(`/api/rules/${id}/drill`, body, signal, (told) => {
            if (told.exercise) exercises.push(told.exercise);
            else tell(told.done, told.of, told.words);
          }),
        ),
      );
      if (!found) return say("Stopped; nothing was made.");
      made.set = { rules: summary.id, tables, exercises, remarks: found.remarks, wish: JSON.stringify(wish) };
      if (this.answer.isConnected) this.show();
    } catch (error) {
      this.answer.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
    }
  }

  show() {
    const { exercises, remarks } = made.set;
    const answers = exercises.some((each) => each.kind !== "play");
    this.answer.replaceChildren(
      h("h3", {}, `${exercises.length} exercise${exercises.length === 1 ? "" : "s"}`),
      h(
        "p.trouble.old-words",
        { hidden: true },
        "The settings above have changed since this set was made; make the set again.",
      ),
      remarks.length
        ? h(
            "ul.help",
            {},
            remarks.map((each) => h("li", {}, each)),
          )
        : "",
      h(
        "div.row",
        {},
        button("Sheet (PDF)", () => this.sheet(false), { "data-form": "drill" }),
        button("Answers (PDF)", () => this.sheet(true), {
          "data-form": "answers",
          disabled: !answers,
          title: answers ? null : "These exercises are there to be played: they have no answers.",
        }),
        button("One file for the student", () => this.sheet(false, "html"), { "data-form": "html" }),
        button("Keep all in the lesson", () => keepAll(exercises)),
        button("Print this page", () => printed(this.answer), {}, "button.quiet"),
      ),
      h("ol.unlisted", {}, exercises.map(exercise)),
    );
    this.compare();
  }

  async sheet(answers, format = "pdf") {
    const { tables, rules, wish } = made.set;
    const body = { wish: JSON.parse(wish), answers, format, fretboard: state.fretboard };
    try {
      const found = await working(this.work, "Making the file", (signal, tell) =>
        withRules(tables, rules, (id) =>
          postForStream(`/api/rules/${id}/drill/sheet`, body, signal, (told) =>
            tell(told.done, told.of, told.words),
          ),
        ),
      );
      if (!found) return say("Stopped; no file was made.");
      const name = answers ? "answers" : "drill";
      keep(fileFrom(found.data, format === "html" ? "text/html" : "application/pdf"), `${name}.${format}`);
      say("The file is made.");
    } catch (error) {
      say(error.message);
    }
  }
}

/** Which keys, as a player would say it. */
function keyWords(name, levels) {
  const most = levels[name];
  if (most === undefined) return KEY_WORDS[name] ?? name;
  return most
    ? `keys with up to ${most} sharp${most > 1 ? "s" : ""} or flat${most > 1 ? "s" : ""}`
    : "C and A minor alone";
}

function keepAll(exercises) {
  keepLines(
    exercises.map((each) => ({
      tables: each.rules,
      number: each.number,
      notes: each.notes,
      kept_as: each.kept_as,
      title: each.kind === "play" ? "" : each.task,
    })),
  );
  say(`Kept in the lesson: ${lines(exercises.length)}.`);
}

function exercise(each, place) {
  const strip = h("music-strip");
  if (each.picture) queueMicrotask(() => strip.show(each.picture, `Exercise ${place + 1}: ${each.shown}`));
  else
    drawInto(strip, each.rules, each.number, `Exercise ${place + 1}: ${each.notes}`, (bars) =>
      pictureWidth(document.getElementById("content").clientWidth - 50, bars),
    );
  const light = (index) => each.kind === "play" && strip.light(index);
  const player = new Player(each.rules, () => idOf(each.rules), each.number, light);
  return h(
    "li.exercise",
    {},
    h(
      "p",
      {},
      h("b", {}, `${place + 1}. ${each.task}`),
      h("span.help", {}, ` in ${each.key} · difficulty ${each.difficulty}`),
    ),
    strip,
    h(
      "div.row.hearing",
      {},
      player.starter(each.kind === "play" ? "Hear it" : "Hear the answer", {
        "aria-label": `Hear exercise ${place + 1}`,
      }),
    ),
    each.kind === "play" ? null : answer(each),
  );
}

function answer(each) {
  const blank = each.kind === "complete" || each.kind === "continue";
  return h(
    "details",
    {},
    h("summary", {}, "The answer"),
    h("p", {}, each.answer.join(" ")),
    h("p.notes", {}, blank ? each.notes : `The line was no. ${digits(each.number)}: ${each.notes}`),
  );
}
