// The rules, part by part: each part says in a sentence what holds, and opens to be changed.

import { get } from "./api.js";
import { button, byId, byKey, h, redrawing } from "./dom.js";
import { entriesOf, matching } from "./finding.js";
import { PARTS, PART_GROUPS } from "./rule-parts.js";
import { canRedo, canUndo, on, redo, setTables, state, undo } from "./state.js";
import { keepHere, kept } from "./store.js";

/** Where there is room for the rules beside the page. */
const wide = matchMedia("(min-width: 62.01rem)");
const UNFOLDED = "rules unfolded";
/** Whether the list is open. Beside the page it stays as it was left, in this browser. */
const list = { open: false };

/** Build the rules, and build them anew whenever they change. */
export function setUpRules(place) {
  const arrange = () => unfold(wide.matches && kept(UNFOLDED) === true);
  arrange();
  wide.addEventListener("change", arrange);
  on("rules", () => draw(place));
  on("view", () => draw(place));
  byId("to-rules").onclick = showSheet;
  addEventListener("keydown", (event) => event.key === "Escape" && hideSheet());
}

function unfold(now) {
  list.open = now;
  document.documentElement.dataset.rules = now && !wide.matches ? "sheet" : "beside";
  if (state.summary || state.trouble) draw(byId("rules"));
}

/** Open or close the list below its button: nothing beside or above it moves. */
function fold() {
  unfold(!list.open);
  keepHere(UNFOLDED, list.open);
}

/** Show the rules as a sheet over the page, where there is no room beside it. */
function showSheet() {
  unfold(true);
  byKey(byId("rules"), "done").focus();
}

function hideSheet() {
  if (document.documentElement.dataset.rules !== "sheet") return;
  unfold(false);
  byId("to-rules").focus();
}

function draw(place) {
  const all = () => h("div", { id: "rule-list" }, finder(), startFrom(), PART_GROUPS.map(group));
  redrawing(place, () => place.replaceChildren(head(), ...(list.open ? [all()] : [])));
}

const head = () =>
  h(
    "div.rules-head",
    {},
    h("h2", {}, "The rules"),
    button("Rules", fold, { "aria-expanded": String(list.open), "data-key": "fold" }, "button.fold"),
    button("Undo", undo, { disabled: !canUndo(), "data-key": "undo", title: "Ctrl+Z" }, "button.quiet"),
    button("Redo", redo, { disabled: !canRedo(), "data-key": "redo", title: "Ctrl+Shift+Z" }, "button.quiet"),
    button("Done", hideSheet, { "data-key": "done" }, "button.strong.rules-done"),
  );

// -- looking for a rule --------------------------------------------------------------------------------------

function finder() {
  const field = h("input", {
    type: "search",
    id: "find-rule",
    value: state.sought,
    "data-key": "find-rule",
    autocomplete: "off",
    placeholder: "such as: enclosure, pickup, leap",
  });
  const found = h("div.found", { "aria-live": "polite" });
  const look = () => {
    state.sought = field.value;
    found.replaceChildren(...answers(field.value));
  };
  field.addEventListener("input", look);
  look();
  return h("div.field.find-rule", {}, h("label", { for: "find-rule" }, "Find a rule"), field, found);
}

function answers(text) {
  if (!text.trim()) return [];
  const found = matching(entriesOf(state.vocabulary, PARTS), text);
  if (!found.length) return [h("p.help", {}, "No rule has these words.")];
  const title = (name) => PARTS.find((each) => each.name === name).title;
  const answer = (each) =>
    h(
      "li",
      {},
      button(
        [each.words, each.key ? h("span.help", {}, title(each.part)) : null],
        () => goTo(each),
        {},
        "button.quiet",
      ),
    );
  return [h("ul.found-list", {}, found.map(answer))];
}

/** Open the part, and go to the control. */
function goTo({ part, key }) {
  state.sought = "";
  state.open.add(part);
  const place = byId("rules");
  draw(place);
  const control =
    key &&
    (byKey(place, key) ??
      [...place.querySelectorAll("[data-key]")].find((each) => each.dataset.key.startsWith(`${key} `)));
  const found = control || byId(`part-${part}`).querySelector("summary");
  found.scrollIntoView({ block: "center" });
  found.focus({ preventScroll: true });
}

// -- the parts -----------------------------------------------------------------------------------------------

function group({ title, parts }) {
  return h("section.rule-group", { "aria-label": title }, h("h3.group-title", {}, title), parts.map(part));
}

function part({ name, title, fill, says }) {
  const body = h("div.part-body");
  const { open } = state;
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

const LEVELS = [1, 2, 3, 4, 5, null];

function startFrom() {
  const { rulefiles } = state.vocabulary;
  const group = (level) => {
    const found = rulefiles.filter((each) => each.level === level);
    const options = found.map((each) => h("option", { value: each.name, title: each.remark }, each.title));
    return found.length ? h("optgroup", { label: level ? `Level ${level}` : "More" }, options) : null;
  };
  const files = h(
    "select",
    { id: "begin-file", "data-key": "begin-file" },
    h("option", { value: "" }, "choose"),
    LEVELS.map(group),
  );
  files.onchange = async () => {
    if (!files.value) return;
    const found = await get(`/api/corpus/rules/${encodeURIComponent(files.value)}`);
    setTables(found.tables);
  };
  return h("div.field", {}, h("label", { for: "begin-file" }, "Load a graded rule file"), files);
}
