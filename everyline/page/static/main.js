// Starts the page: vocabulary, address, pages.

import { get } from "./api.js";
import { showBuild } from "./build.js";
import { showCheck } from "./check.js";
import { showConflicts } from "./conflicts.js";
import { brief, button, byId, focused, h, lines, redrawing } from "./dom.js";
import { showDrills } from "./drills.js";
import { setUpFile } from "./file.js";
import { setUpFirst } from "./first.js";
import { lessonSize, onLesson, redoLesson, setUpLesson, undoLesson } from "./kept.js";
import { showLesson } from "./lesson.js";
import { showLines } from "./lines.js";
import { mendings } from "./mending.js";
import { setUpListening } from "./listen.js";
import { showOneLine } from "./one-line.js";
import { redoPlan, showPlan, undoPlan } from "./plan.js";
import { showPractice, undoRound } from "./practice.js";
import { setUpRules } from "./rules.js";
import { addressOf, go, on, readAddress, redo, setTables, state, undo } from "./state.js";

const TITLES = {
  lines: "Lines",
  line: "One line",
  build: "Build",
  check: "Check",
  plan: "Whole tune",
  lesson: "Lesson",
  drills: "Drills",
  practice: "Practice",
};
const SHOW = {
  lines: showLines,
  line: showOneLine,
  build: showBuild,
  check: showCheck,
  plan: showPlan,
  lesson: showLesson,
  drills: showDrills,
  practice: showPractice,
};
const LONGEST_COUNT = 18; // digits of a count that is written out in the band
/** Pages that do not depend on the rules. */
const OWN_WAY = ["lesson", "practice"];
const NEEDS_LINES = ["lines", "line", "build", "drills"];

const shown = { leave: () => {}, view: null };

function showPages() {
  const here = (view) => (event) => {
    if (event.metaKey || event.ctrlKey || event.shiftKey) return;
    event.preventDefault();
    go(view);
  };
  const link = ([view, title]) => {
    const size = view === "lesson" ? lessonSize() : 0;
    const attributes = {
      href: addressOf(view),
      "aria-current": view === state.view ? "page" : null,
      "data-key": `page ${view}`,
    };
    return h("a", { ...attributes, onclick: here(view) }, size ? `${title} (${size})` : title);
  };
  redrawing(byId("pages"), () => byId("pages").replaceChildren(...Object.entries(TITLES).map(link)));
}

function showCount() {
  const { trouble } = state;
  const summary = trouble ? null : state.summary;
  document.documentElement.dataset.busy = "no";
  const count = byId("count");
  const long = (summary?.count.length ?? 0) > LONGEST_COUNT;
  count.textContent = !summary ? "No count" : long ? `${brief(summary.count)} lines` : lines(summary.count);
  count.title = long ? lines(summary.count) : "";
  count.classList.toggle("none", !summary || summary.count === "0");
  const over = summary ? `over ${summary.changes.replaceAll("\n", " | ")} · ${summary.range}` : "";
  byId("over").textContent = byId("over").title = over;
  byId("trouble").textContent = trouble;
  byId("trouble").hidden = !trouble;
  const mend = ({ word, tables }) =>
    button(`Use ${word}`, () => setTables(tables), { "data-key": `mend ${word}` }, "button.quiet");
  redrawing(byId("mend"), () =>
    byId("mend").replaceChildren(...mendings(trouble, state.tables).map(mend)),
  );
  document.title = summary ? `${lines(summary.count)} · ${TITLES[state.view]} · Everyline` : "Everyline";
}

/** Show the page; after a change of rules (``arrived`` false) the place on the screen stays. */
function showView(arrived) {
  const { summary, view } = state;
  const wrong = Boolean(state.trouble);
  showPages();
  byId("columns").className = `columns at-${view}`;
  Object.assign(document.documentElement.dataset, { view, order: state.order });
  const place = byId("content");
  // While a rule is wrong, the last good lines stay.
  place.classList.toggle("old", wrong && !OWN_WAY.includes(view));
  if (wrong && !arrived && shown.view === view) return;
  shown.leave();
  shown.leave = () => {};
  shown.view = view;
  // At the top, unless the page knows of a place where the reader was.
  if (arrived) scrollTo(0, 0);
  if (wrong && !OWN_WAY.includes(view)) {
    place.replaceChildren(nothing());
    place.classList.remove("old");
  } else if (summary?.count === "0" && NEEDS_LINES.includes(view)) shown.leave = showConflicts(place);
  else shown.leave = SHOW[view](place) ?? (() => {});
  if (arrived) place.focus({ preventScroll: true });
}

/** What stands in place of lines while there are none to show. */
function nothing() {
  if (!state.away) return h("p.empty", {}, "Fix the error above to see the lines again.");
  const again = button("Try again", () => setTables(structuredClone(state.tables), { again: true }));
  return h("p.empty", {}, "The server does not answer, so nothing can be counted. ", again);
}

function setUpTheme() {
  const root = document.documentElement;
  const kept = localStorage.getItem("theme");
  const dark = () =>
    (root.dataset.theme ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "")) === "dark";
  if (kept === "dark" || kept === "light") root.dataset.theme = kept;
  const show = () => (byId("theme").textContent = dark() ? "Light" : "Dark");
  byId("theme").onclick = () => {
    root.dataset.theme = dark() ? "light" : "dark";
    localStorage.setItem("theme", root.dataset.theme);
    show();
  };
  show();
}

/** How tall the band with the count is: what sticks below it goes by that. */
function setUpBand() {
  const measure = () => {
    const { offsetHeight } = byId("tally");
    document.documentElement.style.setProperty("--band-height", `${offsetHeight}px`);
  };
  new ResizeObserver(measure).observe(byId("tally"));
  measure();
}

/** From deep inside the lines one press leads back to the pages and the rules. */
function setUpTop() {
  const top = byId("top");
  top.onclick = () => {
    scrollTo(0, 0);
    byId("home").focus({ preventScroll: true });
  };
  addEventListener("scroll", () => (top.hidden = scrollY < innerHeight), { passive: true });
}

/** Ctrl+Z takes back what was done last: to the lesson on its page, to the rules elsewhere. */
function setUpUndo() {
  addEventListener("keydown", (event) => {
    const typing = focused()?.matches?.("textarea, input[type=text], input[type=number]");
    // In a field the browser undoes what was typed.
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || typing) return;
    event.preventDefault();
    const own = { lesson: [undoLesson, redoLesson], plan: [undoPlan, redoPlan], practice: [undoRound, () => {}] };
    const [back, forth] = own[state.view] ?? [undo, redo];
    if (event.shiftKey) forth();
    else back();
  });
}

function setUpLinks() {
  byId("home").onclick = (event) => {
    event.preventDefault();
    go("lines");
  };
  byId("skip").onclick = (event) => {
    event.preventDefault();
    byId("content").focus();
  };
}

function listenToChanges() {
  on("busy", () => (document.documentElement.dataset.busy = "yes"));
  on("count", showCount);
  on("rules", () => {
    // These have their own way with other rules.
    if (state.view !== shown.view || !["lesson", "check", "practice"].includes(state.view)) showView(false);
    else byId("content").classList.toggle("old", Boolean(state.trouble) && state.view === "check");
  });
  on("view", () => {
    showCount();
    showView(true);
  });
  onLesson(showPages);
  addEventListener("popstate", arrive);
}

async function start() {
  setUpTheme();
  try {
    state.vocabulary = await get("/api/vocabulary");
  } catch (error) {
    byId("trouble").textContent = error.message;
    byId("trouble").hidden = false;
    return;
  }
  setUpLesson();
  setUpListening();
  setUpFile();
  setUpUndo();
  setUpLinks();
  setUpTop();
  setUpBand();
  setUpFirst(byId("first"));
  listenToChanges();
  const asked = readAddress();
  setUpRules(byId("rules"));
  await setTables(asked ?? state.tables, { keepNumber: true });
  document.documentElement.dataset.ready = "yes";
}

function arrive() {
  const tables = readAddress();
  const same = !tables || JSON.stringify(tables) === JSON.stringify(state.tables);
  showCount();
  if (same) showView(true);
  else setTables(tables, { keepNumber: true }).then(() => state.view !== shown.view && showView(true));
}

start();
