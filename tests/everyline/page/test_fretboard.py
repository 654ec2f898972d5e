"""The fretboard under every line: one control, kept in the address, for either hand, its notes lit too."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.test_access import GUITAR, RULES
from tests.everyline.page.visiting import address, space, visit
from tests.sweeps import sweep

pytestmark = pytest.mark.browser

STRIP = "document.querySelector('music-strip')?.shadowRoot"
FRETTED = f"() => {STRIP}?.querySelectorAll('.fretted .note').length ?? 0"
FIRST = f"() => {STRIP}?.getElementById('f1-0')?.getBoundingClientRect().x ?? 0"
LIT = f"() => [...{STRIP}.querySelectorAll('.lit')].map((each) => each.id)"


def test_one_control_shows_it_under_every_line_and_the_address_keeps_it(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", GUITAR))
    page.wait_for_selector(".strip music-strip[data-ready]")
    assert page.evaluate(FRETTED) == 0
    page.get_by_label("Fretboard", exact=True).select_option("right-handed")
    page.wait_for_function(f"() => ({FRETTED})() > 0")
    assert "fretboard=right" in page.url
    number = page.locator(".strip .number").first.inner_text()
    line = space(GUITAR).line(int("".join(c for c in number if c.isdigit())))
    assert page.evaluate(FRETTED) == len(line.notes)
    page.locator(".strip .number").first.click()
    page.wait_for_selector(".line music-strip[data-ready], music-strip.large[data-ready]")
    assert page.evaluate(FRETTED) == len(line.notes)
    right = page.evaluate(FIRST)
    page.get_by_label("Fretboard", exact=True).select_option("left-handed")
    page.wait_for_function(f"(before) => ![0, before].includes(({FIRST})())", arg=right)
    page.reload()
    page.wait_for_selector("music-strip.large[data-ready]")
    assert page.evaluate(FRETTED) == len(line.notes)
    words = page.locator("music-strip.large svg").get_attribute("aria-label") or ""
    assert f"1 {line.notes[0].name}, string" in words


def test_a_note_is_lit_on_it_too(page: Page, served: Served) -> None:
    visit(page, address(served, "line", GUITAR, line="17", fretboard="right"))
    page.wait_for_selector("music-strip.large[data-ready]")
    page.locator("table.notes tbody tr").nth(2).hover()
    assert {"n1-2", "t1-2", "f1-2"} <= set(page.evaluate(LIT))


def test_none_without_frets(page: Page, served: Served) -> None:
    visit(page, address(served, "line", II_V_I, line="17", fretboard="right"))
    page.wait_for_selector("music-strip.large[data-ready]")
    assert page.evaluate(FRETTED) == 0
    expect(page.get_by_label("Fretboard", exact=True)).to_have_count(0)


LOOKS = [("dark", (390, 844)), ("light", (1280, 900))]


@pytest.mark.parametrize(("theme", "size"), LOOKS[: sweep(small=1, full=2)])
def test_for_every_reader_and_size(browser: Browser, served: Served, theme, size) -> None:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=theme)
    page = context.new_page()
    visit(page, address(served, "lines", GUITAR, fretboard="right"))
    page.wait_for_selector(".strip music-strip[data-ready]")
    found = Axe().run(page, options=RULES)
    wide = page.evaluate("document.documentElement.scrollWidth")
    context.close()
    assert found.violations_count == 0, found.generate_report()[:4000]
    assert wide <= size[0]
