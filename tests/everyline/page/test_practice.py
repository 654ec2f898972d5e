"""Practice on the page, in a real browser: whole rounds, keys alone, by ear, two windows; and what the
students' file has afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect

from everyline.practice.records import Grade, Kind
from everyline.practice.store import Store
from everyline.rules.line_text import parse_line
from tests.everyline.page.practising import given, practises, rounds
from tests.everyline.page.served import Served
from tests.everyline.page.test_access import RULES
from tests.everyline.page.visiting import address, space, visit

pytestmark = pytest.mark.browser


def opened(page: Page, served: Served, name: str, **more: Any) -> Locator:
    """The page of practice with a student's rounds of today."""
    practises(page.context, name, **more)
    visit(page, address(served, "practice", student=name))
    expect(page.locator(".rounds > li:not(.rest)")).not_to_have_count(0)
    return page.locator(".practice")


def grade(page: Page, value: str) -> None:
    page.locator(f'[data-grade="{value}"]').click()


def drawn(page: Page) -> None:
    """The round is on the screen with its music."""
    page.wait_for_selector(".round music-strip.large[data-ready]", state="attached")


def started(page: Page) -> None:
    expect(page.locator("#round-start")).to_have_text("Stop")


def test_a_day_of_rounds_is_in_the_students_file(page: Page, served: Served) -> None:
    """One new line: heard, played, and two more kinds (docs/plans.md); the tempo goes up after each clean
    round and down after one that did not go yet."""
    (line, *_) = given(served, "Ada")
    place = opened(page, served, "Ada", step=10)
    expect(place).to_contain_text("ask your teacher or a doctor")
    expect(page.locator(".round-row")).to_have_count(4)
    page.get_by_role("button", name="Begin").click()
    said = page.locator(".recorded")
    kinds = []
    for number, value in enumerate(("clean", "not yet", "clean", "with slips"), 1):
        drawn(page)
        heading = page.locator(".round-head h3")
        expect(heading).to_have_text(f"Round {number} of 4: Line 1, Over and back")
        kinds.append(page.locator(".task").inner_text())
        grade(page, value)
        expect(said).to_contain_text(f": {value}.")
    expect(place).to_contain_text("Today's rounds are done.")
    found = rounds(served, "Ada")
    assert [each.grade for each in found] == [Grade.CLEAN, Grade.NOT_YET, Grade.CLEAN, Grade.WITH_SLIPS]
    assert {each.line for each in found} == {line.id} and {each.key for each in found} == {"C"}
    assert [each.kind for each in found][:2] == [Kind.HEAR, Kind.PLAY]
    assert len({each.kind for each in found}) == 4
    tempo, wanted = 60, []
    for each in found:
        wanted.append(None if each.kind is Kind.SLIP else tempo)
        if each.kind is not Kind.SLIP:
            tempo = {Grade.CLEAN: tempo + 10, Grade.WITH_SLIPS: tempo, Grade.NOT_YET: max(60, tempo - 10)}[
                each.grade
            ]
    assert [each.tempo for each in found] == wanted and max(tempo, *filter(None, wanted)) > 60
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator(".round-head h3")).to_contain_text("Round 4 of 4")
    assert rounds(served, "Ada") == found[:3]
    drawn(page)
    grade(page, "clean")
    expect(said).to_contain_text(": clean.")
    assert [each.grade for each in rounds(served, "Ada")][3:] == [Grade.CLEAN]
    page.reload()
    expect(page.locator(".round-row[data-done=yes]")).to_have_count(4)


def test_a_line_is_given_on_the_page_and_practised(page: Page, served: Served) -> None:
    practises(page.context, "Oda")
    visit(page, address(served, "line", line="900"))
    page.get_by_role("button", name="Give to a student").click()
    page.get_by_label("Student", exact=True).select_option("a new student")
    page.get_by_label("Name", exact=True).fill("Oda")
    page.get_by_role("button", name="Give", exact=True).click()
    expect(page.locator("#say")).to_have_text("Given to Oda: 1 line.")
    with Store(served.students) as store:
        (line,) = store.student("Oda").lines
    assert line.number == 900
    (events,) = parse_line(line.notes, space().rules)
    assert events == space().line(900).events
    page.get_by_role("link", name="Practice").click()
    page.get_by_label("Student", exact=True).select_option("Oda")
    expect(page.locator(".round-row")).to_have_count(4)


def test_with_a_pedal_alone(page: Page, served: Served) -> None:
    """Page Down and Page Up are all that a pedal types."""
    given(served, "Bela")
    opened(page, served, "Bela", tempo=300, goal=300)
    page.keyboard.press("PageDown")
    drawn(page)
    page.keyboard.press("PageDown")
    started(page)
    page.keyboard.press("PageDown")
    expect(page.locator('[data-grade="clean"]')).to_be_focused()
    page.keyboard.press("PageUp")
    expect(page.locator('[data-grade="with slips"]')).to_be_focused()
    page.keyboard.press("PageDown")
    expect(page.locator(".round-head h3")).to_contain_text("Round 2 of 4")
    drawn(page)
    page.keyboard.press("ArrowLeft")
    expect(page.get_by_role("button", name="Go on")).to_be_focused()
    assert [each.grade for each in rounds(served, "Bela")] == [Grade.WITH_SLIPS]
    page.keyboard.press("Control+z")
    expect(page.locator(".round-head h3")).to_contain_text("Round 1 of 4")
    assert rounds(served, "Bela") == ()


def test_by_ear_two_bars_are_heard_and_two_are_the_players(page: Page, served: Served) -> None:
    given(served, "Cara")
    opened(page, served, "Cara", tempo=300, goal=300)
    page.get_by_role("button", name="Begin").click()
    drawn(page)
    strip, turn = page.locator(".round music-strip"), page.locator(".turn")
    expect(strip).to_be_hidden()
    page.evaluate(
        """() => {
          const place = document.querySelector(".turn");
          window.turns = [];
          const note = () => window.turns.push(place.textContent);
          new MutationObserver(note).observe(place, { childList: true });
        }"""
    )
    page.locator("#round-start").focus()
    page.keyboard.press("Space")
    expect(page.locator('[data-grade="clean"]')).to_be_focused()
    expect(turn).to_be_empty()
    heard, own = "Listen.", "Your turn: play it back."
    assert page.evaluate("window.turns") == [heard, own, heard, own, ""]
    page.get_by_role("button", name="Show the notes").click()
    expect(strip).to_be_visible()


def test_exercises_are_answered_on_the_screen(page: Page, served: Served) -> None:
    """A slip is found among the notes, and the line may sound only after the answer."""
    given(served, "Dora")
    opened(page, served, "Dora")
    page.get_by_role("button", name="find the slip").click()
    drawn(page)
    sounds = page.get_by_label("The line sounds")
    expect(sounds).to_be_disabled()
    said = page.locator(".answer-said")
    notes = page.get_by_role("group", name="Which note is wrong?").get_by_role("button")
    verdicts = []
    for place in range(notes.count()):
        notes.nth(place).click()
        verdicts.append(said.inner_text().split(":")[0])
    assert verdicts.count("Yes") == 1 and verdicts.count("No") == len(verdicts) - 1
    page.get_by_role("button", name="Show the answer").click()
    expect(page.locator(".answer")).to_contain_text(f"Note {verdicts.index('Yes') + 1} is")
    expect(sounds).to_be_enabled()


def test_two_windows_record_a_round_once(page: Page, served: Served) -> None:
    given(served, "Emil")
    opened(page, served, "Emil")
    other = page.context.new_page()
    visit(other, page.url)
    for each in (page, other):
        each.get_by_role("button", name="Begin").click()
        drawn(each)
    grade(page, "clean")
    expect(page.locator(".recorded")).to_contain_text("Recorded")
    grade(other, "not yet")
    expect(other.locator(".recorded")).to_contain_text("Another window has recorded this round")
    expect(other.locator(".round-head h3")).to_contain_text("Round 2 of 4")
    assert [each.grade for each in rounds(served, "Emil")] == [Grade.CLEAN]
    drawn(other)
    grade(other, "with slips")
    expect(other.locator(".round-head h3")).to_contain_text("Round 3 of 4")
    page.get_by_role("button", name="Back to the list").click()
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.locator(".round-row[data-done=yes]")).to_have_count(2)
    other.close()


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme="dark", has_touch=True, is_mobile=True
    )
    yield context.new_page()
    context.close()


def test_for_every_reader_on_a_phone(phone: Page, served: Served) -> None:
    given(served, "Fina")
    opened(phone, served, "Fina")
    phone.evaluate("document.querySelectorAll('.practice details').forEach((each) => (each.open = true))")
    reports = [Axe().run(phone, options=RULES)]
    widths = [phone.evaluate("document.documentElement.scrollWidth")]
    phone.get_by_role("button", name="find the slip").tap()
    drawn(phone)
    phone.get_by_role("button", name="Show the answer").tap()
    reports.append(Axe().run(phone, options=RULES))
    widths.append(phone.evaluate("document.documentElement.scrollWidth"))
    assert [found.violations_count for found in reports] == [0, 0], [
        found.generate_report()[:3000] for found in reports
    ]
    assert max(widths) <= 390
    phone.locator('[data-grade="with slips"]').tap()
    expect(phone.locator(".recorded")).to_contain_text("Recorded")
    assert [each.kind for each in rounds(served, "Fina")] == [Kind.SLIP]
