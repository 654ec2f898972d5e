// Controls for the rules of a plan and of its phrases, out of the same table as those of a rule file.

import { control, select } from "./controls.js";
import { button, h } from "./dom.js";
import { state } from "./state.js";

/** Rules that a phrase may have for itself, in the order in which they are shown. */
export const PHRASE_KEYS = [
  "approach.figures",
  "approach.count",
  "arpeggio.direction",
  "handoff.rule",
  "ending.use",
  "range.lowest",
  "range.highest",
  "entry.beats",
];
/** Rules for all phrases. */
export const SHARED_KEYS = [
  "range.instrument",
  "range.position",
  "approach.figures",
  "approach.count",
  "arpeggio.direction",
  "handoff.rule",
  "ending.use",
];

/** The control of a key of a plan, or of one of its phrases; `who` tells the two apart. */
export function planControl(who, path, tables, set) {
  const [section, name] = path.split(".");
  const label = `${who} ${path}`;
  const value = tables[section]?.[name];
  if (path === "range.instrument") {
    const known = state.vocabulary.instruments.map((each) => [each.name, each.title]);
    return select("Instrument", label, [["", "none named"], ...known], value ?? "", (each) =>
      set(path, each),
    );
  }
  const named = { "approach.figures": "figures", "ending.use": "endings" }[path];
  if (named) return names(label, path, named, value ?? [], set);
  const key = state.vocabulary.sections
    .find((each) => each.name === section)
    ?.keys.find((each) => each.name === name);
  return key ? control(label, key, value, (each) => set(path, each), null) : null;
}

/** Names out of a list that is too long to lay out: those in use, and one more. */
function names(label, path, kind, values, set) {
  const all = state.vocabulary[kind].map((each) => each.name);
  const known = kind === "endings" ? ["plain", ...all] : all;
  const words = kind === "figures" ? "Approach figures" : "Endings";
  const more = select(
    `${words}: one more`,
    label,
    [["", "choose"], ...known.filter((each) => !values.includes(each)).map((each) => [each, each])],
    "",
    (each) => each && set(path, [...values, each]),
  );
  const chips = values.map((each) =>
    button(
      `${each} ×`,
      () =>
        set(
          path,
          values.filter((one) => one !== each),
        ),
      { "aria-label": `Take ${each} out`, "data-key": `${label} ${each}` },
      "button.quiet",
    ),
  );
  return h(
    "div.names",
    {},
    more,
    h("div.row", {}, chips.length ? chips : h("span.help", {}, "as for all, or as usual")),
  );
}
