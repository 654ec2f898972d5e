"""How long the page takes from the command to the first line, and how long rows are empty in scrolling."""

from __future__ import annotations

import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from benchmarks.measure import Spread
from benchmarks.page import chromium, serving, started
from benchmarks.report import Cell, Section, Table

if TYPE_CHECKING:
    from playwright.sync_api import Browser

WORDS = """
From the start of the process of `everyline serve` to the first engraved line in a browser that is open
already, time on the clock, and how many requests the page sent until then. Then a list of millions of lines
is scrolled at an even speed: of every row that comes into sight, how long it shows nothing, and how long its
notes stand there as words before they are engraved.
""".strip()

STARTS = 5
SCROLLING = 6000
"""Milliseconds that the list is scrolled."""
SPEEDS = {"as one reads, 400 pixels a second": 400, "in search, 1500 pixels a second": 1500}
WIDTH, HEIGHT = 1280, 900

FIRST_LINE = """
const look = () => {
  if (document.querySelector(".strip music-strip[data-ready]"))
    requestAnimationFrame(() => (window.lineAt = performance.timeOrigin + performance.now()));
  else requestAnimationFrame(look);
};
requestAnimationFrame(look);
"""
"""A script for the page: when its first line was painted, in milliseconds of the clock."""

SCROLL = """([speed, milliseconds]) => new Promise((resolve) => {
  const rows = new Map();
  const start = performance.now();
  let before = start;
  const look = (now) => {
    for (const row of document.querySelectorAll(".strip")) {
      const { top, bottom } = row.getBoundingClientRect();
      if (bottom < 150 || top > innerHeight) continue;
      const seen = rows.get(row) ?? { since: now, filled: null, drawn: null };
      rows.set(row, seen);
      if (row.childElementCount) seen.filled ??= now - seen.since;
      if (row.querySelector("music-strip[data-ready]")) seen.drawn ??= now - seen.since;
    }
    scrollBy(0, (speed * (now - before)) / 1000);
    before = now;
    if (now - start < milliseconds) requestAnimationFrame(look);
    else {
      const late = (each, what) => each[what] ?? now - each.since;
      resolve([...rows.values()].map((each) => [late(each, "filled"), late(each, "drawn")]));
    }
  };
  requestAnimationFrame(look);
})"""
"""Scrolls; answers for each row that was in sight how many milliseconds it was there without its notes, and
without its picture."""


def section(quick: bool) -> Section:
    """Measure; ``quick`` starts the page once and scrolls for a second."""
    path = chromium()
    if path is None:
        return Section("The first line, and scrolling", WORDS + "\n\nThere was no browser to measure in.", ())
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        starts = [_started(browser) for _ in range(1 if quick else STARTS)]
        scrolled = _scrolled(browser, 1000 if quick else SCROLLING)
        browser.close()
    first: tuple[Cell, ...] = (
        Spread.of([each[0] for each in starts]).seconds(),
        Spread.of([each[1] for each in starts]).seconds(),
        str(max(each[2] for each in starts)),
    )
    opened = Table(("command to address", "command to first line", "requests"), (first,))
    rows = tuple(
        (name, str(len(seen)), _longest(seen, 0), _longest(seen, 1), _share(seen))
        for name, seen in scrolled.items()
    )
    head = (
        "scrolled",
        "rows",
        "longest without notes",
        "longest without engraving",
        "engraved within 200 ms",
    )
    return Section("The first line, and scrolling", WORDS, (opened, Table(head, rows)))


def _longest(seen: list[list[float]], which: int) -> str:
    return Spread.of([each[which] / 1000 for each in seen]).seconds()


def _share(seen: list[list[float]]) -> str:
    return f"{100 * sum(each[1] <= 200 for each in seen) / len(seen):.0f} %"


def _started(browser: Browser) -> tuple[float, float, int]:
    """(seconds to the address, seconds to the first line, requests until then) of one start."""
    with TemporaryDirectory() as folder:
        students = str(Path(folder) / "students.db")
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.add_init_script(FIRST_LINE)
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        began = time.time()
        with started("--students", students) as port:
            told = time.time()
            page.goto(f"http://127.0.0.1:{port}/")
            page.wait_for_function("() => window.lineAt")
            sent = len(asked)
            line = page.evaluate("() => window.lineAt") / 1000
            page.close()
    return told - began, line - began, sent


def _scrolled(browser: Browser, milliseconds: int) -> dict[str, Any]:
    found = {}
    with serving() as port:
        for name, speed in SPEEDS.items():
            page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
            page.goto(
                f"http://127.0.0.1:{port}/#lines?order=number&changes=Dm7+|+G7+|+Cmaj7&range.instrument=guitar"
            )
            page.locator(".strip music-strip[data-ready]").first.wait_for()
            page.wait_for_timeout(3000)
            found[name] = page.evaluate(SCROLL, [speed, milliseconds])
            page.close()
    return found
