// What the lines hold: bars for every kind of property, counted exactly when the part is opened.

import { facets } from "./choices.js";
import { brief, button, h } from "./dom.js";
import { change, state } from "./state.js";
import { spoken } from "./words.js";

/** A closed part that counts when it is opened: of the lines under the rules, or of others, told by their tables,
 *  name and count; of choruses, also what one phrase (1 is the first) is made of.
 * @param {string} title
 * @param {{tables: import("./store.js").Tables, id: string, count: string, phrase?: number} | null} of
 */
export function statisticsPanel(title = "Statistics of these lines", of = null) {
  const body = h("div.facets");
  const made = h("details.statistics", {}, h("summary", {}, title), body);
  made.addEventListener("toggle", async () => {
    if (!made.open || body.childElementCount) return;
    body.replaceChildren(h("p", {}, "Counting…"));
    try {
      const found = await (of ? facets(null, of.tables, of.id, of.phrase) : facets(null));
      body.replaceChildren(...found.map((each) => one(each, of?.count ?? state.summary.count)));
    } catch (error) {
      body.replaceChildren(h("p.trouble", { role: "alert" }, error.message));
    }
  });
  return made;
}

/** A value by its name; one that a rule can ask for is a button that asks for it. */
function named(facet, { label: text, count, change: values }) {
  const label = facet.kind === "ending" ? spoken(text) : text;
  if (!values || count === "0" || count === state.summary.count) return label;
  const said = `Only these lines: ${facet.title}, ${label}`;
  return button(label, () => change(values), { "aria-label": said, title: "Only these lines" }, "button.value");
}

function one(facet, count) {
  const total = BigInt(count);
  return h(
    "section.facet",
    { "aria-label": facet.title },
    h("h3", {}, facet.title),
    facet.note ? h("p.help", {}, facet.note) : null,
    h(
      "table",
      {},
      h(
        "thead.unseen",
        {},
        h(
          "tr",
          {},
          h("th", { scope: "col" }, "choice"),
          h("th", { scope: "col" }, "lines"),
          h("th", { scope: "col" }, "share"),
        ),
      ),
      h(
        "tbody",
        {},
        facet.values.map((value) => {
          const share = total ? Number((BigInt(value.count) * 1000n) / total) / 10 : 0;
          const bar = h("span.bar", { "aria-hidden": "true" });
          bar.style.width = `${Math.max(share, value.count === "0" ? 0 : 0.6)}%`;
          return h(
            "tr",
            {},
            h("th", { scope: "row" }, named(facet, value)),
            h("td", {}, brief(value.count)),
            h("td.share", {}, bar, h("span.unseen", {}, `${share} %`)),
          );
        }),
      ),
    ),
  );
}
