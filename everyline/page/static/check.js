// A student's line: typed, played on the screen or dropped as a file; what is wrong, and what is near.

import { address, post, postFile, withRules } from "./api.js";
import { fretboard, keyboard } from "./boards.js";
import { button, digits, field, h } from "./dom.js";
import { addLine } from "./lesson.js";
import { pictureWidth } from "./music.js";
import { go, state, untilChanged } from "./state.js";

const KINDS = { musicxml: "musicxml", xml: "musicxml", mxl: "mxl", mid: "mid", midi: "mid", smf: "mid" };
const LARGEST = 5_000_000;
const LENGTHS = [
  ["8", "eighth"],
  ["4", "quarter"],
  ["4.", "dotted quarter"],
  ["2", "half"],
  ["8t", "eighth triplet"],
  ["16", "sixteenth"],
];

let typed = "";

/** How wide the nearest lines are drawn: two columns where there is room. */
const wide = (place) =>
  pictureWidth(place.clientWidth > 860 ? place.clientWidth / 2 - 20 : place.clientWidth, state.summary.bars);

/** The page that checks. */
export function showCheck(place) {
  if (state.typed) {
    typed = state.typed;
    state.typed = "";
  }
  const area = h("textarea", {
    id: "typed",
    rows: "3",
    spellcheck: "false",
    oninput: () => (typed = area.value),
  });
  area.value = typed;
  const answer = h("div.answer", { "aria-live": "polite" });
  const length = h(
    "select",
    {},
    LENGTHS.map(([value, text]) => h("option", { value }, text)),
  );
  const put = (name) => {
    const token = length.value === "8" ? name : `${name}:${length.value}`;
    typed = area.value = `${area.value.trimEnd()} ${token}`.trim();
  };
  const boardPlace = h("div");
  const found = state.vocabulary.instruments.find((each) => each.name === state.summary.instrument);
  const guitar = state.vocabulary.instruments.find((each) => each.name === "guitar");
  const fretted = found ? (found.frets ? found : null) : guitar;
  const showBoard = (which) =>
    boardPlace.replaceChildren(which === "keys" ? keyboard(put) : fretboard(fretted ?? guitar, put));
  const which = h(
    "select",
    { onchange: () => showBoard(which.value) },
    h("option", { value: "frets" }, "a fretboard"),
    h("option", { value: "keys" }, "a keyboard"),
  );
  which.value = fretted ? "frets" : "keys";
  showBoard(which.value);
  const run = async () => {
    answer.replaceChildren(h("p", {}, "Checking…"));
    await show(answer, (id) =>
      post(`/api/rules/${id}/check`, { notes: area.value, nearest: 3, width: wide(answer) }, untilChanged()),
    );
  };
  const file = h("input", {
    type: "file",
    id: "line-file",
    class: "hidden-file",
    accept: ".musicxml,.xml,.mxl,.mid,.midi",
  });
  const drop = h(
    "div.drop",
    {},
    h("label.button-like", { for: "line-file" }, "Open a MusicXML or MIDI file"),
    file,
    h("span.help", {}, " or drop it here"),
  );
  const take = (given) => readFile(given, answer);
  file.onchange = () => {
    take(file.files[0]);
    file.value = "";
  };
  drop.addEventListener("dragover", (event) => {
    event.preventDefault();
    drop.classList.add("over-it");
  });
  drop.addEventListener("dragleave", () => drop.classList.remove("over-it"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over-it");
    take(event.dataTransfer.files[0]);
  });
  place.replaceChildren(
    h(
      "section.check",
      { "aria-label": "Check a line" },
      h("h2", {}, "Check a line"),
      h(
        "form.entry-tools",
        {
          onsubmit: (event) => {
            event.preventDefault();
            run();
          },
        },
        field(
          "The notes",
          area,
          "Pitches as they sound, eighths unless marked: D4 F4 A4 C5:4 r8 Bb4:4. Where lines may start on several beats, @2& in front says which.",
        ),
        h(
          "div.row",
          {},
          h("button.strong", { type: "submit" }, "Check it"),
          button(
            "Take the last note back",
            () => (typed = area.value = area.value.trim().replace(/\s*\S+$/, "")),
          ),
          button("Empty", () => (typed = area.value = ""), {}, "button.quiet"),
          h("div.field.inline", {}, h("label", { for: (length.id = "note-length") }, "Next note"), length),
          h("div.field.inline", {}, h("label", { for: (which.id = "board-kind") }, "Play it on"), which),
        ),
        boardPlace,
        drop,
      ),
      answer,
    ),
  );
  if (typed && state.typedNow) {
    state.typedNow = false;
    run();
  }
}

async function readFile(file, answer) {
  if (!file) return;
  const kind = KINDS[file.name.split(".").pop().toLowerCase()];
  const complain = (text) => answer.replaceChildren(h("p.trouble", { role: "alert" }, text));
  if (!kind)
    return complain(
      `${file.name}: a line is read from files that end in .musicxml, .xml, .mxl, .mid or .midi.`,
    );
  if (file.size > LARGEST) return complain(`${file.name} is larger than 5 megabytes, which no line needs.`);
  answer.replaceChildren(h("p", {}, `Reading ${file.name}…`));
  await show(answer, (id) =>
    postFile(address(`/api/rules/${id}/check/file`, { kind, width: wide(answer) }), file, untilChanged()),
  );
}

async function show(answer, ask) {
  const { tables, summary } = state;
  let found;
  try {
    found = await withRules(tables, summary.id, ask);
  } catch (error) {
    if (error.name !== "AbortError") answer.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
    return;
  }
  const strip = h("music-strip.large");
  const wrong = found.valid ? [] : ringed(found);
  answer.replaceChildren(
    verdict(found),
    found.remarks.length
      ? h(
          "ul.help",
          {},
          found.remarks.map((each) => h("li", {}, each)),
        )
      : "",
    found.picture ? strip : found.text ? h("p.notes", {}, found.text) : "",
    found.valid
      ? ""
      : h(
          "ol.breaches",
          {},
          found.breaches.map((each) =>
            h("li", {}, h("b", {}, `${each.place} (${each.rule}): `), each.message),
          ),
        ),
    found.valid ? "" : nearest(found),
  );
  if (found.picture) {
    const spoken = found.notes
      .map((note, place) => (wrong.includes(place) ? `${note.name} (to be changed)` : note.name))
      .join(" ");
    strip.show(found.picture, spoken);
    strip.mark(wrong, "wrong");
  }
}

/** The notes that the smallest correction changes; where there is none, those that break a rule. */
function ringed(found) {
  const near = [found.by_onset[0], found.by_order[0]]
    .filter(Boolean)
    .sort((one, other) => one.size - other.size)[0];
  if (near) return near.given;
  return [...new Set(found.breaches.map((each) => each.note).filter(Boolean))].map((each) => each - 1);
}

function verdict(found) {
  if (found.valid)
    return h(
      "div",
      {},
      h("p.verdict.good", {}, `It is a line: no. ${digits(found.number)} of ${digits(found.count)}.`),
      h(
        "div.row",
        {},
        button("Open it", () => go("line", { number: found.number })),
        button("Keep in the lesson", () =>
          addLine(state.tables, {
            number: found.number,
            notes: found.notes.map((each) => each.name).join(" "),
          }),
        ),
      ),
    );
  const many = found.breaches.length;
  const explained =
    found.explained && found.explained < found.notes.length
      ? ` The first ${found.explained} of ${found.notes.length} notes can be explained.`
      : "";
  return h(
    "p.verdict.bad",
    {},
    `Not a line under these rules: ${many} breach${many === 1 ? "" : "es"}.${explained}`,
  );
}

function nearest(found) {
  if (!found.by_onset.length) return h("p", {}, "No line satisfies these rules, so none is near.");
  return h(
    "div.near-columns",
    {},
    column("Nearest, note for note", found.by_onset),
    column("Nearest, with notes added or left out", found.by_order),
  );
}

const column = (title, list) =>
  h(
    "section",
    { "aria-label": title },
    h("h3", {}, title),
    list.map((each) => {
      const strip = h("music-strip");
      // The picture comes with the answer; it is drawn as soon as the strip stands in the page.
      queueMicrotask(() => {
        strip.show(each.picture, each.text);
        requestAnimationFrame(() => strip.isConnected && strip.mark(each.marked, "new"));
      });
      return h(
        "div.near",
        {},
        h("p", {}, h("b", {}, `No. ${digits(each.number)}`), `: ${each.summary}`),
        strip,
        h(
          "ul",
          {},
          each.words.map((words) => h("li", {}, words)),
        ),
        h(
          "div.row",
          {},
          button("Open it", () => go("line", { number: each.number }), {
            "aria-label": `Open line ${each.number}`,
          }),
        ),
      );
    }),
  );
