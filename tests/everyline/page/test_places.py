"""Where the reader was, what was typed and what was kept stay as they were, in a real Chromium."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import CHANGES, address, count, counted, space, unfold, visit
from tests.sweeps import sweep

pytestmark = pytest.mark.browser

GUITAR = {"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": "guitar"}}
THREE = {"changes": "Dm7 | G7 | Cmaj7"}


@pytest.mark.parametrize("size", [(390, 844), (1280, 900), (844, 390)][: sweep(small=2, full=3)], ids=str)
def test_after_a_jump_and_a_drag_the_tools_are_in_reach(
    browser: Browser, served: Served, size: tuple[int, int]
) -> None:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    page = context.new_page()
    visit(page, address(served, "lines", THREE))
    slider = page.get_by_label("Place in the whole set, in thousandths")
    box = slider.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 3, box["y"] + box["height"] / 2)
    page.mouse.down()
    for part in range(1, 60):
        page.mouse.move(box["x"] + box["width"] * part / 80, box["y"] + box["height"] / 2)
    page.mouse.up()
    for tool in (page.locator("#jump"), slider, page.get_by_role("button", name="Random line")):
        expect(tool).to_be_in_viewport()
    expect(page.get_by_role("link", name=re.compile(r"^Line \d+:")).first).to_be_visible()
    page.fill("#jump", "2000000")
    page.press("#jump", "Enter")
    row = page.get_by_role("link", name="Line 2000000:")
    expect(row).to_be_in_viewport()
    for tool in (page.locator("#jump"), slider, page.get_by_role("button", name="Varied")):
        expect(tool).to_be_in_viewport()
    # The line that was asked for is below the tools and not behind them.
    covered = page.evaluate("document.querySelector('.line-tools').getBoundingClientRect().bottom")
    place = row.bounding_box()
    assert place is not None and place["y"] >= covered - 1
    context.close()


@pytest.mark.parametrize("order", ["varied", "number", "smooth"][: sweep(small=1, full=3)])
def test_back_to_the_lines_and_the_browsers_back_keep_the_place(
    page: Page, served: Served, order: str
) -> None:
    visit(page, address(served, "lines", THREE, order=order))
    page.fill("#jump", "50")
    page.press("#jump", "Enter")
    rows = page.locator(".strip .number")
    page.wait_for_function("() => document.activeElement.matches('.strip .number')")
    name = page.evaluate("document.activeElement.getAttribute('aria-label')")
    page.keyboard.press("Enter")
    expect(page.locator(".one-line h2")).to_be_visible()
    page.get_by_role("button", name="Back to the lines").click()
    expect(page.get_by_role("link", name=name)).to_be_in_viewport()
    page.get_by_role("link", name=name).click()
    expect(page.locator(".one-line h2")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("link", name=name)).to_be_in_viewport()
    page.reload()
    expect(page.get_by_role("link", name=name)).to_be_in_viewport()
    expect(rows.first).to_be_visible()


def test_no_row_in_sight_is_empty_whatever_moves_the_list(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", THREE))
    page.get_by_role("link", name="Line 1:").wait_for()
    empty = """() => {
        const list = document.querySelector('.list').getBoundingClientRect();
        const tops = [...document.querySelectorAll('.strip')].map((each) => each.getBoundingClientRect());
        for (let y = Math.max(list.top, 0) + 30; y < innerHeight - 20; y += 40)
            if (!tops.some((each) => each.top - 12 <= y && y <= each.bottom + 12)) return true;
        return false;
    }"""
    page.evaluate("scrollTo(0, 4000)")
    page.get_by_text("Statistics of these lines").evaluate("(each) => (each.parentElement.open = true)")
    page.locator(".facet").first.wait_for()
    page.wait_for_function(f"() => !({empty})()")
    page.get_by_text("Statistics of these lines").evaluate("(each) => (each.parentElement.open = false)")
    page.wait_for_function(f"() => !({empty})()")
    # A value in them is a rule, too.
    page.evaluate("scrollTo(0, 0)")
    page.get_by_text("Statistics of these lines").click()
    page.get_by_role("button", name="Only these lines: first note, D4").click()
    wanted = space({**THREE, "entry": {"start": ["D4"]}}).count
    expect(page.locator("#count")).to_have_text(counted(wanted))


def test_a_row_says_its_notes_before_its_picture_is_there(page: Page, served: Served) -> None:
    page.route("**/picture?*", lambda route: None)  # never answered
    visit(page, address(served, "lines", THREE))
    notes = " ".join(note.name for note in space(THREE).line(2).notes)
    expect(page.locator(".strip", has_text="No. 2").first).to_contain_text(notes)


def test_back_leads_through_changes_of_rules(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    unfold(page)
    before = count(page)
    page.click("#part-handoff summary")
    page.locator("#part-handoff label.chip", has_text="guide tones").click()
    expect(page.locator("#count")).not_to_contain_text(f"{before:,}".replace(",", "\u202f"))
    page.wait_for_function("location.hash.includes('handoff')")
    page.go_back()
    expect(page.locator("#count")).to_contain_text(f"{before:,}".replace(",", "\u202f"))
    page.go_forward()
    expect(page.locator("#part-handoff .part-says")).to_contain_text("guide tones")


ODD = [
    "approach.count=1", "entry.start=D4", "ending.use=plain", "approach.figures=enclosure-2", "limit=7",
    "order=best", "staves=x", "line=0", "draw=0", "scales=[]",
    "rhythm.cells=8", "range=3", "passing.kinds=scale",
]  # fmt: skip


def test_no_odd_value_in_a_link_ends_in_an_empty_panel(page: Page, served: Served) -> None:
    """A script error would fail the test by itself, see ``page``."""
    page.add_init_script("try { localStorage['rules unfolded'] = 'true'; } catch { /* no page yet */ }")
    for odd in ODD[:: sweep(small=3, full=1)]:
        page.goto("about:blank")
        visit(page, f"{served.address}/#lines?changes=Dm7 | G7 | Cmaj7&{odd}")
        expect(page.locator("#rules details.part")).to_have_count(12)


def test_a_typed_line_and_its_verdict_stay(page: Page, served: Served) -> None:
    visit(page, address(served, "check"))
    unfold(page)
    page.get_by_label("The notes", exact=True).fill("D F A C B G F D, E:4")
    page.get_by_role("button", name="Check it").click()
    verdict = page.locator(".verdict")
    expect(verdict).to_be_in_viewport()
    expect(page.locator(".answer")).to_contain_text("without an octave")
    page.locator("#part-handoff summary").click()
    page.locator("#part-handoff label.chip", has_text="any chord tone").click()
    expect(page.locator("#part-handoff .part-says")).to_contain_text("any chord tone")
    expect(verdict).to_be_visible()
    page.reload()
    expect(page.get_by_label("The notes", exact=True)).to_have_value("D F A C B G F D, E:4")
    expect(verdict).to_be_visible()
    page.get_by_role("button", name="Empty").click()
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("alert").last).to_contain_text("There is no note yet")


def test_another_window_does_not_erase_what_is_being_typed(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", order="number"))
    page.get_by_role("button", name="Keep line 1 in the lesson").click()
    page.get_by_role("link", name="Lesson (1)").click()
    page.locator(".lesson-head").get_by_label("Title").press_sequentially("Mond")
    other = page.context.new_page()
    visit(other, address(served, "lines", order="number"))
    other.get_by_role("button", name="Keep line 2 in the lesson").click()
    expect(page.locator(".lesson-item")).to_have_count(2)
    title = page.locator(".lesson-head").get_by_label("Title")
    expect(title).to_have_value("Mond")
    page.bring_to_front()
    page.keyboard.type("ay")
    page.keyboard.press("Tab")
    expect(page.locator(".lesson-page h2")).to_have_text("Monday")
    page.get_by_role("button", name="Move line 1 later").click()
    expect(page.locator(".lesson-item h3").first).to_contain_text("No. 2")
    # It cannot go further, so the button beside it has the focus.
    expect(page.get_by_role("button", name="Move line 2 earlier")).to_be_focused()
    other.close()


def test_a_line_is_kept_and_let_go_where_it_stands(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", order="number"))
    page.get_by_role("button", name="Keep line 1 in the lesson").click()
    kept = page.get_by_role("button", name="Kept: take line 1 out of the lesson")
    expect(kept).to_be_visible()
    kept.click()
    expect(page.get_by_role("button", name="Keep line 1 in the lesson")).to_be_visible()
    expect(page.get_by_role("link", name="Lesson", exact=True)).to_be_visible()


def test_what_is_no_number_goes_nowhere_and_says_so(page: Page, served: Served) -> None:
    visit(page, address(served, "lines", order="number", line="40"))
    page.fill("#jump", "abc")
    page.press("#jump", "Enter")
    expect(page.locator("#say")).to_contain_text("“abc” is not a number")
    expect(page.get_by_role("link", name="Line 40:")).to_be_in_viewport()


def test_an_edited_rule_file_outlives_escape(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    page.click("#file-open")
    area = page.get_by_label("The rule file, as text")
    expect(area).not_to_have_value("")
    area.fill('changes = "C | F')
    page.keyboard.press("Escape")
    page.click("#file-open")
    expect(area).to_have_value('changes = "C | F')
    page.get_by_role("button", name="Discard my changes").click()
    expect(area).to_have_value(re.compile("Dm7"))


def test_without_a_server_no_rule_is_blamed(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    page.get_by_role("link", name="Line 1:").wait_for()
    page.route("**/api/**", lambda route: route.fulfill(status=400, json={"error": "no."}))
    page.fill(CHANGES, "Em7 | A7 | Dmaj7")
    page.press(CHANGES, "Enter")
    expect(page.locator("#trouble")).to_have_text("no.")
    # The last good lines stay.
    expect(page.get_by_role("link", name="Line 1:")).to_be_visible()
    page.unroute("**/api/**")
    page.evaluate(
        "() => { window.real = fetch; window.fetch = () => Promise.reject(new TypeError('gone')); }"
    )
    page.get_by_role("link", name="Check").click()
    page.fill(CHANGES, "Am7 | D7 | Gmaj7")
    page.press(CHANGES, "Enter")
    expect(page.locator("#trouble")).to_contain_text("the server does not answer")
    page.get_by_role("link", name="Lines", exact=True).click()
    page.evaluate("() => { window.fetch = window.real; }")
    page.get_by_role("button", name="Try again").click()
    expect(page.locator("#over")).to_contain_text("Am7 | D7 | Gmaj7")


def test_the_band_with_the_count_stays_low(browser: Browser, served: Served) -> None:
    long = {**II_V_I, "changes": " | ".join(["Dm7 | G7 | Cmaj7 | %"] * 16 + ["Cmaj7"])}
    for width in (390, 1280):
        page = browser.new_page(viewport={"width": width, "height": 844})
        visit(page, address(served, "check", long))
        assert page.locator(".tally").evaluate("(each) => each.offsetHeight") < 110
        page.close()


def test_the_first_line_is_there_after_few_requests(page: Page, served: Served) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    visit(page, f"{served.address}/")
    page.locator(".strip music-strip[data-ready]").first.wait_for()
    assert len(asked) <= 15
