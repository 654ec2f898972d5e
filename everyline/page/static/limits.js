// Limits: what a teacher adds. One card for each, and a list of all kinds with what each would leave.

import { count } from "./choices.js";
import { control } from "./controls.js";
import { button, h } from "./dom.js";
import { change, state } from "./state.js";

const kindOf = (name) => state.vocabulary.limits.find((each) => each.kind === name);

const gone = (key, value) => value === null || value === "" || (Array.isArray(value) && !value.length);

function put(limits, place, key, value) {
  return limits.map((each, index) => {
    if (index !== place) return each;
    const { [key]: _, ...rest } = each;
    return gone(key, value) ? rest : { ...each, [key]: value };
  });
}

/** The part of the rules with the limits. */
export function limitsPart(body) {
  const limits = state.tables.limit ?? [];
  const set = (values) => change({ limit: values.length ? values : null });
  limits.forEach((limit, place) => {
    const kind = kindOf(limit.kind);
    const card = h(
      "section.limit",
      { "aria-label": kind?.title ?? limit.kind },
      h("h3", {}, kind?.title ?? limit.kind),
      h("p.help", {}, kind?.summary),
    );
    for (const key of kind?.keys ?? [])
      card.append(
        control(
          `limit ${place} ${key.name}`,
          key,
          limit[key.name],
          (value) => set(put(limits, place, key.name, value)),
          (value) => ({ limit: put(limits, place, key.name, value) }),
        ),
      );
    const without = limits.filter((_, index) => index !== place);
    const leaves = h("span.leaves");
    count(leaves, { limit: without.length ? without : null });
    card.append(
      button(
        ["Take it out", leaves],
        () => set(without),
        { "data-key": `limit ${place} out` },
        "button.chip",
      ),
    );
    body.append(card);
  });
  body.append(
    h(
      "section.limit-kinds",
      { "aria-label": "Add a limit" },
      h("h3", {}, "Add a limit"),
      state.vocabulary.limits.map((kind) => {
        const leaves = h("span.leaves");
        const added = [...limits, fitted(kind.example)];
        count(leaves, { limit: added });
        return button(
          [h("span", {}, kind.title), leaves],
          () => set(added),
          {
            title: `${kind.summary} Begins as ${worded(fitted(kind.example))}.`,
            "data-key": `limit add ${kind.kind}`,
          },
          "button.chip",
        );
      }),
    ),
  );
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
    .join(", ") || "it is";
