"""How long the page takes from a chosen note of a line being built to the counts of what may follow."""

from __future__ import annotations

import http.client
import json
from collections.abc import Callable
from contextlib import closing
from time import perf_counter
from typing import TYPE_CHECKING

from benchmarks.measure import Spread, once
from benchmarks.page import chromium, serving
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, Tables, form
from everyline.page.operations import Workspace

if TYPE_CHECKING:
    from playwright.sync_api import Page

FORMS: dict[str, Tables] = {"ii-V-I": II_V_I, "32 bars": form(32)}
WORDS = """
From a chosen note to the counts of every note that may follow, along one line of the set. The counts alone
are processor time inside one process, after the lines are compiled. The others are time on the clock: from
the request to the answer of a running server, and in the browser from the click on a note to the end of the
frame that shows the new counts: the page fetches those after each note that may be chosen while the player
looks. What each note would be, and the music so far, are asked for after that and do not hold it up.
""".strip()
NOTES = 12
"""Notes that are chosen, one after another."""


def section(quick: bool) -> Section:
    """Measure. ``quick`` takes the short form, three notes and no browser."""
    forms = {"ii-V-I": II_V_I} if quick else FORMS
    notes = 3 if quick else NOTES
    desk = Workspace()
    rows: list[tuple[Cell, ...]] = []
    with serving() as port:
        for name, tables in forms.items():
            space = desk.space(tables)
            line = space.diagram.line(1 + space.count // 3)
            begun = [[list(event) for event in line[:size]] for size in range(notes)]
            alone = [once(_asked(desk, tables, each)) for each in begun]
            answered = _answered(port, tables, begun)
            seen = [] if quick else _on_screen(port, tables, line[:notes])
            on_screen = Spread.of(seen).seconds() if seen else "not run"
            rows.append((name, Spread.of(alone).seconds(), Spread.of(answered).seconds(), on_screen))
    head = ("", "the counts alone", "answer", "browser")
    return Section("The next note", WORDS, (Table(head, tuple(rows)),))


def _asked(desk: Workspace, tables: Tables, notes: list[list[int]]) -> Callable[[], object]:
    return lambda: desk.do("onward", {"tables": tables, "notes": notes})


def _answered(port: int, tables: Tables, begun: list[list[list[int]]]) -> list[float]:
    """Seconds on the clock for each beginning, once the server has compiled the rules."""
    known = _post(port, "/api/rules", {"tables": tables})["id"]
    _post(port, f"/api/rules/{known}/next", {"notes": []})
    spent = []
    for notes in begun:
        start = perf_counter()
        _post(port, f"/api/rules/{known}/next", {"notes": notes})
        spent.append(perf_counter() - start)
    return spent


def _post(port: int, path: str, body: object) -> dict[str, str]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as connection:
        connection.request("POST", path, json.dumps(body), {"Content-Type": "application/json"})
        answer = connection.getresponse()
        text = answer.read()
        if answer.status != 200:
            raise RuntimeError(f"the page's server answered {answer.status}: {text[:200]!r}")
        found: dict[str, str] = json.loads(text)
        return found


STOPWATCH = """
addEventListener("click", (event) => {
  if (event.target.closest?.(".next-note")) window.stopwatch = { click: event.timeStamp };
}, true);
new MutationObserver(() => {
  const watch = window.stopwatch;
  const shown = document.querySelector(".standing");
  if (!watch || watch.seen || !shown || shown === window.before) return;
  watch.seen = true;
  // After the next frame is laid out and painted, before any other work that waits for it.
  const stop = () => (watch.end = performance.now());
  requestAnimationFrame(() => scheduler.postTask(stop, { priority: "user-blocking" }));
}).observe(document, { childList: true, subtree: true });
"""
"""A script for the page: when a note was clicked, and when the next counts were painted, in milliseconds."""


def _on_screen(port: int, tables: Tables, line: tuple[tuple[int, int, int], ...]) -> list[float]:
    """Seconds from each click to the counts on the screen; nothing without a browser."""
    path = chromium()
    if path is None:
        return []
    from urllib.parse import urlencode

    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page()
        page.add_init_script(STOPWATCH)
        flat = {
            f"{key}.{inner}" if inner else key: each if isinstance(each, str) else json.dumps(each)
            for key, value in tables.items()
            for inner, each in (value.items() if isinstance(value, dict) else [("", value)])
        }
        page.goto(f"http://127.0.0.1:{port}/#build?{urlencode({**flat, 'board': 'list'})}")
        spent = _clicked(page, line)
        browser.close()
    return spent


def _clicked(page: Page, line: tuple[tuple[int, int, int], ...]) -> list[float]:
    spent = []
    for event in line:
        choice = page.locator(f".next-note[data-event='{' '.join(map(str, event))}']")
        choice.wait_for()
        page.wait_for_timeout(1500)
        page.evaluate("() => { window.before = document.querySelector('.standing'); }")
        choice.click()
        page.wait_for_function("() => window.stopwatch?.end")
        spent.append(page.evaluate("() => stopwatch.end - stopwatch.click") / 1000)
        page.evaluate("() => { window.stopwatch = null; }")
    return spent
