// A whole tune: the form bar by bar, cut into phrases, each with rules of its own; its choruses to be heard.

import { post } from "./api.js";
import { ChorusPart } from "./plan-chorus.js";
import { PHRASE_KEYS, SHARED_KEYS, planControl } from "./plan-controls.js";
import { RemediesPart } from "./plan-remedies.js";
import { select } from "./controls.js";
import { button, field, h, keep, lines, redrawing, say } from "./dom.js";
import { Past } from "./past.js";
import {
  barsOf,
  phraseAt,
  planFrom,
  planOver,
  roomOf,
  saidOf,
  withBars,
  withPhrase,
  withPhraseKey,
  withPlanKey,
  without,
} from "./plan-tables.js";
import { state, writeAddress } from "./state.js";
import { statisticsPanel } from "./statistics.js";
import { choruses, signedIn } from "./words.js";

const LARGEST = 100_000;
const past = new Past();
const shown = { page: null };

export const undoPlan = () => shown.page?.back(past.undo(shown.page.plan));
export const redoPlan = () => shown.page?.back(past.redo(shown.page.plan));

/** The page of whole tunes; answers what to do when it is left. */
export function showPlan(place) {
  const made = new PlanPage(place);
  shown.page = made;
  return () => made.leave();
}

class PlanPage {
  constructor(place) {
    this.plan = planFrom(state.plan) ?? planOver(state.tables);
    this.chosen = this.plan.phrase.length ? 0 : -1;
    this.found = null;
    this.round = new AbortController();
    this.trouble = h("p.trouble", { role: "alert", hidden: true });
    this.count = h("p.standing", { "aria-live": "polite" });
    this.form = h("div.form-bars", { role: "group", "aria-label": "The form, bar by bar" });
    this.editor = h("div.phrase-editor");
    this.head = h("div.plan-head");
    this.chorus = new ChorusPart();
    this.remedies = new RemediesPart((plan) => this.change(plan));
    this.body = h(
      "section.plan",
      { "aria-label": "Whole tune" },
      h("h2", {}, "Whole tune"),
      this.head,
      this.trouble,
      this.count,
      this.remedies.body,
      this.form,
      this.editor,
      this.chorus.body,
    );
    place.replaceChildren(this.body);
    this.drawHead();
    this.ask();
  }

  leave() {
    this.round.abort();
    this.chorus.leave();
    this.remedies.leave();
    shown.page = null;
  }

  // -- what changes it ---------------------------------------------------------------------------------------

  /** Take over a changed plan, so that it can be undone. */
  change(plan, chosen = this.chosen) {
    if (JSON.stringify(plan) === JSON.stringify(this.plan)) return;
    past.record(this.plan);
    this.put(plan, chosen);
  }

  back(plan) {
    if (plan) this.put(plan, Math.min(this.chosen, plan.phrase.length - 1));
  }

  put(plan, chosen) {
    this.plan = plan;
    this.chosen = chosen;
    state.plan = JSON.stringify(plan);
    writeAddress(true);
    redrawing(this.head, () => this.drawHead());
    if (this.found) this.draw();
    this.ask();
  }

  /** Have the plan counted; what was there before stays until then. */
  async ask() {
    this.round.abort();
    const mine = (this.round = new AbortController());
    this.body.dataset.busy = "yes";
    const asked = this.plan;
    let counted = null;
    try {
      counted = await post("/api/plan", { tables: asked }, mine.signal);
      if (mine !== this.round) return;
      this.found = { ...counted, plan: asked };
      this.say(counted.trouble);
    } catch (error) {
      if (error.name === "AbortError" || mine !== this.round) return;
      this.say(error.message);
    }
    this.body.dataset.busy = "no";
    if (this.found) this.draw();
    this.chorus.take(this.plan, this.trouble.hidden ? this.found : null);
    this.remedies.take(this.plan, counted);
  }

  say(trouble) {
    this.trouble.textContent = trouble;
    this.trouble.hidden = !trouble;
  }

  // -- head --------------------------------------------------------------------------------------------------

  drawHead() {
    const set = (key) => (event) => this.change(withPlanKey(this.plan, key, event.target.value.trim()));
    const input = (key, more = {}) =>
      h("input", {
        type: "text",
        value: this.plan[key] ?? "",
        "data-key": `plan ${key}`,
        onchange: set(key),
        autocomplete: "off",
        ...more,
      });
    const changes = h("textarea", {
      rows: "4",
      value: this.plan.changes,
      "data-key": "plan changes",
      spellcheck: "false",
      onchange: set("changes"),
    });
    const form = select(
      "Begin with a form",
      "plan form",
      this.forms(),
      "",
      (name) => name && this.begin(name),
    );
    this.head.replaceChildren(
      h(
        "div.row",
        {},
        button("Undo", undoPlan, { disabled: !past.canUndo, "data-key": "plan undo" }),
        button("Redo", redoPlan, { disabled: !past.canRedo, "data-key": "plan redo" }),
        ...this.files(),
      ),
      h("div.plan-fields", {}, field("Title", input("title")), field("Key", input("key")), form),
      field("The chord changes of the whole form", changes),
      this.shared(),
    );
  }

  forms() {
    const found = state.vocabulary.progressions.map((each) => [each.name, each.title || each.name]);
    return [["", "choose"], ...found];
  }

  begin(name) {
    const found = state.vocabulary.progressions.find((each) => each.name === name);
    const { meter, key, changes } = found;
    const more = meter === "4/4" ? {} : { meter };
    const { meter: _, beat: __, ...rest } = this.plan;
    this.change({ ...rest, ...more, changes, key, phrase: [] }, -1);
  }

  files() {
    const pick = h("input", { type: "file", id: "plan-pick", accept: ".toml", class: "hidden-file" });
    pick.onchange = () => {
      this.load(pick.files[0]);
      pick.value = "";
    };
    return [
      button("Keep as a plan file", () => this.keep(), { "data-key": "plan keep" }),
      h("label.button-like", { for: "plan-pick" }, "Open a plan file"),
      pick,
      button(
        "Begin again with the rules of the page",
        () => this.change(planOver(state.tables), -1),
        { "data-key": "plan again" },
        "button.quiet",
      ),
    ];
  }

  keep() {
    if (!this.found) return say("Mend the changes first.");
    keep(new Blob([this.found.toml], { type: "application/toml" }), "plan.toml");
  }

  async load(file) {
    if (!file) return;
    try {
      if (file.size > LARGEST) throw new Error(`${file.name} is larger than any plan file.`);
      const { tables } = await post("/api/rules", { text: await file.text() });
      if (!Array.isArray(tables.phrase))
        throw new Error(`${file.name} is a rule file: it has no phrase. Load it under "Rule file".`);
      this.change(tables, 0);
    } catch (error) {
      say(error.message);
    }
  }

  /** What holds for every phrase. */
  shared() {
    const set = (path, value) => this.change(withPlanKey(this.plan, path, value));
    return h(
      "details.part.plan-shared",
      { open: this.sharedOpen, ontoggle: (event) => (this.sharedOpen = event.target.open) },
      h(
        "summary",
        {},
        h("span.part-title", {}, "Rules for all phrases"),
        h("span.part-says", {}, saidOf(this.plan) || "as usual"),
      ),
      h(
        "div.part-body",
        {},
        SHARED_KEYS.map((path) => planControl("all", path, this.plan, set)),
      ),
    );
  }

  // -- the form ----------------------------------------------------------------------------------------------

  draw() {
    const { found } = this;
    this.count.textContent = standing(found.count, this.plan.phrase.length);
    redrawing(this.form, () =>
      this.form.replaceChildren(...found.bars.map((bar, place) => this.bar(bar, place + 1))),
    );
    redrawing(this.editor, () => this.editor.replaceChildren(...this.phraseParts()));
  }

  bar(chords, number) {
    const place = phraseAt(this.plan, number);
    const phrase = this.plan.phrase[place];
    const starts = phrase && barsOf(phrase)[0] === number;
    const words = signedIn(chords.map((each) => each.chord).join("  ") || "%");
    const name = phrase ? phrase.name || String(place + 1) : "";
    const said = phrase ? `phrase ${name}` : "in no phrase: begin one here";
    return button(
      [
        h("span.bar-number", {}, String(number)),
        h("b", {}, words),
        h("span.bar-phrase", {}, starts ? name : ""),
      ],
      () => (phrase ? this.choose(place) : this.begun(number)),
      {
        "aria-label": `bar ${number}, ${words}, ${said}`,
        "aria-pressed": String(phrase !== undefined && place === this.chosen),
        "data-key": `bar ${number}`,
        "data-phrase": phrase ? String(place % 4) : null,
      },
      starts ? "button.form-bar.first-bar" : "button.form-bar",
    );
  }

  choose(place) {
    this.chosen = place;
    this.draw();
  }

  begun(bar) {
    const { plan, place } = withPhrase(this.plan, bar, this.found.bars.length);
    this.change(plan, place);
  }

  // -- one phrase --------------------------------------------------------------------------------------------

  phraseParts() {
    const phrase = this.plan.phrase[this.chosen];
    if (!phrase) return [];
    const told = this.found.phrases[this.chosen];
    const words = told ? ` ${lines(told.count)} by itself, over ${signedIn(told.changes)}` : "";
    const out = () =>
      this.change(without(this.plan, this.chosen), Math.min(this.chosen, this.plan.phrase.length - 2));
    return [
      h("h3", {}, `Phrase ${phrase.name || this.chosen + 1}`, h("span.help", {}, words)),
      this.phraseFields(phrase),
      this.ownRules(phrase),
      ...this.statistics(),
      h("div.row", {}, button("Take this phrase out", out, { "data-key": "phrase out" }, "button.quiet")),
    ];
  }

  /** What the phrase is made of in all choruses, where there are any. */
  statistics() {
    const { id, count, plan, phrases } = this.found;
    if (count === "0" || !phrases[this.chosen]) return [];
    const of = { tables: plan, id, count, phrase: this.chosen + 1 };
    return [statisticsPanel("Statistics of this phrase in all choruses", of)];
  }

  phraseFields(phrase) {
    const named = (event) => this.set("name", event.target.value.trim());
    const name = h("input", {
      type: "text",
      value: phrase.name ?? "",
      "data-key": "phrase name",
      onchange: named,
    });
    return h(
      "div.plan-fields",
      {},
      field("Name", name),
      this.barField("First bar", 0),
      this.barField("Last bar", 1),
      this.beatField("Begins on beat", "from", "1"),
      this.beatField("Is over at beat", "until", "the end of the bar"),
    );
  }

  ownRules(phrase) {
    const set = (path, value) => this.set(path, value);
    return h(
      "details.part",
      { open: this.ownOpen, ontoggle: (event) => (this.ownOpen = event.target.open) },
      h(
        "summary",
        {},
        h("span.part-title", {}, "Rules of this phrase"),
        h("span.part-says", {}, saidOf(phrase) || "those for all phrases"),
      ),
      h(
        "div.part-body",
        {},
        PHRASE_KEYS.map((path) => planControl("phrase", path, phrase, set)),
      ),
    );
  }

  /** Set a key of the phrase that is chosen. */
  set(path, value) {
    this.change(withPhraseKey(this.plan, this.chosen, path, value));
  }

  barField(words, which) {
    const bars = barsOf(this.plan.phrase[this.chosen]);
    const [least, most] = roomOf(this.plan, this.chosen, this.found.bars.length);
    const first = which ? bars[0] : least;
    const options = Array.from({ length: most - first + 1 }, (_, place) => [
      String(first + place),
      String(first + place),
    ]);
    return select(words, `phrase bar ${which}`, options, String(bars[which]), (text) => {
      const wanted = /** @type {[number, number]} */ (
        which ? [bars[0], Number(text)] : [Number(text), Math.max(bars[1], Number(text))]
      );
      this.change(withBars(this.plan, this.chosen, wanted, this.found.bars.length));
    });
  }

  beatField(words, key, usual) {
    const options = [["", usual], ...this.found.beats.map((each) => [each, each])];
    return select(words, `phrase ${key}`, options, String(this.plan.phrase[this.chosen][key] ?? ""), (each) =>
      this.change(withPhraseKey(this.plan, this.chosen, key, each)),
    );
  }
}

/** How many choruses there are, in words. */
function standing(count, phrases) {
  if (count === null) return "Choose a bar for a first phrase.";
  if (count === "0") return "No chorus.";
  return `${choruses(count)} of ${phrases} phrase${phrases === 1 ? "" : "s"}.`;
}
