"""How long the page takes from a changed rule to its count."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import product
from time import perf_counter, sleep
from typing import TYPE_CHECKING

from benchmarks.measure import ROOT, Spread, once
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, Tables
from everyline.page.operations import Workspace

if TYPE_CHECKING:
    from playwright.sync_api import Page, Request

TWELVE_BARS: Tables = {"changes": "C7 | F7 | C7 | C7 | F7 | F7 | C7 | A7 | Dm7 | G7 | C7 | G7"}
WORDS = """
From a changed rule to its count, over rules that the page has not seen: another range each time, in the
browser another first chord. The count alone is processor time inside one process. The others are time on the
clock, so that waiting for the processor does count: from the request to the answer of a running server, and
from the key that enters the rule, as the browser gives its time, to the end of the frame that shows the new
count. In the browser the next change comes when the page has nothing more to fetch, or after four seconds; in
the last column after half a second, while it is still fetching what it shows of the rules before.
""".strip()

SETTLING = 5.0
"""Seconds that the server is left alone after its first answer."""

CHANGES = "[data-key='first changes']"
"""Where the changes are typed on the page."""
CHANGES_ON_SCREEN = 8

RESTING = 4.0
"""Longest rest before a change in the browser, in seconds."""

IN_HASTE = 0.5
"""The same for one who does not wait."""

FORMS = {"ii-V-I": II_V_I, "twelve bars": TWELVE_BARS}


def changed(tables: Tables, times: int) -> list[Tables]:
    """So many sets of rules that differ in the range alone."""
    ranges = list(product(("D3", "E3", "F3", "G3"), ("C5", "D5", "E5", "F5", "G5")))
    if times > len(ranges):
        raise ValueError(f"there are {len(ranges)} ranges, not {times}")
    return [{**tables, "range": {"lowest": low, "highest": high}} for low, high in ranges[:times]]


def section(quick: bool) -> Section:
    """Measure. ``quick`` takes three changes and no browser."""
    times = 3 if quick else 9
    desk = Workspace()
    desk.do("summary", {"tables": II_V_I})
    rules = {name: changed(tables, times) for name, tables in FORMS.items()}
    counted: dict[str, list[float]] = {name: [] for name in FORMS}
    answered: dict[str, list[float]] = {name: [] for name in FORMS}
    with serving() as port:
        for turn in range(times):
            for name in FORMS:
                counted[name].append(once(_asked(desk, rules[name][turn])))
                answered[name].append(_answered(port, rules[name][turn]))
        # Last, for the page goes on to count every choice of the rules that it was given.
        on_screen = {} if quick else _on_screen(port, CHANGES_ON_SCREEN)
        in_haste = {} if quick else _on_screen(port, CHANGES_ON_SCREEN, CHANGES_ON_SCREEN + 1, IN_HASTE)
    rows: list[tuple[Cell, ...]] = []
    for name in FORMS:
        seen = [each[name].seconds() if name in each else "not run" for each in (on_screen, in_haste)]
        rows.append((name, Spread.of(counted[name]).seconds(), Spread.of(answered[name]).seconds(), *seen))
    titles = ("", "the count alone", "answer", "browser", "browser, still busy")
    return Section("The page", WORDS, (Table(titles, tuple(rows)),))


def _asked(desk: Workspace, tables: Tables) -> Callable[[], object]:
    return lambda: desk.do("summary", {"tables": tables})


@contextlib.contextmanager
def serving() -> Iterator[int]:
    """The port of a server that is ready and warm, ended with the block."""
    with started() as port:
        _answered(port, II_V_I)
        # The other workers start while the first one answers.
        sleep(SETTLING)
        yield port


@contextlib.contextmanager
def started(*options: str) -> Iterator[int]:
    """The port of a server as soon as it tells its address, ended with the block."""
    command = [sys.executable, "-m", "everyline.cli.main", "serve", "--port", "0", *options]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            found = re.search(r"http://[^/]+:(\d+)/", process.stdout.readline())
            if found is None:
                raise RuntimeError("the page's server did not start")
            yield int(found[1])
        finally:
            process.terminate()
            process.wait(20)


def _answered(port: int, tables: Tables) -> float:
    """Seconds on the clock from sending rules to their count."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    with contextlib.closing(connection):
        start = perf_counter()
        words = json.dumps({"tables": tables})
        connection.request("POST", "/api/rules", words, {"Content-Type": "application/json"})
        answer = connection.getresponse()
        text = answer.read()
        if answer.status != 200 or not int(json.loads(text)["count"]):
            raise RuntimeError(f"the page's server answered {answer.status}: {text[:200]!r}")
        return perf_counter() - start


STOPWATCH = """
addEventListener("keydown", (event) => {
  if (event.key === "Enter") window.stopwatch = { key: event.timeStamp };
}, true);
addEventListener("DOMContentLoaded", () => {
  const changed = () => {
    const watch = window.stopwatch;
    if (!watch || watch.seen) return;
    watch.seen = true;
    // After the next frame is laid out and painted, before any other work that waits for it.
    const stop = () => (watch.end = performance.now());
    requestAnimationFrame(() => scheduler.postTask(stop, { priority: "user-blocking" }));
  };
  new MutationObserver(changed).observe(document.getElementById("count"), { childList: true });
});
"""
"""A script for the page: when a key entered a rule, and when the next count was painted, in milliseconds."""


def chromium() -> str | None:
    """The path of the browser, where there is one."""
    return (
        os.environ.get("EVERYLINE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    )


def _on_screen(port: int, times: int, first: int = 0, rest: float = RESTING) -> dict[str, Spread]:
    """Seconds on the clock from the key to the count on the screen, for the changes from ``first`` on;
    nothing without a browser."""
    path = chromium()
    if path is None:
        return {}
    from playwright.sync_api import sync_playwright

    found = {}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        for name, tables in FORMS.items():
            page = browser.new_page()
            page.add_init_script(STOPWATCH)
            # The first change is not measured: it may wait for what the page loads once.
            changes = [varied(tables["changes"], number) for number in range(first, first + times + 1)]
            found[name] = Spread.of(_typed(page, port, changes, rest)[1:])
            page.close()
        browser.close()
    return found


def _typed(page: Page, port: int, changes: Sequence[str], rest: float) -> list[float]:
    """Seconds of each change of the chords, from the key to the count."""
    asked: set[Request] = set()
    page.on("request", lambda request: asked.add(request))
    page.on("requestfinished", lambda request: asked.discard(request))
    page.on("requestfailed", lambda request: asked.discard(request))
    page.goto(f"http://127.0.0.1:{port}/")
    page.wait_for_selector("html[data-ready=yes]")
    spent = []
    for each in changes:
        _rest(page, asked, rest)
        page.fill(CHANGES, each)
        page.press(CHANGES, "Enter")
        page.wait_for_function("() => window.stopwatch?.end")
        spent.append(page.evaluate("() => stopwatch.end - stopwatch.key") / 1000)
        page.evaluate("() => { window.stopwatch = null; }")
    return spent


def _rest(page: Page, asked: set[Request], most: float) -> None:
    """Wait until a page has nothing more to fetch, so many seconds at most."""
    end = perf_counter() + most
    quiet = 0
    while quiet < 3 and perf_counter() < end:
        page.wait_for_timeout(100)
        quiet = 0 if asked else quiet + 1


SEVENTHS = (
    *("Em7", "Am7", "Bm7", "Fmaj7", "Gm7", "E7", "D7", "B7", "Bbmaj7", "Cm7"),
    *("Fm7", "Ebmaj7", "Abmaj7", "Bb7", "F#m7", "Gmaj7", "Eb7", "Ab7", "Dbmaj7", "Bbm7"),
)


def varied(changes: str, number: int) -> str:
    """The changes with another first bar."""
    return f"{SEVENTHS[number % len(SEVENTHS)]} |{changes.partition('|')[2]}"
