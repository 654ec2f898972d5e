// One line, the music large, what each note does, listening, taking it away.

import { address, get, getBlob, withRules } from "./api.js";
import { button, digits, focused, h, keep, printed, say, svg } from "./dom.js";
import { copied } from "./file.js";
import { fretboardChoice } from "./fretboard.js";
import { onLesson } from "./kept.js";
import { giveButton } from "./give.js";
import { keepButton } from "./keep-button.js";
import { Player, playerChoices } from "./listen.js";
import { pictureWidth } from "./music.js";
import { picture } from "./pictures.js";
import { go, state } from "./state.js";
import { spoken } from "./words.js";

const FORMS = [
  ["pdf", "PDF to print"],
  ["musicxml", "MusicXML"],
  ["mid", "MIDI"],
  ["wav", "Sound (WAV)"],
];

/** The page of one line; answers what to do when it is left. */
export function showOneLine(place) {
  const round = new AbortController();
  const body = h("div.one-line", {}, h("p", {}, "…"));
  // Whoever goes from line to line finds the same button under the finger.
  const stepped = focused()?.dataset?.step;
  place.replaceChildren(body);
  const view = { round, body, place, player: null };
  const forget = onLesson(() => body.querySelector(".keep")?.update());
  fill(view).then(
    () => stepped && body.querySelector(`[data-step="${stepped}"]`)?.focus({ preventScroll: true }),
  );
  return () => {
    round.abort();
    forget();
    view.player?.stop();
  };
}

async function fill(view) {
  const { tables, summary, number } = state;
  try {
    const line = await withRules(tables, summary.id, (id) =>
      get(`/api/rules/${id}/lines/${encodeURIComponent(number)}`, view.round.signal),
    );
    show(view, line);
  } catch (error) {
    if (error.name === "AbortError") return;
    view.body.replaceChildren(
      h("p.trouble", { role: "alert" }, error.message),
      button("To line 1", () => go("line", { number: "1" })),
    );
  }
}

function show(view, line) {
  const { tables, summary } = state;
  const strip = h("music-strip.large");
  const rows = noteRows(line, strip);
  const notes = table(rows);
  view.player = new Player(tables, summary.id, line.number, (index) => {
    strip.light(index);
    rows.forEach((row, place) => row.classList.toggle("now", place === index));
    if (index !== null) inSight(notes, rows[index]);
  });
  const limits = [
    h("h3", {}, "Limits it satisfies"),
    h(
      "ul",
      {},
      line.limits.map((text) => h("li", {}, text)),
    ),
  ];
  view.body.replaceChildren(
    heading(line),
    view.player.controls(),
    strip,
    h("div.row.under-music", {}, key(line), fretboardChoice()),
    h("section", { "aria-label": "Note by note" }, h("h3", {}, "Note by note"), notes),
    ...(line.limits.length ? limits : []),
    takeAway(line, summary.id, tables, view.place),
  );
  drawMusic(view, strip, line);
}

async function drawMusic(view, strip, line) {
  const { tables, summary, staves } = state;
  const notes = line.notes.map((note) => note.name).join(" ");
  const width = pictureWidth(view.body.clientWidth, summary.bars);
  try {
    const text = await picture(tables, summary.id, line.number, staves, width, strip);
    if (strip.isConnected) strip.show(text, `Line ${line.number}: ${notes}`);
  } catch (error) {
    if (error.name !== "AbortError")
      strip.replaceWith(h("p.notes", {}, notes), h("p.help", {}, error.message));
  }
}

/** Scroll the table, and nothing else, so that the row that sounds is seen. */
function inSight(table, row) {
  const above = row.offsetTop - table.scrollTop;
  if (above < 0 || above + row.offsetHeight > table.clientHeight)
    table.scrollTop = row.offsetTop - table.clientHeight / 3;
}

function heading(line) {
  const { tables } = state;
  const count = BigInt(line.count);
  const here = BigInt(line.number);
  const step = (by) => go("line", { number: String(here + by) });
  const copy = async () => {
    await copied(line.text);
    say("The notes are copied.");
  };
  const ending = line.ending === "plain" ? "plain ending" : `ending ${spoken(line.ending)}`;
  return h(
    "header.line-head",
    {},
    h("h2", {}, `No. ${digits(line.number)}`, h("span.help", {}, ` of ${digits(line.count)}`)),
    h("p.facts", {}, `${ending} · smoothness: ${line.roughness} (0 is smoothest)`),
    h(
      "div.row",
      {},
      button("Back to the lines", () => go("lines"), {}, "button.quiet"),
      button("Line before", () => step(-1n), { disabled: here <= 1n, "data-step": "-1" }),
      button("Next line", () => step(1n), { disabled: here >= count, "data-step": "1" }),
      keepButton(tables, line, ["Keep in the lesson", "Kept in the lesson"]),
      giveButton("Give to a student", () => [{ rules: tables, number: line.number, title: "" }]),
      button("Copy its notes", copy, { title: line.text }, "button.quiet"),
      button("Change it and check", () => go("check", { typed: line.text }), {}, "button.quiet"),
    ),
  );
}

/** The mark of a role, as it stands under the staff. */
export function markOf(role) {
  const mark = state.vocabulary.marks.find((each) => each.role === role);
  const made = svg("svg", {
    viewBox: "-110 -110 220 220",
    class: `role-mark ${role}`,
    "aria-hidden": "true",
  });
  if (mark) made.append(svg("path", { d: mark.path, class: mark.hollow ? "hollow" : "full" }));
  return made;
}

function key(line) {
  const there = new Set(line.notes.map((note) => note.role));
  return h(
    "ul.key",
    { "aria-label": "What the marks mean" },
    state.vocabulary.marks
      .filter((mark) => there.has(mark.role))
      .map((mark) => h("li", {}, markOf(mark.role), h("b", {}, mark.word), ` ${mark.meaning}`)),
  );
}

const beginning = (line, index) =>
  JSON.stringify(line.notes.slice(0, index + 1).map((note) => [note.tick, note.pitch, note.length]));

function noteRows(line, strip) {
  return line.notes.map((note, index) =>
    h(
      "tr",
      { onmouseenter: () => strip.light(index), onmouseleave: () => strip.light(null) },
      h("td", {}, note.bar > 0 ? `${note.bar}: ${note.beat}` : `pickup: ${note.beat}`),
      h("th", { scope: "row" }, note.name),
      h("td.role", {}, markOf(note.role), note.role),
      h("td", {}, `${note.degree.replaceAll("b", "♭").replaceAll("#", "♯")} of ${note.chord}`),
      h("td", {}, note.words),
      h("td.rule", {}, note.rule),
      h(
        "td",
        {},
        button(
          "Cut here",
          () => go("build", { begun: beginning(line, index) }),
          {
            "aria-label": `Keep the notes up to ${note.name}, note ${index + 1} and go on otherwise`,
            title: "Keep the notes up to this one and go on otherwise",
          },
          "button.quiet",
        ),
      ),
    ),
  );
}

const table = (rows) =>
  h(
    "div.scroll",
    { tabindex: "0", role: "region", "aria-label": "Table of the notes" },
    h(
      "table.notes",
      {},
      h(
        "thead",
        {},
        h(
          "tr",
          {},
          ["bar: beat", "note", "role", "degree", "what it does", "rule", "go on from here"].map((each) =>
            h("th", { scope: "col" }, each),
          ),
        ),
      ),
      h("tbody", {}, rows),
    ),
  );

function takeAway(line, id, tables, place) {
  return h(
    "section.take",
    { "aria-label": "Download" },
    h("h3", {}, "Download"),
    h(
      "div.row",
      {},
      FORMS.map(([form, words]) =>
        button(words, (event) => take(event.target, line, id, tables, form), { "data-form": form }),
      ),
      button("Print this page", () => printed(place), {}, "button.quiet"),
    ),
  );
}

async function take(place, line, id, tables, form) {
  place.disabled = true;
  try {
    const query = { ...playerChoices(), staves: state.staves, fretboard: state.fretboard };
    const path = (known) => address(`/api/rules/${known}/lines/${line.number}/take/${form}`, query);
    keep(
      await withRules(tables, id, (known) => getBlob(path(known))),
      `line-${line.number.slice(0, 40)}.${form}`,
    );
  } catch (error) {
    say(error.message);
  }
  place.disabled = false;
}
