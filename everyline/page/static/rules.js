// The rules, part by part: each part says in a sentence what holds, and opens to be changed.

import { get, post } from "./api.js";
import { facets } from "./choices.js";
import { anyOf, control, select, written } from "./controls.js";
import { counts } from "./counts.js";
import { button, h, redrawing } from "./dom.js";
import { limitsPart } from "./limits.js";
import { ownPart } from "./own.js";
import {
  at,
  canRedo,
  canUndo,
  change,
  changed,
  on,
  redo,
  setTables,
  state,
  undo,
  untilChanged,
} from "./state.js";
import { countWords } from "./words.js";

const PARTS = [
  ["music", "Changes", musicPart, musicSays],
  ["range", "Range", rangePart, rangeSays],
  ["entry", "First note", entryPart, entrySays],
  ["arpeggio", "Arpeggios", (part) => keysPart(part, "arpeggio"), arpeggioSays],
  ["passing", "Passing notes", passingPart, passingSays],
  ["approach", "Approach notes", approachPart, approachSays],
  [
    "handoff",
    "Into the next chord",
    (part) => keysPart(part, "handoff"),
    () => chosenWords("handoff", "rule"),
  ],
  ["rhythm", "Rhythm", (part) => keysPart(part, "rhythm"), rhythmSays],
  ["ending", "Ending", endingPart, endingSays],
  ["limit", "Limits", limitsPart, limitSays],
  ["own", "Own figures, endings, scales", ownPart, ownSays],
  ["roughness", "Roughness", (part) => keysPart(part, "roughness"), roughnessSays],
];

const { open } = state;

/** Build the rules, and build them anew whenever they change. */
export function setUpRules(place) {
  if (matchMedia("(min-width: 62rem)").matches) ["music", "approach"].forEach((each) => open.add(each));
  on("rules", () => draw(place));
  on("view", () => draw(place));
}

/** Bring the rules into sight. */
export const showRules = () => document.getElementById("rules").scrollIntoView();

function draw(place) {
  redrawing(place, () => place.replaceChildren(head(), startFrom(), ...PARTS.map((each) => part(...each))));
}

const head = () =>
  h(
    "div.rules-head",
    {},
    h("h2", {}, "The rules"),
    button("Undo", undo, { disabled: !canUndo(), "data-key": "undo", title: "Ctrl+Z" }, "button.quiet"),
    button("Redo", redo, { disabled: !canRedo(), "data-key": "redo", title: "Ctrl+Shift+Z" }, "button.quiet"),
  );

function part(name, title, fill, says) {
  const body = h("div.part-body");
  const made = h(
    "details.part",
    { open: open.has(name), id: `part-${name}` },
    h(
      "summary",
      { "data-key": `part ${name}` },
      h("span.part-title", {}, title),
      " ",
      h("span.part-says", {}, says()),
    ),
    body,
  );
  if (open.has(name)) fill(body);
  made.addEventListener("toggle", () => {
    if (made.open === open.has(name)) return;
    if (made.open) open.add(name);
    else open.delete(name);
    body.replaceChildren();
    if (made.open) fill(body);
  });
  return made;
}

function startFrom() {
  const { vocabulary } = state;
  const files = h(
    "select",
    { id: "begin-file", "data-key": "begin-file" },
    h("option", { value: "" }, "choose"),
    [1, 2, 3, 4, 5, null].map((level) => {
      const found = vocabulary.rulefiles.filter((each) => each.level === level);
      const label = level ? `Level ${level}` : "More";
      return found.length
        ? h(
            "optgroup",
            { label },
            found.map((each) => h("option", { value: each.name, title: each.remark }, each.title)),
          )
        : null;
    }),
  );
  files.onchange = async () => {
    if (!files.value) return;
    const found = await get(`/api/corpus/rules/${encodeURIComponent(files.value)}`);
    setTables(found.tables);
  };
  return h("div.field", {}, h("label", { for: "begin-file" }, "Begin with a lesson's rules"), files);
}

/** The value of a key with a few words to choose from, as a player would say it. */
function chosenWords(table, name) {
  const key = section(table).keys.find((each) => each.name === name);
  const value = at(`${table}.${name}`) ?? key.default;
  const said = [value].flat().map((each) => key.choices.find(([choice]) => choice === each)?.[1] ?? each);
  return said.join(", ");
}

const section = (name) => state.vocabulary.sections.find((each) => each.name === name);
const setter = (path) => (value) => change({ [path]: value });
const changer = (path) => (value) => ({
  [path]: value === "" || (Array.isArray(value) && !value.length) ? null : value,
});

function keysPart(body, name, only = null) {
  for (const key of section(name).keys) {
    if (only && !only.includes(key.name)) continue;
    const path = name ? `${name}.${key.name}` : key.name;
    body.append(control(path, key, at(path), setter(path), name === "roughness" ? null : changer(path)));
  }
}

// -- changes -------------------------------------------------------------------------------------------------

function musicSays() {
  const key = at("key") ? ` in ${at("key")}` : "";
  return `${at("changes") ?? ""}${key}, ${at("meter") ?? "4/4"}`;
}

function musicPart(body) {
  const { vocabulary } = state;
  const found = vocabulary.progressions.find((each) => each.changes === at("changes"));
  const choose = select(
    "A progression",
    "progression",
    [["", "my own"], ...vocabulary.progressions.map((each) => [each.name, `${each.title} (${each.key})`])],
    found?.name,
    (name) => {
      const chosen = vocabulary.progressions.find((each) => each.name === name);
      if (!chosen) return;
      change({
        changes: chosen.changes,
        key: chosen.key,
        meter: chosen.meter === "4/4" ? null : chosen.meter,
      });
    },
  );
  const area = h("textarea", {
    rows: Math.min(6, Math.max(2, Math.ceil((at("changes") ?? "").length / 38))),
    "data-key": "changes",
    spellcheck: "false",
    id: "changes",
  });
  area.value = area.defaultValue = at("changes") ?? "";
  area.addEventListener("change", () => change({ changes: area.value.trim() }));
  area.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.shiftKey) {
      event.preventDefault();
      change({ changes: area.value.trim() });
    }
  });
  body.append(
    choose,
    h(
      "div.field",
      {},
      h("label", { for: "changes" }, "The chord changes"),
      area,
      h(
        "span.help",
        {},
        "| is a bar line, % repeats a bar, / holds a chord. Numerals such as ii7 need a key.",
      ),
    ),
  );
  keysPart(body, "", ["title", "key", "meter"]);
  // Rhythm cells divide the beat themselves.
  if (at("rhythm.cells")) return;
  const subdivision = at("subdivision") ?? 2;
  body.append(
    select(
      "A beat is divided into",
      "subdivision",
      [
        ["1", "quarters"],
        ["2", "eighths"],
        ["3", "triplets"],
        ["4", "sixteenths"],
      ],
      String(subdivision),
      (value) => change({ subdivision: value === "2" ? null : Number(value) }),
    ),
  );
}

// -- range, entry --------------------------------------------------------------------------------------------

/** The instrument that the range is of: a position or strings alone mean the guitar. */
function rangeInstrument(range) {
  const name = range.instrument ?? (range.position === undefined && !range.strings ? undefined : "guitar");
  return state.vocabulary.instruments.find((each) => each.name === name);
}

function rangeSays() {
  const range = state.tables.range ?? {};
  const chosen = rangeInstrument(range);
  if (!chosen) return `${range.lowest ?? "E3"} to ${range.highest ?? "E5"}`;
  const place = range.position === undefined ? "" : `, position ${range.position}`;
  const narrowed = [range.lowest && `from ${range.lowest}`, range.highest && `up to ${range.highest}`]
    .filter(Boolean)
    .join(" ");
  return `${chosen.title}${place}${narrowed ? `, ${narrowed}` : ""}`;
}

function rangePart(body) {
  const range = state.tables.range ?? {};
  const chosen = rangeInstrument(range);
  body.append(instrumentChoice(chosen));
  if (chosen?.frets)
    keysPart(body, "range", ["position", "strings", ...(range.position === undefined ? [] : ["span"])]);
  rangeEnds(body, range, chosen);
}

function instrumentChoice(chosen) {
  const { instruments } = state.vocabulary;
  const families = [...new Set(instruments.map((each) => each.family))];
  const choose = select("Instrument", "range.instrument", [["", "none: two pitches"]], "", (name) =>
    change({ range: null, ...(name ? { "range.instrument": name } : {}) }),
  );
  const place = choose.querySelector("select");
  place.append(
    ...families.map((family) =>
      h(
        "optgroup",
        { label: family },
        instruments
          .filter((each) => each.family === family)
          .map((each) => h("option", { value: each.name }, each.title)),
      ),
    ),
  );
  place.value = chosen?.name ?? "";
  return choose;
}

/** The lowest and the highest note. Without an instrument the two go together; with one, each narrows it. */
function rangeEnds(body, range, chosen) {
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
  for (const name of ["lowest", "highest"])
    body.append(
      written(
        `The ${name} note`,
        `range.${name}`,
        range[name],
        (value) =>
          change({ ...(chosen || value ? {} : { range: null }), ...both(value), [`range.${name}`]: value }),
        {
          example: usual[name],
          help: chosen && name === "lowest" ? "Empty: as the instrument or the position has it." : null,
        },
      ),
    );
}

function entrySays() {
  const entry = state.tables.entry ?? {};
  const said = [];
  if (entry.beats || !entry.pickup) said.push(`beat ${(entry.beats ?? ["1"]).join(", ")}`);
  if (entry.pickup) said.push(`pickup of ${entry.pickup.join(", ")}`);
  if (entry.start) said.push(`on ${entry.start.join(", ")}`);
  if (entry.degrees) said.push(`on ${entry.degrees.join(", ")}`);
  return said.join(", ");
}

function entryPart(body) {
  keysPart(body, "entry", ["beats", "pickup"]);
  const notes = h("div");
  body.append(notes);
  startNotes(notes);
  keysPart(body, "entry", ["degrees"]);
}

/** First notes that some line has, each with its count. */
async function startNotes(place) {
  const start = at("entry.start") ?? [];
  const free = changed({ "entry.start": null });
  try {
    const found = await facets(["start-note"], free);
    const values = found[0]?.values ?? [];
    const labels = values.map((each) => each.label);
    place.replaceChildren(
      anyOf(
        "What the first note may be",
        "entry.start",
        [
          ...values.map((each) => [each.label, each.label]),
          ...start.filter((each) => !labels.includes(each)).map((each) => [each, each]),
        ],
        start,
        setter("entry.start"),
        changer("entry.start"),
        "None chosen: any of them.",
      ),
    );
  } catch {
    place.replaceChildren(
      written("What the first note may be", "entry.start", start.join(" "), (text) =>
        change({ "entry.start": text?.split(/[\s,]+/) ?? null }),
      ),
    );
  }
}

function arpeggioSays() {
  const keys = section("arpeggio").keys;
  const [turns, skips] = ["turns", "skips"].map(
    (name) => at(`arpeggio.${name}`) ?? keys.find((each) => each.name === name).default,
  );
  const several = (count, word) =>
    count ? `up to ${count} ${word}${count > 1 ? "s" : ""} in a run` : `no ${word}s`;
  return [
    chosenWords("arpeggio", "direction"),
    several(turns, "turn"),
    skips ? several(skips, "skipped chord tone") : null,
  ]
    .filter(Boolean)
    .join(", ");
}

// -- passing notes, rhythm -----------------------------------------------------------------------------------

function passingSays() {
  return at("passing.kinds")
    ? `${chosenWords("passing", "kinds")}, ${chosenWords("passing", "place")}`
    : "none";
}

function passingPart(body) {
  keysPart(body, "passing", at("passing.kinds") ? ["kinds", "place"] : ["kinds"]);
  if (at("passing.kinds"))
    body.append(
      counts("passing", "How many moves are filled with passing notes", [
        "0",
        "0-1",
        "1",
        "0-2",
        "1-2",
        "0-99",
      ]),
    );
}

function rhythmSays() {
  const chosen = at("rhythm.cells");
  return chosen
    ? chosen.map((each) => state.vocabulary.cells[each] ?? each).join("; ")
    : "a note on every part of the beat";
}

// -- approach ------------------------------------------------------------------------------------------------

function approachSays() {
  const counts = at("approach.count") ?? ["0-1"];
  const figures = at("approach.figures");
  return `${counts.map(countWords).join(", then ")} a chord, ${figures ? figures.slice(0, 3).join(", ") + (figures.length > 3 ? "…" : "") : "every figure with two sides"}`;
}

function approachPart(body) {
  body.append(
    counts("approach", "How many figures start in each chord", ["0", "0-1", "1", "0-2", "1-2", "2"]),
  );
  const { vocabulary, summary } = state;
  const chosen = at("approach.figures");
  const usual = vocabulary.figures.filter((each) => each.both_sides).map((each) => each.name);
  const own = (state.tables.figures ?? []).map((each) => [each.name, each.name, each.steps]);
  const options = [
    ...vocabulary.families.map((each) => [
      each.name,
      `${each.name} (${each.members.length})`,
      each.members.join("; "),
    ]),
    ...vocabulary.figures.map((each) => [each.name, each.name, each.steps]),
    ...own,
  ];
  body.append(
    anyOf(
      "Figures and families of figures",
      "approach.figures",
      options,
      chosen ?? usual,
      (values) => change({ "approach.figures": same(values, usual) ? null : values }),
      (values) => ({ "approach.figures": values.length && !same(values, usual) ? values : null }),
      chosen ? null : "As long as none is named: every figure of the catalogue that has both sides.",
    ),
  );
  if (chosen)
    body.append(
      button(
        "Back to every figure with both sides",
        () => change({ "approach.figures": null }),
        { "data-key": "figures usual" },
        "button.quiet",
      ),
    );
  keysPart(body, "approach", ["targets", "reach", "after"]);
  if (summary && summary.figures.length)
    body.append(h("p.help", {}, `Figures in use: ${summary.figures.length}.`));
}

const same = (one, other) => one.length === other.length && one.every((each) => other.includes(each));
// -- ending, sentences ---------------------------------------------------------------------------------------

function endingSays() {
  const use = at("ending.use");
  const many = state.summary?.endings.length;
  return use
    ? use.slice(0, 3).join(", ") + (use.length > 3 ? `… (${use.length})` : "")
    : `every ending that fits${many ? ` (${many})` : ""}`;
}

async function endingPart(body) {
  keysPart(body, "ending", ["lead_in"]);
  const use = at("ending.use");
  const place = h("div", {}, h("p.help", {}, "Looking for endings that fit…"));
  body.append(place);
  let fitting = state.summary?.endings ?? [];
  if (use) {
    try {
      fitting = (await post("/api/rules", { tables: changed({ "ending.use": null }) }, untilChanged()))
        .endings;
    } catch {
      // The endings in use are offered all the same.
    }
  }
  const stock = new Map(
    state.vocabulary.endings.map((each) => [each.name, `${each.notes} (${each.rhythm}). ${each.remark}`]),
  );
  const names = [...new Set([...fitting.map((each) => each.name), ...(use ?? [])])];
  const starts = new Map(fitting.map((each) => [each.name, each.starts]));
  const options = names.map((name) => [
    name,
    name,
    `${stock.get(name) ?? ""} ${starts.get(name) ?? ""}`.trim(),
  ]);
  const all = (values) => (values.length === names.length ? null : values);
  place.replaceChildren(
    anyOf(
      "Endings in use",
      "ending.use",
      options,
      use ?? names,
      (values) => change({ "ending.use": all(values) }),
      (values) => ({ "ending.use": values.length ? all(values) : null }),
    ),
    h(
      "div.steps",
      {},
      use
        ? button(
            "Every ending that fits",
            () => change({ "ending.use": null }),
            { "data-key": "endings all" },
            "button.quiet",
          )
        : null,
      button(
        "The plain ending alone",
        () => change({ "ending.use": ["plain"] }),
        { "data-key": "endings plain" },
        "button.quiet",
      ),
    ),
    h(
      "dl.starts",
      {},
      fitting
        .filter((each) => !use || use.includes(each.name))
        .map((each) => [h("dt", {}, each.name), h("dd", {}, each.starts)]),
    ),
  );
}

function limitSays() {
  const limits = state.tables.limit ?? [];
  return limits.length ? limits.map((each) => each.kind).join(", ") : "none";
}

function ownSays() {
  const { figures = [], endings = [], scales = {} } = state.tables;
  const said = [...figures, ...endings]
    .map((each) => each.name)
    .concat(Object.keys(scales).map((each) => `scale of ${each}`));
  return said.join(", ") || "none";
}

function roughnessSays() {
  return Object.keys(state.tables.roughness ?? {}).length ? "weights of your own" : "as usual";
}
