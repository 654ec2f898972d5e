// Limits: what a teacher adds. A list of all kinds with what each would leave, and one card for each in use.

import { count } from "./choices.js";
import { control } from "./controls.js";
import { button, h } from "./dom.js";
import { explained } from "./explain.js";
import { change, state } from "./state.js";
import { replaced, withKey } from "./tables.js";

const kindOf = (name) => state.vocabulary.limits.find((each) => each.kind === name);
const limits = () => state.tables.limit ?? [];
const asChange = (values) => ({ limit: values.length ? values : null });

export const limitSays = () =>
  limits()
    .map((each) => kindOf(each.kind)?.title ?? each.kind)
    .join(", ") || "none";

/** The part of the rules with the limits. Cards come after the list, so that a new one moves nothing. */
export function limitsPart(body) {
  body.append(
    h(
      "section.limit-kinds",
      { "aria-label": "Add a limit" },
      h("h4", {}, "Add a limit"),
      state.vocabulary.limits.map(kindRow),
    ),
    ...limits().map(card),
  );
}

function card(limit, place) {
  const kind = kindOf(limit.kind);
  const title = kind?.title ?? limit.kind;
  const made = h(
    "section.limit",
    { "aria-label": title },
    h("h4", {}, title),
    h("p.help", {}, kind?.summary),
  );
  for (const key of kind?.keys ?? []) {
    const next = (value) => asChange(replaced(limits(), place, withKey(limit, key.name, value)));
    made.append(
      control(`limit ${place} ${key.name}`, key, limit[key.name], (value) => change(next(value)), next),
    );
  }
  const without = asChange(limits().filter((_, index) => index !== place));
  const leaves = h("span.leaves");
  count(leaves, without);
  made.append(
    button(
      ["Take it out", leaves],
      () => change(without),
      { "data-key": `limit ${place} out` },
      "button.chip",
    ),
  );
  return made;
}

function kindRow(kind) {
  const leaves = h("span.leaves");
  const added = asChange([...limits(), fitted(kind.example)]);
  count(leaves, added);
  const what = {
    label: kind.title,
    what: `${kind.summary} Begins with: ${worded(fitted(kind.example))}.`,
    show: { limit: [kind.example], ...kind.show },
  };
  const row = button(
    [h("span", {}, kind.title), leaves],
    () => change(added),
    { "data-key": `limit add ${kind.kind}` },
    "button.chip.wide",
  );
  return explained(`limit ${kind.kind}`, what, row);
}

/** The table's example of a limit, for these changes: a chord that does not occur gives way to the first. */
function fitted(example) {
  const symbols = (state.summary?.chords ?? []).map((each) => each.symbol);
  if (!("chord" in example) || symbols.includes(example.chord) || !symbols.length) return { ...example };
  return { ...example, chord: symbols[0] };
}

const worded = (limit) =>
  Object.entries(limit)
    .filter(([key]) => key !== "kind")
    .map(([key, value]) => `${key} ${Array.isArray(value) ? value.join(" ") : value}`)
    .join(", ") || "as it is";
