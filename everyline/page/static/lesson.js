// The page of the lesson: its lines in order, with titles and remarks, and what it goes out as.

import { post, postForStream, postForText } from "./api.js";
import {
  ask,
  button,
  byKey,
  digits,
  field,
  focused,
  h,
  keep,
  lines,
  printed,
  redrawing,
  say,
  select,
} from "./dom.js";
import { giveButton } from "./give.js";
import * as kept from "./kept.js";
import { moveChoice, opened, shownLine } from "./kept-line.js";
import { playerChoices } from "./listen.js";
import { fileFrom, working } from "./progress.js";
import { go, on, state } from "./state.js";
import { EMPTY_LESSON } from "./store.js";

const FORMS = [
  ["pdf", "PDF to print"],
  ["html", "One file for the student"],
  ["musicxml", "MusicXML"],
  ["mid", "MIDI"],
  ["wav", "Sound (WAV)"],
  ["txt", "Text"],
];
const SECOND_PARTS = [
  ["none", "none"],
  ["concert", "at concert pitch"],
  ["third", "a third below"],
];
const LARGEST = 1_000_000;

/** The page of the lesson; answers what to do when it is left. */
export function showLesson(place) {
  const shown = new Map(); // the music of each line, so that it is drawn once
  const sheet = { paper: "A4", words: true, large: false, per_page: null, second_part: "none" };
  const players = new Set();
  const draw = () => place.replaceChildren(page(place, { shown, sheet, players }));
  draw();
  const forget = on("lesson", () => redrawing(place, draw, ["lesson undo", "lesson title"]));
  return () => {
    forget();
    players.forEach((each) => each.stop());
  };
}

function page(place, view) {
  const { lesson } = state;
  return h(
    "section.lesson-page",
    { "aria-label": "Lesson" },
    h("div.row.lesson-top", {}, h("h2", {}, lesson.title || "The lesson"), undoTools()),
    h("p.on-paper", {}, lesson.remark),
    h(
      "div.lesson-head",
      {},
      words(lesson, "title", "Title", "lesson title"),
      words(lesson, "remark", "Remark to the student", "lesson remark"),
    ),
    lesson.items.length
      ? h(
          "ol.unlisted",
          {},
          lesson.items.map((each, index) => item(each, index, view)),
        )
      : h(
          "p.empty",
          {},
          "Nothing is kept yet. “Keep” beside a line puts it here. ",
          button("To the lines", () => go("lines")),
        ),
    takeAway(place, view.sheet),
  );
}

const undoTools = () => [
  button(
    "Undo",
    kept.undoLesson,
    { disabled: !kept.canUndoLesson(), "data-key": "lesson undo", title: "Ctrl+Z" },
    "button.quiet",
  ),
  button(
    "Redo",
    kept.redoLesson,
    { disabled: !kept.canRedoLesson(), "data-key": "lesson redo", title: "Ctrl+Shift+Z" },
    "button.quiet",
  ),
];

/** A field for the title or the remark of the lesson or of one of its lines. */
function words(owner, name, label, key) {
  const input = h("input", {
    type: "text",
    value: owner[name],
    maxlength: name === "title" ? 200 : 2000,
    "data-key": key,
    onchange: () => input.value !== owner[name] && kept.changeLesson(() => (owner[name] = input.value)),
  });
  input.defaultValue = input.value;
  return field(label, input);
}

// -- one line ------------------------------------------------------------------------------------------------

function item(each, place, view) {
  const { strip, player, moved } = music(each, place, view);
  const title = each.title || `No. ${digits(each.number)}`;
  const name = words(each, "title", "Title", `title ${place}`);
  const remark = words(each, "remark", "Remark", `remark ${place}`);
  return h(
    "li.lesson-item",
    {},
    h("h3", {}, title, h("span.help", {}, ` over ${each.rules.changes}`)),
    strip,
    moved,
    h("p.on-paper", {}, each.remark),
    h("div.row", {}, name, remark),
    h("div.row", {}, player, itemTools(each, place)),
  );
}

function itemTools(each, place) {
  const name = `line ${place + 1}`;
  const last = state.lesson.items.length - 1;
  const tool = (words, key, spoken, act, disabled = false, spec = "button") =>
    button(words, act, { "data-key": `${key} ${place}`, "aria-label": spoken, disabled }, spec);
  return [
    moveChoice(each, place, name),
    tool("Open", "open", `Open ${name}`, () => opened(each)),
    tool("Earlier", "earlier", `Move ${name} earlier`, () => moved(place, -1), place === 0),
    tool("Later", "later", `Move ${name} later`, () => moved(place, 1), place === last),
    tool("Take out", "out", `Take ${name} out`, () => takenOut(each, place), false, "button.quiet"),
  ];
}

/** The music of a line and its player, made once. */
function music(each, place, { shown, players }) {
  const twins = state.lesson.items.slice(0, place).filter((other) => other.number === each.number).length;
  const key = `${JSON.stringify(each.rules)} ${each.number} ${each.notes} ${state.staves} ${twins}`;
  if (!shown.has(key)) {
    const { player, ...made } = shownLine(each);
    players.add(player);
    const starter = player.starter("Play", { "aria-label": `Play line ${each.number}` });
    shown.set(key, { ...made, player: starter });
  }
  return shown.get(key);
}

function moved(place, by) {
  // The button goes with its line, and the focus with the button.
  const word = by < 0 ? "earlier" : "later";
  const held = focused()?.dataset.key?.startsWith(word);
  kept.moveLine(place, by);
  if (!held) return;
  const able = [word, by < 0 ? "later" : "earlier"].map((key) => byKey(document, `${key} ${place + by}`));
  able.find((each) => each && !each.disabled)?.focus();
}

function takenOut(each, place) {
  kept.changeLesson(({ items }) => items.splice(place, 1));
  const next = byKey(document, `out ${Math.min(place, state.lesson.items.length - 1)}`);
  (next ?? byKey(document, "lesson undo"))?.focus();
  say(`${each.title || `No. ${digits(each.number)}`} was taken out; Undo brings it back.`);
}

// -- what it goes out as -------------------------------------------------------------------------------------

function takeAway(place, sheet) {
  const none = !state.lesson.items.length;
  const file = (each) => {
    const [form, label] = each;
    const act = (event) => take(event.target, form, sheet);
    return button(label, act, { "data-form": form, disabled: none });
  };
  return h(
    "section.take",
    { "aria-label": "Take the lesson away" },
    h("h3", {}, "Download"),
    h("div.row", {}, FORMS.map(file)),
    h("div.row", {}, sheetOptions(sheet)),
    h("div.row", {}, fileTools(place, none)),
  );
}

/** How the PDF is printed, with the sizes and names that the command line has, and whether there are two parts. */
function sheetOptions(sheet) {
  const { papers, most_per_page: most } = state.vocabulary.sheet;
  const counts = Array.from({ length: most }, (_, place) => [String(place + 1), String(place + 1)]);
  const labelled = (label, id, options, chosen, change) => {
    const found = select(options, chosen, change);
    found.id = id;
    return h("div.field.inline", {}, h("label", { for: id }, label), found);
  };
  const tick = (label, name) => {
    const box = h("input", { type: "checkbox", id: `sheet-${name}`, checked: sheet[name] });
    box.onchange = () => (sheet[name] = box.checked);
    return h("label.tick", { for: box.id }, box, label);
  };
  const fill = (value) => (sheet.per_page = value ? Number(value) : null);
  const room = ["", "as many as fit"];
  const second = (value) => (sheet.second_part = value);
  return [
    tick("Explain each line on the sheet", "words"),
    tick("Large print", "large"),
    labelled(
      "Paper",
      "paper",
      papers.map((each) => [each, each]),
      sheet.paper,
      (value) => (sheet.paper = value),
    ),
    labelled("Lines on a page", "per-page", [room, ...counts], String(sheet.per_page ?? ""), fill),
    labelled("Second part", "second-part", SECOND_PARTS, sheet.second_part, second),
  ];
}

function fileTools(place, none) {
  const pick = h("input", { type: "file", id: "lesson-pick", accept: ".toml", class: "hidden-file" });
  pick.onchange = () => {
    load(pick.files[0]);
    pick.value = "";
  };
  return [
    button("Keep as a lesson file", keepFile, { disabled: none }),
    giveButton("Give to a student", toGive, { disabled: none }),
    h("label.button-like", { for: "lesson-pick" }, "Open a lesson file"),
    pick,
    button("Empty the lesson", empty, { disabled: none }, "button.quiet"),
    button("Print this page", () => printed(place), {}, "button.quiet"),
  ];
}

const toGive = () => state.lesson.items.map(kept.toSend);

async function take(place, form, sheet) {
  const body = {
    lesson: kept.lessonToSend(),
    format: form,
    staves: state.staves,
    sound: playerChoices(),
    sheet: { ...sheet, per_page: sheet.per_page ?? undefined, fretboard: state.fretboard },
  };
  place.disabled = true;
  try {
    const found = await working(place.closest(".take"), "Making the file", (signal, tell) =>
      postForStream("/api/lesson/take", body, signal, (told) => tell(told.done, told.of, told.words)),
    );
    if (found) keep(fileFrom(found.data, ""), `lesson.${form}`);
    say(found ? "The file is made." : "Stopped; no file was made.");
  } catch (error) {
    say(error.message);
  }
  place.disabled = false;
}

async function keepFile() {
  try {
    const text = await postForText("/api/lesson/file", kept.lessonToSend());
    keep(new Blob([text], { type: "application/toml" }), "lesson.toml");
  } catch (error) {
    say(error.message);
  }
}

const INSTEAD = "instead";
const AFTER = "after";

async function load(file) {
  if (!file) return;
  try {
    if (file.size > LARGEST) throw new Error(`${file.name} is larger than any lesson file.`);
    const found = await post("/api/lesson/read", { text: await file.text() });
    const how = state.lesson.items.length ? await whereTo(file, found) : INSTEAD;
    if (!how) return;
    kept.changeLesson((lesson) => {
      if (how === AFTER) lesson.items.push(...found.items);
      else Object.assign(lesson, structuredClone(EMPTY_LESSON), found);
    });
    say(`In the lesson: ${lines(state.lesson.items.length)}.`);
  } catch (error) {
    say(error.message);
  }
}

const whereTo = (file, found) =>
  ask(
    `Open ${file.name}?`,
    `The lesson has ${lines(state.lesson.items.length)} now, the file ${lines(found.items.length)}.`,
    [
      [AFTER, "Add them to the lesson"],
      [INSTEAD, "Replace the lesson"],
    ],
  );

function empty() {
  kept.changeLesson((lesson) => Object.assign(lesson, structuredClone(EMPTY_LESSON)));
  say("The lesson is empty; Undo brings it back.");
}
