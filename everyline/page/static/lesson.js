// The lesson: lines that were kept, in an order, with titles and remarks. It stays in this browser, and goes
// out as a lesson file, a sheet, a score or a sound.

import { post, postForFile, postForText } from "./api.js";
import { button, digits, field, h, keep, lines, say } from "./dom.js";
import { picture } from "./lines.js";
import { playerChoices } from "./listen.js";
import "./music.js";
import { go, setTables, state } from "./state.js";

const FORMS = [
  ["pdf", "PDF to print"],
  ["musicxml", "MusicXML"],
  ["mid", "MIDI"],
  ["wav", "Sound (WAV)"],
  ["txt", "Text"],
];
const EMPTY = { title: "", remark: "", items: [] };
const lesson = read();
const told = [];
let before = null; // the lesson before something of it was lost, and what that was

function read() {
  try {
    const found = JSON.parse(localStorage.getItem("lesson"));
    if (found && Array.isArray(found.items)) return { ...EMPTY, ...found };
  } catch {
    // What cannot be read is begun anew.
  }
  return structuredClone(EMPTY);
}

function save() {
  localStorage.setItem("lesson", JSON.stringify(lesson));
  told.forEach((act) => act());
}

// Another window of this browser has changed the lesson.
addEventListener("storage", (event) => {
  if (event.key !== "lesson" && event.key !== null) return;
  Object.assign(lesson, structuredClone(EMPTY), read());
  told.forEach((act) => act());
  if (state.view === "lesson") showLesson(document.getElementById("content"));
});

export const lessonSize = () => lesson.items.length;
export const onLesson = (act) => told.push(act);

const same = (item, tables, number) =>
  item.number === number && JSON.stringify(item.rules) === JSON.stringify(tables);

/** Whether a line is in the lesson. */
export const isKept = (tables, number) => lesson.items.some((item) => same(item, tables, number));

/** Put a line into the lesson, once. */
export function addLine(tables, line, more = {}) {
  if (!isKept(tables, line.number)) {
    const notes = typeof line.notes === "string" ? line.notes : line.notes.map((note) => note.name).join(" ");
    lesson.items.push({
      rules: structuredClone(tables),
      number: line.number,
      notes,
      title: "",
      remark: "",
      ...more,
    });
    save();
  }
  say(`Line ${digits(line.number)} is in the lesson.`);
}

/** What the interface takes: the lesson without what is only shown here. */
const plain = () => ({
  title: lesson.title,
  remark: lesson.remark,
  items: lesson.items.map(({ rules, number, title, remark }) => ({ rules, number, title, remark })),
});

/** The page of the lesson. */
export function showLesson(place) {
  const words = h("input", { type: "checkbox", id: "sheet-words", checked: true });
  const paper = h(
    "select",
    {},
    h("option", { value: "a4" }, "A4"),
    h("option", { value: "letter" }, "Letter"),
  );
  const pick = h("input", { type: "file", id: "lesson-pick", accept: ".toml", class: "hidden-file" });
  pick.onchange = () => {
    load(pick.files[0]);
    pick.value = "";
  };
  const text = (key, label) => {
    const input = h("input", {
      type: "text",
      value: lesson[key],
      maxlength: key === "title" ? 200 : 2000,
      onchange: () => ((lesson[key] = input.value), save()),
    });
    return field(label, input);
  };
  place.replaceChildren(
    h(
      "section.lesson-page",
      { "aria-label": "Lesson" },
      h("h2", {}, lesson.title || "The lesson"),
      before ? h("p.lost", {}, before.words, " ", button("Undo", undo)) : null,
      h("div.lesson-head", {}, text("title", "Title"), text("remark", "Remark to the student")),
      lesson.items.length
        ? h("ol.unlisted", {}, lesson.items.map(item))
        : h("p.empty", {}, "Nothing is kept yet. “Keep” beside a line puts it here."),
      h(
        "section.take",
        { "aria-label": "Take the lesson away" },
        h("h3", {}, "Download"),
        h(
          "div.row",
          {},
          FORMS.map(([form, label]) =>
            button(label, (event) => take(event.target, form, { paper: paper.value, words: words.checked }), {
              "data-form": form,
              disabled: !lesson.items.length,
            }),
          ),
        ),
        h(
          "div.row",
          {},
          h("label.tick", { for: "sheet-words" }, words, "Explain each line on the sheet"),
          h("div.field.inline", {}, h("label", { for: (paper.id = "paper") }, "Paper"), paper),
        ),
        h(
          "div.row",
          {},
          button("Keep as a lesson file", keepFile, { disabled: !lesson.items.length }),
          h("label.button-like", { for: "lesson-pick" }, "Open a lesson file"),
          pick,
          button("Empty the lesson", empty, { disabled: !lesson.items.length }, "button.quiet"),
          button("Print this page", () => print(), {}, "button.quiet"),
        ),
      ),
    ),
  );
}

const redraw = () => {
  save();
  if (state.view === "lesson") showLesson(document.getElementById("content"));
};

function item(each, place) {
  const strip = h("music-strip");
  draw(each, strip);
  const move = (by) => {
    lesson.items.splice(place + by, 0, ...lesson.items.splice(place, 1));
    redraw();
  };
  const text = (key, label) => {
    const input = h("input", {
      type: "text",
      value: each[key],
      maxlength: key === "title" ? 200 : 2000,
      onchange: () => ((each[key] = input.value), save()),
    });
    return field(label, input);
  };
  const name = `line ${place + 1}`;
  return h(
    "li.lesson-item",
    {},
    h(
      "h3",
      {},
      each.title || `No. ${digits(each.number)}`,
      h("span.help", {}, ` over ${each.rules.changes}`),
    ),
    strip,
    h("div.row", {}, text("title", "Title"), text("remark", "Remark")),
    h(
      "div.row",
      {},
      button(
        "Open",
        async () => {
          await setTables(structuredClone(each.rules));
          go("line", { number: each.number });
        },
        { "aria-label": `Open ${name}` },
      ),
      button("Earlier", () => move(-1), { disabled: place === 0, "aria-label": `Move ${name} earlier` }),
      button("Later", () => move(1), {
        disabled: place === lesson.items.length - 1,
        "aria-label": `Move ${name} later`,
      }),
      button(
        "Take out",
        () =>
          losing(`${each.title || `No. ${digits(each.number)}`} was taken out.`, () =>
            lesson.items.splice(place, 1),
          ),
        { "aria-label": `Take ${name} out` },
        "button.quiet",
      ),
    ),
  );
}

const ids = new Map();
async function draw(each, strip) {
  try {
    const key = JSON.stringify(each.rules);
    if (!ids.has(key)) ids.set(key, post("/api/rules", { tables: each.rules }));
    const { id, bars } = await ids.get(key);
    const width = Math.round(
      Math.max(
        66,
        Math.min(24 + 46 * Math.min(4, bars), document.getElementById("content").clientWidth / 3.9),
      ),
    );
    strip.show(
      await picture(each.rules, id, each.number, state.staves, width),
      `Line ${each.number}: ${each.notes ?? ""}`,
    );
  } catch (error) {
    if (error.name === "AbortError") return;
    ids.delete(JSON.stringify(each.rules));
    strip.replaceWith(h("p.help", {}, error.message));
  }
}

async function take(place, form, sheet) {
  place.disabled = true;
  say("Making the file…");
  try {
    const body = { lesson: plain(), format: form, staves: state.staves, sound: playerChoices(), sheet: { ...sheet, fretboard: state.fretboard } };
    keep(await postForFile("/api/lesson/take", body), `lesson.${form}`);
    say("The file is made.");
  } catch (error) {
    say(error.message);
  }
  place.disabled = false;
}

async function keepFile() {
  try {
    keep(
      new Blob([await postForText("/api/lesson/file", plain())], { type: "application/toml" }),
      "lesson.toml",
    );
  } catch (error) {
    say(error.message);
  }
}

async function load(file) {
  if (!file) return;
  try {
    if (file.size > 1_000_000) throw new Error(`${file.name} is larger than any lesson file.`);
    const found = await post("/api/lesson/read", { text: await file.text() });
    losing(lesson.items.length ? `${file.name} is open in place of the lesson before.` : null, () =>
      Object.assign(lesson, EMPTY, found),
    );
    say(`In the lesson: ${lines(found.items.length)}.`);
  } catch (error) {
    say(error.message);
  }
}

const empty = () => losing("The lesson is empty.", () => Object.assign(lesson, structuredClone(EMPTY)));

/** Do something by which lines are lost, so that it can be undone. */
function losing(words, act) {
  before = words ? { words, lesson: structuredClone(lesson) } : null;
  act();
  redraw();
}

function undo() {
  Object.assign(lesson, before.lesson);
  before = null;
  redraw();
}
