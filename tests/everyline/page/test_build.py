"""A line built on the page, by mouse, keyboard and touch: counts, targets and reasons are the engine's."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from everyline.rules.line import Events
from everyline.spaces.building import build
from everyline.spaces.why_not import why_not
from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.test_access import RULES
from tests.everyline.page.visiting import address, counted, space, visit

pytestmark = pytest.mark.browser

GUITAR = {**II_V_I, "range": {"instrument": "guitar", "lowest": "E3", "highest": "E5"}}
WHOLE = space(GUITAR)
BOARDS = {"staff": ".staff-board", "neck": ".board", "keys": ".keys"}


def standing(page: Page, begun: Events) -> None:
    """The page has taken the notes: their count is on the screen."""
    expect(page.locator(".standing b")).to_have_text(counted(WHOLE.after(begun).count))


def digits(text: str) -> int:
    return int("".join(each for each in text if each.isdigit()))


@pytest.mark.parametrize("board", BOARDS)
def test_every_board_has_the_counts_of_the_engine(page: Page, served: Served, board: str) -> None:
    visit(page, address(served, "build", GUITAR, board=board, begun="[[0,62,240],[240,65,240]]"))
    page.wait_for_selector(BOARDS[board])
    wanted = {note.event.pitch: note.count for note in WHOLE.after("D4 F4").notes}
    found = {}
    for spot in page.locator(f"{BOARDS[board]} [data-pitch]").all():
        name = spot.get_attribute("aria-label") or ""
        if "line" in name.rpartition(":")[2]:
            found[int(spot.get_attribute("data-pitch") or 0)] = digits(name.rpartition(":")[2])
    assert found == wanted
    assert (
        page.get_by_role("button", name="Fretboard").get_attribute("aria-pressed")
        == str(board == "neck").lower()
    )


def test_by_mouse_on_the_staff(page: Page, served: Served) -> None:
    line = WHOLE.line(40).events
    visit(page, address(served, "build", GUITAR))
    for place, event in enumerate(line[:4]):
        standing(page, line[:place])
        page.locator(f".staff-board [data-pitch='{event.pitch}']").click()
    standing(page, line[:4])
    names = [note.name for note in WHOLE.line(40).notes[:4]]
    expect(page.locator("music-strip.large svg")).to_have_attribute("aria-label", " ".join(names))
    ahead = build(WHOLE, line[:4]).ahead
    assert ahead is not None
    expect(page.locator(".ahead")).to_contain_text(f"{ahead.chord} on {ahead.place}")
    page.get_by_role("button", name="Take back").click()
    standing(page, line[:3])


def test_by_keyboard_on_the_fretboard(page: Page, served: Served) -> None:
    """String 2 is B3 open: three frets up is D4, and from there six are F4 (common practice)."""
    visit(page, address(served, "build", GUITAR, board="neck"))
    page.locator(".board [tabindex='0']").focus()
    page.keyboard.press("ArrowDown")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    expect(page.locator(".told")).to_contain_text("D4, 1 of Dm7")
    page.keyboard.press("Enter")
    first = WHOLE.after("D4").beginning
    standing(page, first)
    expect(page.locator(".board button:focus")).to_have_attribute("data-place", "string 2, fret 3: 62")
    page.keyboard.press("Enter")
    expect(page.locator(".told")).to_contain_text("repeats the note before it")
    page.keyboard.press("Backspace")
    standing(page, ())


def test_by_touch_on_the_keyboard(browser: Browser, served: Served) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    line = WHOLE.line(40).events
    visit(page, address(served, "build", GUITAR, board="keys"))
    for place, event in enumerate(line[:3]):
        standing(page, line[:place])
        black = event.pitch % 12 in (1, 3, 6, 8, 10)
        key = page.locator(f".keys [data-pitch='{event.pitch}']")
        key.tap(position={"x": 12, "y": 20 if black else 120})
    standing(page, line[:3])
    page.get_by_role("button", name="smoothest").tap()
    page.wait_for_selector(".whole-line")
    context.close()


def test_what_a_note_begins_and_why_another_is_not_offered(page: Page, served: Served) -> None:
    visit(page, address(served, "build", GUITAR, begun="[[0,62,240],[240,65,240]]", board="neck"))
    steps = {step.name: step for step in build(WHOLE, "D4 F4").steps}
    row = page.locator(".next-note", has_text="E4").first
    expect(row.locator(".next-words")).to_have_text(steps["E4"].words[0])
    page.locator(".board .closed[data-pitch='65']").first.click()
    expect(page.locator(".told")).to_have_text(why_not(WHOLE, "D4 F4", "F4").sentence)
    page.locator(".board .out").first.click()
    expect(page.locator(".told")).to_contain_text("is out of range")


def test_another_moment_has_its_own_notes(page: Page, served: Served) -> None:
    """Where a note may last an eighth or a quarter, the board shows one of them, and the buttons which."""
    tables = {**GUITAR, "rhythm": {"cells": ["8 8", "4"]}, "approach": {"count": ["0"]}}
    visit(page, address(served, "build", tables, board="keys"))
    page.get_by_role("button", name="bar 1, beat 1, quarter").click()
    quarters = {n.event.pitch: n.count for n in space(tables).after().notes if n.event.length == 480}
    shown = page.locator(".keys .offered")
    expect(shown).to_have_count(len(quarters))
    for key in shown.all():
        pitch = int(key.get_attribute("data-pitch") or 0)
        assert digits((key.get_attribute("aria-label") or "").rpartition(":")[2]) == quarters[pitch]


def test_the_address_keeps_board_and_notes(page: Page, served: Served) -> None:
    visit(page, address(served, "build", GUITAR))
    page.get_by_role("button", name="Fretboard").click()
    page.locator(".board [data-pitch='62']").first.click()
    standing(page, WHOLE.after("D4").beginning)
    page.reload()
    page.wait_for_selector(".board")
    standing(page, WHOLE.after("D4").beginning)


@pytest.mark.parametrize(
    ("board", "theme", "size"),
    [("staff", "light", (1280, 900)), ("neck", "dark", (390, 844)), ("keys", "light", (390, 844))],
)
def test_for_every_reader_and_size(
    browser: Browser, served: Served, board: str, theme: Any, size: tuple[int, int]
) -> None:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=theme)
    page = context.new_page()
    visit(page, address(served, "build", GUITAR, board=board, begun="[[0,62,240]]"))
    page.wait_for_selector(".build music-strip[data-ready]")
    found = Axe().run(page, options=RULES)
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert found.violations_count == 0, found.generate_report()[:3000]
    assert wide <= size[0]
