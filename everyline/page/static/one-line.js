// One line, the music large, what each note does, listening, taking it away.

import { address, get, withRules } from "./api.js";
import { button, digits, h, keep, say } from "./dom.js";
import { copied } from "./file.js";
import { fretboardChoice } from "./fretboard.js";
import { addLine, isKept } from "./lesson.js";
import { picture } from "./lines.js";
import { Player, playerChoices } from "./listen.js";
import { pictureWidth } from "./music.js";
import { go, state } from "./state.js";

const FORMS = [
  ["pdf", "PDF to print"],
  ["musicxml", "MusicXML"],
  ["mid", "MIDI"],
  ["wav", "Sound (WAV)"],
];

let stepped = null;

/** The page of one line; answers what to do when it is left. */
export function showOneLine(place) {
  const round = new AbortController();
  const body = h("div.one-line", {}, h("p", {}, "…"));
  place.replaceChildren(body);
  let player = null;
  fill(body, round.signal, (made) => (player = made));
  return () => {
    round.abort();
    player?.stop();
  };
}

async function fill(body, signal, playing) {
  const { tables, summary, number, staves } = state;
  let line;
  try {
    line = await withRules(tables, summary.id, (id) =>
      get(`/api/rules/${id}/lines/${encodeURIComponent(number)}`, signal),
    );
  } catch (error) {
    if (error.name === "AbortError") return;
    body.replaceChildren(
      h("p.trouble", { role: "alert" }, error.message),
      button("To line 1", () => go("line", { number: "1" })),
    );
    return;
  }
  const strip = h("music-strip.large");
  const notes = line.notes.map((note) => note.name).join(" ");
  const cells = noteRows(line, strip);
  const player = new Player(tables, summary.id, line.number, (index) => {
    strip.light(index);
    cells.forEach((row, place) => row.classList.toggle("now", place === index));
  });
  playing(player);
  body.replaceChildren(
    heading(line),
    strip,
    h("div.row.under-music", {}, key(line), fretboardChoice()),
    player.controls(),
    h(
      "div.line-columns",
      {},
      h(
        "section",
        { "aria-label": "In words" },
        h("h3", {}, "In words"),
        line.explanation.map((text) => h("p", {}, text)),
        line.limits.length
          ? [
              h("h3", {}, "Limits it satisfies"),
              h(
                "ul",
                {},
                line.limits.map((text) => h("li", {}, text)),
              ),
            ]
          : null,
      ),
      h("section", { "aria-label": "Note by note" }, h("h3", {}, "Note by note"), table(cells)),
    ),
    takeAway(line, summary.id, tables),
  );
  // Whoever goes from line to line finds the same button under the finger.
  if (stepped) body.querySelector(`[data-step="${stepped}"]`).focus({ preventScroll: true });
  stepped = null;
  const width = pictureWidth(body.clientWidth, summary.bars);
  picture(tables, summary.id, line.number, staves, width).then(
    (text) => strip.isConnected && strip.show(text, `Line ${line.number}: ${notes}`),
    (error) =>
      error.name !== "AbortError" &&
      strip.replaceWith(h("p.notes", {}, notes), h("p.help", {}, error.message)),
  );
}

function heading(line) {
  const { tables } = state;
  const count = BigInt(line.count);
  const here = BigInt(line.number);
  const kept = isKept(tables, line.number);
  const step = (by) => {
    stepped = by;
    go("line", { number: String(here + by) });
  };
  return h(
    "header.line-head",
    {},
    h("h2", {}, `No. ${digits(line.number)}`, h("span.help", {}, ` of ${digits(line.count)}`)),
    h(
      "p.facts",
      {},
      `${line.ending === "plain" ? "plain ending" : `ending ${line.ending}`} · roughness ${line.roughness}`,
    ),
    h(
      "div.row",
      {},
      button("Back to the lines", () => go("lines"), {}, "button.quiet"),
      button("Line before", () => step(-1n), { disabled: here <= 1n, "data-step": "-1" }),
      button("Next line", () => step(1n), { disabled: here >= count, "data-step": "1" }),
      button(
        kept ? "Kept in the lesson" : "Keep in the lesson",
        (event) => {
          addLine(tables, line);
          event.target.textContent = "Kept in the lesson";
        },
        {},
        "button.strong",
      ),
      button(
        "Copy its notes",
        async () => {
          await copied(line.text);
          say("The notes are copied.");
        },
        { title: line.text },
        "button.quiet",
      ),
      button("Change it and check", () => go("check", { typed: line.text }), {}, "button.quiet"),
    ),
  );
}

const svg = (tag, attributes) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
};

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
          ["bar: beat", "note", "role", "degree", "what it does", "rule", "go on otherwise"].map((each) =>
            h("th", { scope: "col" }, each),
          ),
        ),
      ),
      h("tbody", {}, rows),
    ),
  );

function takeAway(line, id, tables) {
  return h(
    "section.take",
    { "aria-label": "Download" },
    h("h3", {}, "Download"),
    h(
      "div.row",
      {},
      FORMS.map(([form, words]) =>
        button(
          words,
          async (event) => {
            const place = event.target;
            place.disabled = true;
            try {
              const query = { ...playerChoices(), staves: state.staves, fretboard: state.fretboard };
              const blob = await withRules(tables, id, async (known) => {
                const answer = await fetch(
                  address(`/api/rules/${known}/lines/${line.number}/take/${form}`, query),
                );
                if (answer.ok) return answer.blob();
                const error = new Error((await answer.json()).error);
                error.status = answer.status;
                throw error;
              });
              keep(blob, `line-${line.number.slice(0, 40)}.${form}`);
            } catch (error) {
              say(error.message);
            }
            place.disabled = false;
          },
          { "data-form": form },
        ),
      ),
      button("Print this page", () => print(), {}, "button.quiet"),
    ),
  );
}
