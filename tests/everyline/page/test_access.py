"""The page for everybody: an automated accessibility run, keyboard alone, a phone, large print, both themes.

The rules behind the run are those of WCAG 2.2 at level AA, as axe-core 4 checks them.
"""

from __future__ import annotations

import json
from itertools import count
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.everyline.page.practising import given, practises
from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import NO_LINE, address, unfold, visit
from tests.sweeps import sweep, sweep_size

pytestmark = pytest.mark.browser

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
SIZES = {"desktop": (1280, 900), "tablet": (820, 1180), "phone": (390, 844)}
PLAN = {
    "changes": "F7 | Bb7 | F7 | Cm7 F7",
    "range": {"lowest": "A3", "highest": "C5"},
    "approach": {"figures": ["above-below"], "count": ["0-1"]},
    "ending": {"use": ["plain"]},
    "phrase": [{"name": "A", "bars": "1-3"}],
}
STUDENTS = count(1)
"""Each visit has a student of its own."""
GUITAR = {**II_V_I, "range": {"instrument": "guitar", "position": 5}}


def _lines(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", GUITAR))
    page.wait_for_selector(".strip music-strip[data-ready]", timeout=60_000)
    _unfolded(page)


def _unfolded(page: Page) -> None:
    """All rules are open."""
    unfold(page)
    page.evaluate("document.querySelectorAll('details.part').forEach((part) => (part.open = true))")


def _line(page: Page, served: Served) -> None:
    visit(page, address(served, "line", GUITAR, line="17"))
    page.wait_for_selector("music-strip[data-ready]", timeout=60_000)


def _first(page: Page, served: Served) -> None:
    visit(page, f"{served.address}/")
    page.wait_for_selector(".strip music-strip[data-ready]", timeout=60_000)


def _build(page: Page, served: Served) -> None:
    visit(page, address(served, "build", GUITAR))
    page.locator(".next-note").first.click()
    page.wait_for_selector(".build music-strip[data-ready]", timeout=60_000)


def _checked(page: Page, served: Served) -> None:
    visit(page, address(served, "check", GUITAR))
    page.get_by_label("The notes", exact=True).fill("D4 F4 A4 C5 B4:4")
    page.get_by_role("button", name="Check it").click()
    page.wait_for_selector(".near music-strip[data-ready]", timeout=60_000)


def _keys(page: Page, served: Served) -> None:
    visit(page, address(served, "check", II_V_I))
    page.get_by_label("Play it on").select_option("keys")


def _lesson(page: Page, served: Served) -> None:
    _line(page, served)
    page.get_by_role("button", name="Keep line 17 in the lesson").click()
    page.get_by_role("link", name="Lesson (1)").click()
    page.wait_for_selector("music-strip[data-ready]", timeout=60_000)


def _drills(page: Page, served: Served) -> None:
    visit(page, address(served, "drills", GUITAR))
    page.get_by_label("fill in the notes that are blank").check()
    page.get_by_role("button", name="Make the set").click()
    page.wait_for_selector(".exercise", timeout=60_000)


def _conflicts(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", NO_LINE))
    page.wait_for_selector(".remedies", timeout=60_000)


def _file(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", II_V_I))
    page.click("#file-open")


def _trouble(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", {"changes": "Dm7 | Hm7"}))
    expect(page.locator("#trouble")).to_be_visible()


def _plan(page: Page, served: Served) -> None:
    visit(page, address(served, "plan", GUITAR, plan=json.dumps(PLAN)))
    page.wait_for_selector(".plan music-strip[data-ready]", timeout=60_000)
    # The statistics of a phrase look like those of all choruses, which are open.
    parts = ".plan details:not(.phrase-editor .statistics)"
    page.evaluate(f"document.querySelectorAll('{parts}').forEach((each) => (each.open = true))")


def _practice(page: Page, served: Served) -> None:
    name = f"Vera {next(STUDENTS)}"
    given(served, name)
    practises(page.context, name)
    visit(page, address(served, "practice", student=name))
    page.wait_for_selector(".round-row", timeout=60_000)


def _round(page: Page, served: Served) -> None:
    _practice(page, served)
    page.get_by_role("button", name="Begin").click()
    page.wait_for_selector(".round music-strip.large[data-ready]", state="attached", timeout=60_000)


STATES = {
    "first": _first,
    "lines": _lines,
    "build": _build,
    "line": _line,
    "checked": _checked,
    "keys": _keys,
    "lesson": _lesson,
    "drills": _drills,
    "conflicts": _conflicts,
    "file": _file,
    "trouble": _trouble,
    "plan": _plan,
    "practice": _practice,
    "round": _round,
}
"""Every state of the page, and how one comes there."""


BOTH = ("light", "dark")
THEMES = [
    (state, theme)
    for place, state in enumerate(STATES)
    for theme in (BOTH if sweep_size() == "full" else BOTH[place % 2 :][:1])
]
"""Every state in both themes, in the small sweep in one of them by turns."""

SMALL = """() => [...document.querySelectorAll('button, select, summary, textarea, a[href], .button-like, '
        + 'label:has(input), input:not([type=checkbox], [type=radio], [type=file])')]
    .filter((each) => each.checkVisibility() && !each.matches('.skip, .other-spot'))
    .filter((each) => getComputedStyle(each).display !== 'inline')
    .map((each) => [each.outerHTML.slice(0, 120), each.getBoundingClientRect()])
    .filter(([, box]) => box.width && (box.width < 43.5 || box.height < 43.5))
    .map(([each, { width, height }]) => [each, Math.round(width), Math.round(height)])"""
"""What a finger may miss: smaller than 44 pixels either way (WCAG 2.2, success criterion 2.5.5), but links in
a sentence and places on the staff that are offered in a list too."""


@pytest.mark.parametrize(("state", "theme"), THEMES)
def test_a_finger_finds_everything_and_axe_no_violation(
    browser: Browser, served: Served, state: str, theme: Any
) -> None:
    """On a phone nothing runs over the edge and nothing is small; the phone is as narrow as a workspace at
    four times its print, so this holds the 200 % zoom too. Then axe, on a desktop."""
    width, height = SIZES["phone"]
    look = {"viewport": {"width": width, "height": height}, "color_scheme": theme}
    context = browser.new_context(**look, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    context.set_default_timeout(60_000)
    page = context.new_page()
    STATES[state](page, served)
    for size in list(SIZES)[sweep(small=2, full=0) :]:
        page.set_viewport_size(dict(zip(("width", "height"), SIZES[size], strict=True)))  # type: ignore[arg-type]
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0], size
        assert page.evaluate(SMALL) == [], size
    page.set_viewport_size({"width": 1280, "height": 900})
    if state == "lines":
        _unfolded(page)
    found = Axe().run(page, options=RULES)
    context.close()
    assert found.violations_count == 0, found.generate_report()[:4000]


# A window of 1280 by 900 at 200 % has half as many pixels of a style sheet.
SMALLER = {"tablet": (820, 1180), "zoomed": (640, 450), "phone": (390, 844)}


@pytest.mark.parametrize("state", list(STATES)[: sweep(small=1, full=len(STATES))])
def test_no_violation_where_there_is_less_room(browser: Browser, served: Served, state: str) -> None:
    page = browser.new_page(viewport={"width": 820, "height": 1180})
    STATES[state](page, served)
    for size, (width, height) in SMALLER.items():
        page.set_viewport_size({"width": width, "height": height})
        for theme in BOTH[: sweep(small=1, full=2)]:
            page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
            found = Axe().run(page, options=RULES)
            assert found.violations_count == 0, (size, theme, found.generate_report()[:4000])
    page.close()


def test_keyboard_alone(page: Page, served: Served) -> None:
    """From the address to a changed rule, an opened line, listening and a kept line, without a pointer."""
    visit(page, address(served, "lines"))
    page.wait_for_selector(".strip music-strip[data-ready]")

    def tab_to(name: str, limit: int = 200) -> None:
        for _ in range(limit):
            page.keyboard.press("Tab")
            text = page.evaluate(
                "(document.activeElement.getAttribute('aria-label') || document.activeElement.textContent"
                " || '').trim()"
            )
            if text.startswith(name):
                return
        raise AssertionError(f"the Tab key does not come to {name!r}")

    tab_to("To the lines")
    tab_to("Rules")
    page.keyboard.press("Enter")
    tab_to("Into the next chord")
    page.keyboard.press("Enter")
    page.wait_for_selector("#part-handoff input")
    # What explains the rule comes before it.
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.key") == "handoff.rule nearest"
    before = page.locator("#count").inner_text()
    page.keyboard.press("ArrowDown")
    expect(page.locator("#count")).not_to_have_text(before)
    # The focus is still on the control, though the rules were drawn anew.
    assert page.evaluate("document.activeElement.dataset.key") == "handoff.rule nearest-or-common"
    page.wait_for_selector(".strip .number")
    tab_to("Line 1:")
    page.keyboard.press("Enter")
    expect(page.locator(".one-line h2")).to_contain_text("No. 1")
    assert page.evaluate("document.activeElement.id") == "content"
    tab_to("Keep line 1 in the lesson")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="Lesson (1)")).to_be_visible()
    tab_to("Listen")
    page.keyboard.press("Enter")
    page.wait_for_selector("tr.now", timeout=60_000)


def test_the_fretboard_is_one_tab_stop_and_arrows_move_on_it(page: Page, served: Served) -> None:
    visit(page, address(served, "check"))
    first = page.get_by_role("button", name="string 1, fret 0")
    first.focus()
    for key in ("ArrowDown", "ArrowDown", "ArrowRight", "ArrowRight"):
        page.keyboard.press(key)
    page.keyboard.press("Enter")
    expect(page.get_by_label("The notes", exact=True)).to_have_value("A3")
    assert page.locator(".board button[tabindex='0']").count() == 1


def test_a_lines_notes_are_read_out(page: Page, served: Served) -> None:
    visit(page, address(served, "line", line="17"))
    page.wait_for_selector("music-strip[data-ready]")
    names = [each.strip() for each in page.locator("table.notes tbody th").all_inner_texts()]
    expect(page.get_by_role("img", name=f"Line 17: {' '.join(names)}")).to_be_visible()


def test_the_theme_can_be_changed_and_stays(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    ground = "getComputedStyle(document.body).backgroundColor"
    before = page.evaluate(ground)
    page.get_by_role("button", name="Dark", exact=True).click()
    after = page.evaluate(ground)
    assert after != before
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    assert page.evaluate(ground) == after
