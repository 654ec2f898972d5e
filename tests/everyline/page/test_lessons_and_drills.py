"""Lessons and drill sets in a real Chromium: kept, changed in two windows, printed, taken away."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import Page, expect

from everyline.drill.spec import SAMPLINGS
from everyline.files.lessons import line_notes
from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import address, space, take, visit
from tests.sweeps import sweep

pytestmark = pytest.mark.browser


def test_a_lesson_is_kept_and_taken_away(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    for number in (1, 3):
        page.get_by_role("button", name=f"Keep line {number} in the lesson").click()
    page.get_by_role("link", name="Lesson (2)").click()
    page.get_by_label("Title").first.fill("Monday")
    page.get_by_label("Title").first.press("Tab")
    page.get_by_role("button", name="Move line 2 earlier").click()
    name, data = take(page, "Text")
    text = data.decode()
    assert text.index("line 3") < text.index("line 1,")
    name, data = take(page, "Keep as a lesson file")
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    page.get_by_role("link", name="Lesson (2)").click()
    expect(page.locator("h2", has_text="Monday")).to_be_visible()
    expect(page.locator(".lesson-item music-strip[data-ready]")).to_have_count(2)
    page.get_by_role("button", name="Empty the lesson").click()
    expect(page.locator(".lesson-item")).to_have_count(0)
    page.set_input_files("#lesson-pick", {"name": name, "mimeType": "text/plain", "buffer": data})
    expect(page.locator(".lesson-item")).to_have_count(2)
    expect(page.locator(".lesson-item h3").first).to_contain_text("No. 3")


def test_a_kept_line_stays_the_line_that_was_kept(page: Page, served: Served) -> None:
    """Its notes say which it is, as if its number had come to mean another line since; one that was kept by
    its number alone is kept with its notes from now on, where the number still means them."""
    lines = {number: space().line(number) for number in (3, 9, 17)}
    names = {number: " ".join(note.name for note in line.notes) for number, line in lines.items()}
    rest = {"rules": II_V_I, "title": "", "remark": ""}
    old = [{"number": "3", "notes": names[3], **rest}, {"number": "4", "notes": names[9], **rest}]
    known = {"number": "5", "notes": names[17], "kept_as": line_notes(lines[17]), **rest}
    lesson = {"title": "", "remark": "", "items": [*old, known]}
    page.add_init_script(f"localStorage.lesson ??= JSON.stringify({json.dumps(lesson)})")
    visit(page, f"{served.address}/#lesson")
    items = page.locator(".lesson-item")
    expect(items.locator("music-strip[data-ready]")).to_have_count(3)
    expect(items.nth(0).get_by_role("status", include_hidden=True)).to_be_hidden()
    expect(items.nth(1).get_by_role("status")).to_contain_text(f"Its notes were {names[9]}")
    expect(items.nth(2).get_by_role("status")).to_contain_text("was line 5 then and is now line 17")
    stored = json.loads(page.evaluate("localStorage.lesson"))["items"]
    assert [each.get("kept_as") for each in stored] == [line_notes(lines[3]), None, line_notes(lines[17])]
    _, data = take(page, "Keep as a lesson file")
    assert line_notes(lines[17]) in data.decode()
    # Moved, it has other notes and the same title; one step back, and it is what it was.
    page.get_by_label("Move line 3 to another octave or key").select_option("octave-up")
    high = names[17].replace("4", "5").replace("3", "4")
    expect(items.nth(2).get_by_role("img")).to_have_attribute("aria-label", re.compile(high))
    page.keyboard.press("Control+z")
    page.get_by_role("button", name="Open line 3").click()
    expect(page.locator(".one-line h2")).to_contain_text("No. 17")


def test_two_windows_keep_one_lesson(page: Page, served: Served) -> None:
    """What one window keeps, the other shows and does not write over."""
    visit(page, address(served, "lesson"))
    other = page.context.new_page()
    visit(other, address(served, "lines"))
    other.get_by_role("button", name="Keep line 2 in the lesson").click()
    expect(page.locator(".lesson-item")).to_have_count(1)
    page.get_by_role("link", name="Lines", exact=True).click()
    page.get_by_role("button", name="By number").click()
    page.get_by_role("button", name="Keep line 1 in the lesson").click()
    expect(other.get_by_role("link", name="Lesson (2)")).to_be_visible()
    other.close()


def test_paper_shows_music_and_no_controls(page: Page, served: Served) -> None:
    visit(page, address(served, "line", line="17"))
    page.wait_for_selector("music-strip[data-ready]")
    page.emulate_media(media="print")
    for hidden in ("nav", "#rules", ".player", ".take", "button >> nth=0", "#count"):
        expect(page.locator(hidden).first).to_be_hidden()
    expect(page.locator("music-strip")).to_be_visible()
    expect(page.get_by_role("table")).to_be_visible()


@pytest.mark.parametrize("sampling", list(SAMPLINGS)[:: sweep(small=3, full=1)])
def test_a_drill_set_is_made(page: Page, served: Served, sampling: str) -> None:
    visit(page, address(served, "drills"))
    page.get_by_label("How many exercises", exact=True).fill("8")
    page.get_by_label("Lines", exact=True).select_option(sampling)
    for kind in ("fill in the notes that are blank", "find the note that breaks a rule"):
        page.get_by_label(kind).check()
    page.get_by_role("button", name="Make the set").click()
    page.wait_for_selector(".exercise", timeout=60_000)
    assert 1 <= page.locator(".exercise").count() <= 8
    name, data = take(page, "Sheet (PDF)")
    assert name == "drill.pdf" and data[:5] == b"%PDF-"
    name, data = take(page, "Answers (PDF)")
    assert name == "answers.pdf" and data[:5] == b"%PDF-"


def test_a_drill_set_in_all_keys_goes_into_the_lesson(page: Page, served: Served) -> None:
    visit(page, address(served, "drills"))
    page.get_by_label("Keys", exact=True).select_option("cycle")
    page.get_by_role("button", name="Make the set").click()
    page.wait_for_selector(".exercise", timeout=60_000)
    page.get_by_role("button", name="Keep all in the lesson").click()
    page.get_by_role("link", name="Lesson (12)").click()
    expect(page.locator(".lesson-item")).to_have_count(12)
    changes = page.locator(".lesson-item h3 .help").all_inner_texts()
    assert len(set(changes)) == 12


def test_what_is_lost_of_a_lesson_comes_back(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", order="number"))
    for number in (1, 2):
        page.get_by_role("button", name=f"Keep line {number} in the lesson").click()
    page.get_by_role("link", name="Lesson (2)").click()
    _, other = take(page, "Keep as a lesson file")
    page.get_by_role("button", name="Take line 1 out").click()
    expect(page.locator(".lesson-item")).to_have_count(1)
    # Whoever goes on by keyboard is where they were.
    expect(page.get_by_role("button", name="Take line 1 out")).to_be_focused()
    file = {"name": "other.toml", "mimeType": "text/plain", "buffer": other}
    for answer, left in (("Cancel", 1), ("Replace the lesson", 2)):
        page.set_input_files("#lesson-pick", file)  # type: ignore[arg-type]
        page.get_by_role("dialog").get_by_role("button", name=answer).click()
        expect(page.locator(".lesson-item")).to_have_count(left)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".lesson-item")).to_have_count(1)
    page.keyboard.press("Control+z")
    expect(page.locator(".lesson-item")).to_have_count(2)
