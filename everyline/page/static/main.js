// Starts the page: vocabulary, address, pages.

import { get } from "./api.js";
import { button, h, lines } from "./dom.js";
import { setUpFile } from "./file.js";
import { showBuild } from "./build.js";
import { showConflicts } from "./conflicts.js";
import { showCheck } from "./check.js";
import { showDrills } from "./drills.js";
import { lessonSize, onLesson, showLesson } from "./lesson.js";
import { showLines } from "./lines.js";
import { setUpRules } from "./rules.js";
import { showOneLine } from "./one-line.js";
import { addressOf, go, on, readAddress, setTables, state } from "./state.js";

const TITLES = {
  lines: "Lines",
  line: "One line",
  build: "Build",
  check: "Check",
  lesson: "Lesson",
  drills: "Drills",
};
const SHOW = {
  lines: showLines,
  line: showOneLine,
  build: showBuild,
  check: showCheck,
  lesson: showLesson,
  drills: showDrills,
};
const NEEDS_LINES = ["lines", "line", "build", "drills"];

let leave = () => {};

function showPages() {
  document.getElementById("pages").replaceChildren(
    ...Object.entries(TITLES).map(([view, title]) => {
      const size = view === "lesson" ? lessonSize() : 0;
      return h(
        "a",
        {
          href: addressOf(view),
          "aria-current": view === state.view ? "page" : null,
          onclick: (event) => {
            if (event.metaKey || event.ctrlKey || event.shiftKey) return;
            event.preventDefault();
            go(view);
          },
        },
        size ? `${title} (${size})` : title,
      );
    }),
  );
}

function showCount() {
  const { summary, trouble } = state;
  document.documentElement.dataset.busy = "no";
  const count = document.getElementById("count");
  count.textContent = summary ? lines(summary.count) : "No count";
  count.classList.toggle("none", !summary || summary.count === "0");
  count.classList.toggle("long", (summary?.count.length ?? 0) > 18);
  document.getElementById("over").textContent = summary
    ? `over ${summary.changes.replaceAll("\n", " | ")} · ${summary.range}`
    : "";
  const place = document.getElementById("trouble");
  place.textContent = trouble;
  place.hidden = !trouble;
  document.title = summary ? `${lines(summary.count)} · ${TITLES[state.view]} · Everyline` : "Everyline";
}

function showView(focus) {
  leave();
  leave = () => {};
  showPages();
  const place = document.getElementById("content");
  document.getElementById("columns").className = `columns at-${state.view}`;
  document.documentElement.dataset.view = state.view;
  document.documentElement.dataset.order = state.order;
  const { summary } = state;
  if (!summary && state.view !== "lesson") {
    place.replaceChildren(h("p.empty", {}, "Fix the error above to see the lines again."));
  } else if (summary?.count === "0" && NEEDS_LINES.includes(state.view)) {
    leave = showConflicts(place) ?? leave;
  } else {
    // At the top, unless the page knows of a place where the reader was.
    if (focus) scrollTo(0, 0);
    leave = SHOW[state.view](place) ?? leave;
  }
  if (focus) {
    place.focus({ preventScroll: true });
  }
}

function setUpTheme() {
  const kept = localStorage.getItem("theme");
  const dark = () =>
    (document.documentElement.dataset.theme ?? "") === "dark" ||
    (!document.documentElement.dataset.theme && matchMedia("(prefers-color-scheme: dark)").matches);
  if (kept) document.documentElement.dataset.theme = kept;
  const place = document.getElementById("theme");
  const show = () => (place.textContent = dark() ? "Light" : "Dark");
  place.onclick = () => {
    document.documentElement.dataset.theme = dark() ? "light" : "dark";
    localStorage.setItem("theme", document.documentElement.dataset.theme);
    show();
  };
  show();
}

/** From deep inside the lines one press leads back to the pages and the rules. */
function setUpTop() {
  const top = document.getElementById("top");
  top.onclick = () => {
    scrollTo(0, 0);
    document.getElementById("home").focus({ preventScroll: true });
  };
  addEventListener("scroll", () => (top.hidden = scrollY < innerHeight), { passive: true });
}

async function start() {
  setUpTheme();
  try {
    state.vocabulary = await get("/api/vocabulary");
  } catch (error) {
    const place = document.getElementById("trouble");
    place.textContent = error.message;
    place.hidden = false;
    return;
  }
  setUpFile();
  on("busy", () => (document.documentElement.dataset.busy = "yes"));
  on("count", showCount);
  on("rules", () => showView(false));
  on("view", () => {
    showCount();
    showView(true);
  });
  onLesson(showPages);
  document.getElementById("home").onclick = (event) => {
    event.preventDefault();
    go("lines");
  };
  document.querySelector(".skip").onclick = (event) => {
    event.preventDefault();
    document.getElementById("content").focus();
  };
  setUpTop();
  addEventListener("popstate", arrive);
  const asked = readAddress();
  setUpRules(document.getElementById("rules"));
  await setTables(asked ?? state.tables, { keepNumber: true });
  document.documentElement.dataset.ready = "yes";
}

function arrive() {
  const tables = readAddress();
  if (tables && JSON.stringify(tables) !== JSON.stringify(state.tables))
    setTables(tables, { keepNumber: true });
  else {
    showCount();
    showView(true);
  }
}

start();
