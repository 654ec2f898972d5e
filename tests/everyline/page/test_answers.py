"""What the page answers with: verdicts and corrections, sets of any size, sound, paper."""

from __future__ import annotations

import io

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.everyline.page.served import Served
from tests.everyline.page.visiting import address, space, take, visit

pytestmark = pytest.mark.browser


RINGED = """() => document.querySelector('.answer > music-strip').shadowRoot
    .querySelectorAll('[id^=n] .ring').length"""

SOUNDING = "[...document.querySelectorAll('table.notes tbody tr')].findIndex((each) => each.matches('.now'))"


def test_check_rings_what_the_smallest_correction_changes_and_uses_it(page: Page, served: Served) -> None:
    line = space().line(40)
    notes = [note.name for note in line.notes]
    typed = " ".join([*notes[:2], "C#5", *notes[3:-1], f"{notes[-1]}:4"])
    visit(page, address(served, "check", notes=typed))
    expect(page.locator(".verdict.bad")).to_be_visible()
    page.locator(".answer > music-strip[data-ready]").wait_for()
    assert page.evaluate(RINGED) == 1
    page.get_by_role("button", name="Hear mine").click()
    near = page.locator(".near")
    changes = near.evaluate_all("(all) => all.map((each) => each.querySelectorAll('ul > li').length)")
    assert changes == sorted(changes) and changes[0] == 1
    near.first.get_by_role("button", name="Use line").click()
    expect(page.locator(".verdict.good")).to_be_in_viewport()
    expect(page.locator(".verdict.good")).to_contain_text("It is a line")


def test_a_set_of_a_hundred_is_made_with_progress_and_can_be_stopped(page: Page, served: Served) -> None:
    wish = {"drill.how_many": "100", "drill.kinds": '["play","complete","slip"]'}
    visit(page, address(served, "drills", **wish))
    expect(page.get_by_label("How many exercises", exact=True)).to_have_value("100")
    page.get_by_role("button", name="Make the set").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    page.get_by_role("button", name="Cancel").click()
    expect(page.locator("#say")).to_contain_text("Stopped")
    expect(page.get_by_role("progressbar")).to_have_count(0)
    page.get_by_role("button", name="Make the set").click()
    expect(page.locator(".exercise")).to_have_count(100)
    name, data = take(page, "Sheet (PDF)")
    assert name == "drill.pdf"
    text = "".join(part.extract_text() for part in PdfReader(io.BytesIO(data)).pages)
    assert "100" in text
    page.get_by_label("How many exercises", exact=True).fill("2")
    page.get_by_label("How many exercises", exact=True).press("Enter")
    expect(page.locator(".old-words")).to_be_visible()
    assert "drill.how_many=2" in page.url


def test_exercises_to_be_played_have_no_answers_to_download(page: Page, served: Served) -> None:
    visit(page, address(served, "drills", **{"drill.how_many": "2"}))
    page.get_by_role("button", name="Make the set").click()
    expect(page.locator(".exercise")).to_have_count(2)
    expect(page.get_by_role("button", name="Answers (PDF)")).to_be_disabled()
    page.get_by_role("button", name="Hear exercise 1").click()
    page.wait_for_function(
        "() => document.querySelector('.exercise music-strip').shadowRoot.querySelector('.lit') !== null"
    )
    page.get_by_role("button", name="Hear exercise 1").click()


def test_the_tempo_shown_is_the_tempo_played(page: Page, served: Served) -> None:
    visit(page, address(served, "line", line="17"))
    tempo = page.get_by_label("Tempo")
    tempo.fill("99999")
    tempo.press("Tab")
    expect(tempo).to_have_value("400")
    tempo.fill("60")
    tempo.press("Tab")
    page.get_by_role("button", name="Listen").click()
    # In the middle of the bars another tempo goes on there: the first notes do not sound again.
    page.wait_for_function(f"() => {SOUNDING} >= 2")
    page.evaluate(f"""() => {{
        window.seen = [];
        const look = () => seen.push({SOUNDING});
        const rows = document.querySelector('table.notes tbody');
        new MutationObserver(look).observe(rows, {{ subtree: true, attributeFilter: ['class'] }});
    }}""")
    tempo.fill("300")
    tempo.press("Tab")
    page.wait_for_function("() => seen.some((each) => each >= 8)")
    assert not {0, 1} & set(page.evaluate("seen"))
    page.get_by_role("button", name="Stop").click()


def test_paper_has_titles_remarks_and_exercises_and_no_controls(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", order="number"))
    page.get_by_role("button", name="Keep line 1 in the lesson").click()
    page.get_by_role("link", name="Lesson (1)").click()
    for label, words in (("Title", "Monday"), ("Remark to the student", "Slowly"), ("Remark", "Swing it")):
        field = page.get_by_label(label, exact=True).first
        field.fill(words)
        field.press("Tab")
    page.locator("music-strip[data-ready]").wait_for()
    page.emulate_media(media="print")
    for words in ("Monday", "Slowly", "Swing it"):
        expect(page.locator(".lesson-page").get_by_text(words, exact=True)).to_be_visible()
    page.emulate_media(media="screen")
    undrawn = "document.querySelectorAll('music-strip:not([data-ready])').length"
    page.evaluate(f"() => {{ window.prints = []; window.print = () => prints.push({undrawn}); }}")
    page.get_by_role("link", name="Drills").click()
    page.get_by_role("button", name="Make the set").click()
    expect(page.locator(".exercise")).to_have_count(12)
    page.get_by_role("button", name="Print this page").click()
    page.wait_for_function("() => prints.length === 1")
    assert page.evaluate("prints") == [0]
    page.emulate_media(media="print")
    expect(page.locator(".exercise")).to_have_count(12)
    for control in ("button", "input", "select", "legend", "#rules"):
        assert page.locator(f"{control}:visible").count() == 0, control
