// No line is left: which rules exclude each other, and what would bring lines back, one click each.

import { get, withRules } from "./api.js";
import { brief, button, h, lines } from "./dom.js";
import { change, state } from "./state.js";

/** The page in place of the lines where there are none. */
export function showConflicts(place) {
  const round = new AbortController();
  const body = h("div", {}, h("p", {}, "Looking for the rules that exclude each other…"));
  place.replaceChildren(
    h(
      "section.conflicts",
      { "aria-label": "Why there is no line" },
      h("h2", {}, "No line is left"),
      state.summary.starts ? h("p", {}, `Lines can start on ${state.summary.starts}.`) : null,
      body,
    ),
  );
  fill(body, round.signal);
  return () => round.abort();
}

async function fill(body, signal) {
  const { tables, summary } = state;
  try {
    const found = await withRules(tables, summary.id, (id) => get(`/api/rules/${id}/conflicts`, signal));
    const sets = found.exclusions.map((set, place) =>
      h(
        "li",
        {},
        set.length === 1 ? "This rule alone leaves no line: " : "These rules exclude each other: ",
        h(
          "ul",
          {},
          set.map((each) => h("li", {}, each.words, each.default ? h("span.help", {}, " (default)") : null)),
        ),
        place < found.exclusions.length - 1
          ? null
          : found.complete
            ? null
            : h("p.help", {}, "There are more such sets."),
      ),
    );
    body.replaceChildren(
      sets.length
        ? h("ol.exclusions", {}, sets)
        : h("p", {}, "No line fits these changes, whatever the rules."),
      h("h3", {}, "What would bring lines back"),
      found.remedies.length
        ? h(
            "ul.remedies",
            {},
            found.remedies.map((each) =>
              h(
                "li",
                {},
                button(
                  [h("span", {}, each.words.replaceAll("->", "→")), h("span.leaves", {}, brief(each.count))],
                  () => change(each.change),
                  { "aria-label": `${each.words}: ${lines(each.count)}` },
                  "button.chip.wide",
                ),
              ),
            ),
          )
        : h("p", {}, "No single change is enough. Undo your last change, or choose other chord changes."),
    );
  } catch (error) {
    if (error.name !== "AbortError") body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
  }
}
