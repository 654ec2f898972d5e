"""The page for everybody: an automated accessibility run, keyboard alone, a phone, large print, both themes.

The rules behind the run are those of WCAG 2.2 at level AA, as axe-core 4 checks them.
"""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import NO_LINE, address, unfold, visit
from tests.sweeps import sweep, sweep_size

pytestmark = pytest.mark.browser

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
SIZES = {"desktop": (1280, 900), "tablet": (820, 1180), "phone": (390, 844)}
GUITAR = {**II_V_I, "range": {"instrument": "guitar", "position": 5}}


def _lines(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", GUITAR))
    page.wait_for_selector(".strip music-strip[data-ready]", timeout=60_000)
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
}
"""Every state of the page, and how one comes there."""


BOTH = ("light", "dark")
THEMES = [
    (state, theme)
    for place, state in enumerate(STATES)
    for theme in (BOTH if sweep_size() == "full" else BOTH[place % 2 :][:1])
]
"""Every state in both themes, in the small sweep in one of them by turns."""


@pytest.mark.parametrize(("state", "theme"), THEMES)
def test_no_violation(browser: Browser, served: Served, state: str, theme: Any) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, color_scheme=theme)
    page = context.new_page()
    STATES[state](page, served)
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
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            found = Axe().run(page, options=RULES)
            assert found.violations_count == 0, (size, theme, found.generate_report()[:4000])
    page.close()


@pytest.mark.parametrize("size", list(SIZES)[sweep(small=2, full=0) :])  # the phone, where room is least
@pytest.mark.parametrize("state", STATES)
def test_nothing_runs_over_the_edge(browser: Browser, served: Served, state: str, size: str) -> None:
    """The phone is as narrow as a workspace at four times its print, so this holds the 200 % zoom too."""
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    STATES[state](page, served)
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert wide <= width


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
