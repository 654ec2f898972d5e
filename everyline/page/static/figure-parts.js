// The parts of the rules about approach figures and endings: long lists, in groups, each with an example.

import { post } from "./api.js";
import { counts } from "./counts.js";
import { h } from "./dom.js";
import { explained } from "./explain.js";
import { keyOf, keysPart } from "./keys.js";
import { Memory } from "./memory.js";
import { picker, pickTools } from "./picker.js";
import { at, change, changed, state, untilChanged } from "./state.js";
import { sameMembers } from "./tables.js";
import { countWords, spoken } from "./words.js";

const fewOf = (names) =>
  names.slice(0, 3).map(spoken).join(", ") + (names.length > 3 ? `… (${names.length})` : "");

// -- approach ------------------------------------------------------------------------------------------------

const FIGURE_COUNTS = ["0", "0-1", "1", "0-2", "1-2", "2"];

export function approachSays() {
  const many = (at("approach.count") ?? ["0-1"]).map(countWords).join(", then ");
  const figures = at("approach.figures");
  return `${many} a chord, ${figures ? fewOf(figures) : "every figure with two sides"}`;
}

export function approachPart(body) {
  body.append(counts("approach", FIGURE_COUNTS));
  const chosen = at("approach.figures");
  const usual = state.vocabulary.figures.filter((each) => each.both_sides).map((each) => each.name);
  const named = (values) => (sameMembers(values, usual) ? null : values);
  const key = keyOf("approach", "figures");
  const list = picker({
    legend: key.label,
    key: "approach.figures",
    choices: figureChoices(),
    values: chosen ?? usual,
    usual,
    set: (values) => change({ "approach.figures": named(values) }),
    change: (values) => ({ "approach.figures": named(values) }),
  });
  const tools = [
    ["Every figure with two sides", "figures usual", () => change({ "approach.figures": null }), chosen],
  ];
  body.append(explained("approach.figures", key, list), pickTools(tools));
  keysPart(body, "approach", ["targets", "reach", "after"]);
}

const NOTES = { 1: "One note", 2: "Two notes", 3: "Three notes", 4: "Four notes" };

function figureChoices() {
  const { figures, families } = state.vocabulary;
  const showing = (name) => ({ "approach.figures": [name], "approach.count": ["1"] });
  const roles = ["approach", "target"];
  const family = ({ name, members }) => ({
    value: name,
    words: spoken(name),
    note: `all ${members.length} enclosures of this length`,
    group: "Families",
    what: { label: spoken(name), what: `Any of: ${members.join("; ")}.`, show: showing(name), roles },
  });
  const figure = ({ name, steps, remark, notes }) => ({
    value: name,
    words: spoken(name),
    note: steps,
    group: NOTES[notes] ?? `${notes} notes`,
    what: { label: spoken(name), what: remark || steps, show: showing(name), roles },
  });
  const own = ({ name, steps, remark }) => ({
    value: name,
    words: spoken(name),
    note: steps,
    group: "Your own",
    what: { label: spoken(name), what: remark ?? "" },
  });
  return [...families.map(family), ...figures.map(figure), ...(state.tables.figures ?? []).map(own)];
}

// -- endings -------------------------------------------------------------------------------------------------

export function endingSays() {
  const use = at("ending.use");
  if (use) return fewOf(use);
  const many = state.summary?.endings.length;
  return `every ending that fits${many ? ` (${many})` : ""}`;
}

/** @type {Memory<any>} */
const free = new Memory(50);
// What was offered last stays until the new is known: nothing below it moves.
const seen = { endings: null };

export function endingPart(body) {
  const use = at("ending.use");
  const place = h("div.ending-list");
  const tools = [
    ["Every ending that fits", "endings all", () => change({ "ending.use": null }), use],
    [
      "The plain ending alone",
      "endings plain",
      () => change({ "ending.use": ["plain"] }),
      !sameMembers(use ?? [], ["plain"]),
    ],
  ];
  body.append(place, pickTools(tools));
  keysPart(body, "ending", ["lead_in"]);
  if (!use) seen.endings = state.summary?.endings ?? [];
  if (seen.endings) place.replaceChildren(endingList(seen.endings));
  if (use) fill(place);
}

/** Every ending that fits, whichever are in use. */
async function fill(place) {
  const tables = changed({ "ending.use": null });
  try {
    const found = await free.get(JSON.stringify(tables), () =>
      post("/api/rules", { tables }, untilChanged()),
    );
    seen.endings = found.endings;
  } catch {
    // The endings in use are offered all the same.
    seen.endings ??= state.summary?.endings ?? [];
  }
  if (place.isConnected) place.replaceChildren(endingList(seen.endings));
}

function endingList(fitting) {
  const use = at("ending.use");
  const names = [...new Set([...fitting.map((each) => each.name), ...(use ?? [])])];
  const starts = new Map(fitting.map((each) => [each.name, each.starts]));
  const all = (values) => (values.length === names.length ? null : values);
  const key = keyOf("ending", "use");
  const list = picker({
    legend: key.label,
    key: "ending.use",
    choices: names
      .map((name) => endingChoice(name, starts.get(name)))
      .sort((one, other) => one.group.localeCompare(other.group)),
    values: use ?? names,
    usual: names,
    set: (values) => change({ "ending.use": all(values) }),
    change: (values) => ({ "ending.use": all(values) }),
  });
  return explained("ending.use", key, list);
}

function endingChoice(name, starts) {
  const stock = state.vocabulary.endings.find((each) => each.name === name);
  const roles = ["ending"];
  const show = { "ending.use": [name] };
  if (!stock) {
    const plain = name === "plain";
    const what = plain ? "The line rests on the first note of the last chord." : "An ending of your own.";
    return {
      value: name,
      words: spoken(name),
      note: starts ?? "",
      group: plain ? "Plain" : "Your own",
      what: { label: spoken(name), what, show: plain ? show : null, roles: [] },
    };
  }
  return {
    value: name,
    words: spoken(name),
    note: [stock.notes, starts].filter(Boolean).join(" · "),
    group: `Rests on the ${stock.resolves_to}`,
    what: { label: spoken(name), what: `${stock.remark} ${stock.notes}, ${stock.rhythm}.`, show, roles },
  };
}
