"""A student's file: all of it in one piece, nothing fetched, hidden notes silent, answers on demand."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from everyline import parse
from everyline.corpora.errors import InputError
from everyline.handout.write import PARTS, HandoutOptions, handout
from everyline.paper.score_options import ScoreOptions
from everyline.paper.sheet import SecondStaff, SheetExercise
from everyline.sound.performance import perform
from everyline.sound.sound_options import LINE, SoundOptions
from everyline.sound.sound_options import SECOND as SECOND_PART
from tests.everyline.page.served import Served
from tests.everyline.page.test_access import GUITAR, RULES
from tests.everyline.page.visiting import address, space, take, visit
from tests.sweeps import sweep

SPACE = parse('changes = "Dm7 | G7 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"\nposition = 5\n')
FIRST, SECOND = SPACE.line(1000), SPACE.line(200_000)
ANSWER = " ".join(note.name for note in SECOND.notes[2:4])
SET = (
    SheetExercise(FIRST, title="As it stands", remark="Slowly first."),
    SheetExercise(SECOND, task="Find the notes.", blanks=frozenset({2, 3}), labels=False, answer=ANSWER),
)
OPTIONS = HandoutOptions(ScoreOptions(fretboard="right"), sound=SoundOptions(tempi=(90,)))


def made() -> str:
    return handout("Monday <group>", SET, "A & B", OPTIONS).decode()


def pieces(text: str) -> list[dict[str, Any]]:
    found = re.search(r'id="notes">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


def test_it_says_what_it_was_given_and_is_the_same_again() -> None:
    text = made()
    assert text == made()
    assert "<title>Monday &lt;group&gt;</title>" in text and "A &amp; B" in text
    assert "Slowly first." in text and "Find the notes." in text
    assert text.count("<article") == 2 and text.count("<details>") == 1
    assert 'value="90"' in text


def test_nothing_in_it_points_outside() -> None:
    """No address but the name of the SVG language; its policy allows no loading at all."""
    text = made()
    assert set(re.findall(r"https?://[^\s\"'<>]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "default-src 'none'" in text
    assert not re.search(r"<(link|img|iframe|audio|video|object|embed)\b", text)
    assert set(re.findall(r'href="([^#][^"]*)"', text)) == set()
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    assert {name[1:] for name in re.findall(r'href="(#[^"]+)"', text)} <= set(ids)


def test_the_notes_are_those_of_the_performance_and_hidden_ones_are_silent() -> None:
    shown, hidden, whole = pieces(made())
    played = next(iter(perform(FIRST, OPTIONS.sound).passes))
    line = [each for each in shown["notes"] if each[0] == PARTS.index(LINE)]
    wanted = [each for each in played.notes if each.part == LINE]
    assert [(n[1], n[3], n[5]) for n in line] == [
        (pytest.approx(n.start, abs=1e-3), n.pitch, n.index) for n in wanted
    ]
    assert {PARTS[part] for part, *_ in shown["notes"]} == set(PARTS) - {SECOND_PART}
    heard = {each[5] for each in hidden["notes"] if each[0] == 0}
    assert heard == set(range(len(SECOND.notes))) - {2, 3}
    assert {each[5] for each in whole["notes"] if each[0] == 0} == set(range(len(SECOND.notes)))


def test_a_second_part_is_drawn_named_and_played() -> None:
    """Below a line of the same rhythm another one, with a tick of its own; one at concert pitch is seen
    alone."""
    one = SheetExercise(FIRST, second=SecondStaff(FIRST))
    text = handout("Two", [one, SheetExercise(FIRST)]).decode()
    both, alone = pieces(text)
    first, second = (
        [each[1:4] + each[5:] for each in both["notes"] if PARTS[each[0]] == part]
        for part in (LINE, SECOND_PART)
    )
    assert first == second and len(first) == len(FIRST.notes)
    assert SECOND_PART not in {PARTS[each[0]] for each in alone["notes"]}
    assert 'id="x1w-m1-0"' in text and 'id="x2w-m1-0"' not in text
    assert "Second part" in text and "Second part" not in made()


def test_of_moderate_size() -> None:
    assert len(handout("", SET)) < 300_000


def test_no_exercise_is_refused() -> None:
    with pytest.raises(InputError, match="no exercise to write"):
        handout("", ())


LOOKS = [("dark", (390, 844)), ("light", (1100, 900))]


@pytest.mark.browser
@pytest.mark.parametrize(("theme", "size"), LOOKS[: sweep(small=1, full=2)])
def test_it_opens_from_disk_without_a_network_plays_and_answers(
    browser: Browser, tmp_path: Path, theme: Any, size: tuple[int, int]
) -> None:
    (tmp_path / "set.html").write_bytes(handout("Monday", SET, options=OPTIONS))
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme=theme, offline=True
    )
    page = context.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto((tmp_path / "set.html").as_uri())
    page.get_by_role("button", name="Play").first.click()
    page.wait_for_selector("article:nth-of-type(1) .lit:visible")
    page.get_by_role("button", name="Stop").click()
    page.wait_for_function("() => !document.querySelector('.lit')")
    assert not page.get_by_text(ANSWER, exact=True).is_visible()
    page.get_by_text("Answer", exact=True).click()
    assert page.get_by_text(ANSWER.replace("b", "♭").replace("#", "♯"), exact=True).is_visible()
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, found.generate_report()[:3000]
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    _printed(page)
    context.close()
    assert len(asked) == 1 and asked[0].startswith("file:")
    assert complaints == []


def _printed(page: Page) -> None:
    """On paper stand music and tasks, no control and no answer."""
    page.emulate_media(media="print")
    assert not page.locator("button:visible, .player:visible, details:visible").count()
    assert page.locator(".wide svg:visible").count() == 2 and page.get_by_text("Find the notes.").is_visible()


@pytest.mark.browser
def test_the_page_makes_it_of_a_lesson_and_of_a_drill_set(page: Page, served: Served) -> None:
    """The lines are those kept, and a drill set brings its answers."""
    visit(page, address(served, "lines", GUITAR, fretboard="right"))
    for number in (1, 3):
        page.get_by_role("button", name=f"Keep line {number} in the lesson").click()
    page.get_by_role("link", name="Lesson (2)").click()
    name, data = take(page, "One file for the student")
    text = data.decode()
    assert name == "lesson.html" and text.count("<article") == 2 and 'class="fretted"' in text
    wanted = [[note.pitch for note in space(GUITAR).line(number).notes] for number in (1, 3)]
    assert [[each[3] for each in piece["notes"] if each[0] == 0] for piece in pieces(text)] == wanted
    page.get_by_role("link", name="Drills").click()
    page.get_by_label("How many exercises", exact=True).fill("2")
    page.get_by_label("fill in the notes that are blank").check()
    page.get_by_role("button", name="Make the set").click()
    page.wait_for_selector(".exercise", timeout=60_000)
    name, data = take(page, "One file for the student")
    assert name == "drill.html" and data.decode().count("<article") == 2
