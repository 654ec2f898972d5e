// Drill sets: how many, which keys, how chosen, in which order, as what kinds of exercise.

import { post, postForFile, withRules } from "./api.js";
import { anyOf, number, select } from "./controls.js";
import { button, digits, h, keep, lines, say } from "./dom.js";
import { addLine } from "./lesson.js";
import { picture } from "./lines.js";
import "./music.js";
import { pictureWidth } from "./music.js";
import { state, untilChanged } from "./state.js";

const KEYS = {
  home: "the rules' own key",
  cycle: "all twelve, in the cycle of fourths",
  chromatic: "all twelve, rising",
  random: "all twelve, in any order",
};
const wish = {
  how_many: 12,
  sampling: "uniform",
  keys: "home",
  order: "drawn",
  kinds: ["play"],
  traits: ["figure", "ending"],
  seed: 1,
};
let made = null;
const sentence = (words) => words[0].toUpperCase() + words.slice(1);

/** The page of drills. */
export function showDrills(place) {
  const { drill } = state.vocabulary;
  const pairs = (words) => Object.entries(words);
  const set = (key) => (value) => {
    wish[key] = value ?? { how_many: 12, seed: 1 }[key];
    showDrills(place);
  };
  const spread = ["balanced", "pairs"].includes(wish.sampling);
  const held = document.activeElement?.dataset?.key;
  const answer = h("div.answer", { "aria-live": "polite" });
  place.replaceChildren(
    h(
      "section.drills",
      { "aria-label": "Drill sets" },
      h("h2", {}, "A drill set"),
      h(
        "div.drill-form",
        {},
        number("How many exercises", "drill how_many", wish.how_many, 12, {
          least: 1,
          most: 100,
          set: (value) => set("how_many")(Math.min(100, Math.max(1, value ?? 12))),
        }),
        select(
          "Keys",
          "drill keys",
          drill.keys.map((each) => [each, KEYS[each] ?? `keys of ${each.replace("-", " ")}`]),
          wish.keys,
          set("keys"),
        ),
        select(
          "Lines",
          "drill sampling",
          Object.keys(drill.samplings).map((each) => [each, each]),
          wish.sampling,
          set("sampling"),
          `${sentence(drill.samplings[wish.sampling])}.`,
        ),
        select(
          "Order",
          "drill order",
          pairs(drill.orders).map(([each, words]) => [each, words]),
          wish.order,
          set("order"),
        ),
        number("Seed: the same number gives the same set", "drill seed", wish.seed, 1, {
          least: 0,
          most: 2 ** 31 - 1,
          set: set("seed"),
        }),
      ),
      anyOf(
        "Kinds of exercise, in turn",
        "drill kinds",
        pairs(drill.kinds).map(([each, words]) => [each, words]),
        wish.kinds,
        (values) => set("kinds")(values.length ? values : ["play"]),
      ),
      spread
        ? anyOf(
            "Spread evenly over",
            "drill traits",
            pairs(drill.traits).map(([each, words]) => [each, each, words]),
            wish.traits,
            (values) => set("traits")(values.length ? values.slice(0, 4) : ["figure"]),
          )
        : null,
      h(
        "div.row",
        {},
        button("Make the set", () => make(answer), { id: "drill-make" }, "button.strong"),
      ),
      answer,
    ),
  );
  if (held) [...place.querySelectorAll("[data-key]")].find((each) => each.dataset.key === held)?.focus();
  if (made && made.rules === state.summary.id) show(answer, made.found);
}

async function make(answer) {
  answer.replaceChildren(h("p", {}, "Choosing lines…"));
  const { tables, summary } = state;
  try {
    const found = await withRules(tables, summary.id, (id) =>
      post(
        `/api/rules/${id}/drill`,
        { ...wish, width: pictureWidth(answer.clientWidth, summary.bars) },
        untilChanged(),
      ),
    );
    made = { rules: summary.id, found, wish: structuredClone(wish) };
    show(answer, found);
  } catch (error) {
    if (error.name === "AbortError") return;
    answer.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
  }
}

function show(answer, found) {
  answer.replaceChildren(
    h("h3", {}, `${found.exercises.length} exercise${found.exercises.length === 1 ? "" : "s"}`),
    found.remarks.length
      ? h(
          "ul.help",
          {},
          found.remarks.map((each) => h("li", {}, each)),
        )
      : "",
    h(
      "div.row",
      {},
      button("Sheet (PDF)", () => sheet(false), { "data-form": "drill" }),
      button("Answers (PDF)", () => sheet(true), { "data-form": "answers" }),
      button("Keep all in the lesson", () => {
        for (const each of found.exercises)
          addLine(each.rules, each, { title: each.kind === "play" ? "" : each.task });
        say(`Kept in the lesson: ${lines(found.exercises.length)}.`);
      }),
      button("Print this page", () => print(), {}, "button.quiet"),
    ),
    h("ol.unlisted", {}, found.exercises.map(exercise)),
  );
}

function exercise(each, place) {
  const strip = h("music-strip");
  const blank = each.kind === "complete" || each.kind === "continue";
  if (each.picture) queueMicrotask(() => strip.show(each.picture, `Exercise ${place + 1}: ${each.shown}`));
  else fetchPicture(each, strip, place);
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
    each.kind === "play"
      ? null
      : h(
          "details",
          {},
          h("summary", {}, "The answer"),
          h("p", {}, each.answer.join(" ")),
          h("p.notes", {}, blank ? each.notes : `The line was no. ${digits(each.number)}: ${each.notes}`),
        ),
  );
}

async function fetchPicture(each, strip, place) {
  try {
    const { id, bars } = await post("/api/rules", { tables: each.rules });
    const width = pictureWidth(document.getElementById("content").clientWidth - 50, bars);
    strip.show(
      await picture(each.rules, id, each.number, state.staves, width),
      `Exercise ${place + 1}: ${each.notes}`,
    );
  } catch (error) {
    if (error.name !== "AbortError") strip.replaceWith(h("p.notes", {}, each.notes));
  }
}

async function sheet(answers) {
  const { tables, summary } = state;
  say("Making the file…");
  try {
    const body = { wish: made.wish, answers };
    keep(
      await withRules(tables, summary.id, (id) => postForFile(`/api/rules/${id}/drill/sheet`, body)),
      answers ? "answers.pdf" : "drill.pdf",
    );
    say("The file is made.");
  } catch (error) {
    say(error.message);
  }
}
