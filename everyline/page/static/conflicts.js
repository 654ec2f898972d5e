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
    const { exclusions, complete, remedies } = found;
    const none = h("p", {}, "No line fits these changes, whatever the rules.");
    const stuck = h(
      "p",
      {},
      "No single change is enough. Undo your last change, or choose other chord changes.",
    );
    body.replaceChildren(
      exclusions.length ? h("ol.exclusions", {}, exclusions.map(exclusion)) : none,
      complete ? "" : h("p.help", {}, "There are more such sets."),
      h("h3", {}, "What would bring lines back"),
      remedies.length ? remedyList(remedies, change, lines) : stuck,
    );
  } catch (error) {
    if (error.name !== "AbortError") body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
  }
}

function exclusion(set) {
  const words = set.length === 1 ? "This rule alone leaves no line: " : "These rules exclude each other: ";
  const usual = (each) => (each.default ? h("span.help", {}, " (default)") : null);
  const rules = set.map((each) => h("li", {}, each.words, usual(each)));
  return h("li", {}, words, h("ul", {}, rules));
}

/** Changes that bring back lines, or what else is counted, as buttons that make them.
 * @param {{words: string, count: string, change: Record<string, any>}[]} remedies
 * @param {(change: Record<string, any>) => void} use
 * @param {(count: string) => string} counted a count in words
 */
export const remedyList = (remedies, use, counted) =>
  h(
    "ul.remedies",
    {},
    remedies.map((each) => h("li", {}, remedy(each, use, counted))),
  );

function remedy(each, use, counted) {
  const words = [h("span", {}, each.words.replaceAll("->", "→")), h("span.leaves", {}, brief(each.count))];
  const label = { "aria-label": `${each.words}: ${counted(each.count)}` };
  return button(words, () => use(each.change), label, "button.chip.wide");
}
