// The parts of the rules about the tune: chord changes, instrument and range.

import { select, written } from "./controls.js";
import { explained } from "./explain.js";
import { h } from "./dom.js";
import { progressionOf } from "./first-rules.js";
import { keyOf, keysPart } from "./keys.js";
import { at, change, state } from "./state.js";

const BEAT_PARTS = [
  ["1", "quarters"],
  ["2", "eighths"],
  ["3", "triplets"],
  ["4", "sixteenths"],
];
const DOTTED_PARTS = [
  ["1", "dotted quarters"],
  ["2", "dotted eighths, two to a beat"],
  ["3", "eighths"],
  ["6", "sixteenths"],
];
const BEATS = [
  ["", "the lower figure of the time signature"],
  ["4.", "the dotted quarter"],
];

export function musicSays() {
  const key = at("key") ? ` in ${at("key")}` : "";
  return `${at("changes") ?? ""}${key}, ${at("meter") ?? "4/4"}`;
}

export function musicPart(body) {
  body.append(progressionChoice(), explained("changes", keyOf("", "changes"), changesField()));
  keysPart(body, "", ["key", "meter"]);
  const dotted = at("beat") === "4.";
  body.append(beatChoice(dotted));
  const usual = dotted ? "3" : "2";
  const subdivision = select(
    "A beat is divided into",
    "subdivision",
    dotted ? DOTTED_PARTS : BEAT_PARTS,
    String(at("subdivision") ?? usual),
    (value) => change({ subdivision: value === usual ? null : Number(value) }),
  );
  // Rhythm cells divide the beat themselves.
  if (at("rhythm.cells")) subdivision.setAttribute("inert", "");
  body.append(explained("subdivision", keyOf("", "subdivision"), subdivision));
  keysPart(body, "", ["title"]);
}

/** Whether eighths go in threes in a meter, so that its beat may be a dotted quarter. Said here too, since the choice
 * opens at once, before the rules are counted. */
function inThrees(meter) {
  const [count, unit] = meter.split("/").map(Number);
  return unit === 8 && count % 3 === 0;
}

/** Which note value is felt as the beat; another beat has other parts. */
function beatChoice(dotted) {
  const key = keyOf("", "beat");
  const set = (beat) => change({ beat, subdivision: null });
  const choice = select(key.label, "beat", BEATS, dotted ? "4." : "", set);
  if (!at("beat") && !inThrees(at("meter") ?? "4/4")) choice.setAttribute("inert", "");
  return explained("beat", key, choice);
}

/** A progression of the corpora, or one's own. */
export function progressionChoice(words = "A progression", key = "progression") {
  const { progressions } = state.vocabulary;
  const found = progressionOf(state.tables, progressions);
  const options = progressions.map((each) => [each.name, `${each.title} (${each.key})`]);
  return select(words, key, [["", "my own"], ...options], found?.name, (name) => {
    const chosen = progressions.find((each) => each.name === name);
    if (!chosen) return;
    const { changes, key, meter } = chosen;
    change({ changes, key, meter: meter === "4/4" ? null : meter, beat: null });
  });
}

/** The chord changes as text. */
export function changesArea(attributes) {
  const area = h("textarea", { spellcheck: "false", ...attributes });
  area.value = area.defaultValue = at("changes") ?? "";
  const use = () => change({ changes: area.value.trim() });
  area.addEventListener("change", use);
  area.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.shiftKey) return;
    event.preventDefault();
    use();
  });
  return area;
}

function changesField() {
  const rows = Math.min(6, Math.max(2, Math.ceil((at("changes") ?? "").length / 38)));
  const area = changesArea({ rows, "data-key": "changes", id: "changes" });
  return h(
    "div.field",
    {},
    h("label", { for: "changes" }, "The chord changes"),
    area,
    h("span.help", {}, "| is a bar line, % repeats a bar, / holds a chord. Numerals such as ii7 need a key."),
  );
}

// -- range ---------------------------------------------------------------------------------------------------

/** The instrument that the range is of: a position or strings alone mean the guitar. */
export function rangeInstrument(range) {
  const name = range.instrument ?? (range.position === undefined && !range.strings ? undefined : "guitar");
  return state.vocabulary.instruments.find((each) => each.name === name);
}

export function rangeSays() {
  const range = state.tables.range ?? {};
  const chosen = rangeInstrument(range);
  if (!chosen) return `${range.lowest ?? "E3"} to ${range.highest ?? "E5"}`;
  const place = range.position === undefined ? "" : `, position ${range.position}`;
  const narrowed = [range.lowest && `from ${range.lowest}`, range.highest && `up to ${range.highest}`]
    .filter(Boolean)
    .join(" ");
  return `${chosen.title}${place}${narrowed ? `, ${narrowed}` : ""}`;
}

export function rangePart(body) {
  const chosen = rangeInstrument(state.tables.range ?? {});
  body.append(explained("range.instrument", keyOf("range", "instrument"), instrumentChoice(chosen)));
  rangeEnds(body, chosen);
  const frets = h("div.fretted", { role: "group", "aria-label": "For instruments with frets" });
  keysPart(frets, "range", ["position", "span", "strings"]);
  // Always there, so that another instrument moves no control.
  if (!chosen?.frets) frets.setAttribute("inert", "");
  body.append(frets);
}

/** The lowest and the highest note: the range itself, or what narrows the instrument's. */
function rangeEnds(body, chosen) {
  const range = state.tables.range ?? {};
  const [lowest, highest] = chosen
    ? range.position === undefined
      ? chosen.comfortable
      : ["", ""]
    : ["E3", "E5"];
  const usual = { lowest, highest };
  const both = (value) =>
    chosen || !value
      ? {}
      : { "range.lowest": range.lowest ?? lowest, "range.highest": range.highest ?? highest };
  for (const name of ["lowest", "highest"]) {
    const key = keyOf("range", name);
    const path = `range.${name}`;
    const set = (value) =>
      change({ ...(chosen || value ? {} : { range: null }), ...both(value), [path]: value });
    body.append(explained(path, key, written(key.label, path, range[name], set, { example: usual[name] })));
  }
}

/** An instrument by its family; ``none`` are the words for a range without one. */
export function instrumentChoice(
  chosen,
  words = "Instrument",
  key = "range.instrument",
  none = "none: two pitches",
) {
  const { instruments } = state.vocabulary;
  const families = [...new Set(instruments.map((each) => each.family))];
  const set = (name) => change({ range: null, ...(name ? { "range.instrument": name } : {}) });
  const choose = select(words, key, [["", none]], "", set);
  const place = choose.querySelector("select");
  for (const family of families) {
    const here = instruments.filter((each) => each.family === family);
    place.append(
      h(
        "optgroup",
        { label: family },
        here.map((each) => h("option", { value: each.name }, each.title)),
      ),
    );
  }
  place.value = chosen?.name ?? "";
  return choose;
}
