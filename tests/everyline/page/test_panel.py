"""The list of rules: short, grouped, searchable, explained, and steady under the finger."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from everyline.corpora import load
from everyline.page.controls import vocabulary
from everyline.page.examples_view import STAGES, example
from everyline.page.operations import Workspace
from everyline.page.rule_words import LIMIT_TITLES, RULE_WORDS
from everyline.rules.keys import SECTIONS
from everyline.rules.limits import LIMITS
from everyline.rules.rulefile import parse_rules
from everyline.spaces.space import Space
from tests.everyline.page.served import II_V_I, Served
from tests.everyline.page.visiting import address, counted, space, unfold, visit
from tests.sweeps import sweep

# -- words and examples, without a browser -------------------------------------------------------------------

SINGLE = [
    name for name, section in SECTIONS.items() if not section.many and name not in ("roughness", "scales")
]


def test_every_rule_has_a_players_words() -> None:
    keys = {f"{name}.{key}" if name else key for name in SINGLE for key in SECTIONS[name].keys}
    assert keys - {"own_rules"} == set(RULE_WORDS)
    assert set(LIMIT_TITLES) <= set(LIMITS)
    for words in RULE_WORDS.values():
        assert words.what.endswith(".") and not words.label.endswith(".")


def shown(change: dict[str, Any]) -> dict[str, Any]:
    """An example, after it was seen to be a line under rules with the change."""
    found = example(Workspace(), change)
    line = Space(parse_rules(found["rules"], load())).line(int(found["number"]))
    assert " ".join(note.name for note in line.notes) == found["notes"]
    assert [note.role for note in line.notes] == found["roles"]
    return found


def test_every_rule_is_shown_by_a_line_of_a_few_bars() -> None:
    for path, words in RULE_WORDS.items():
        if words.show:
            found = shown(dict(words.show))
            assert found["rules"]["changes"] in [stage["changes"] for stage in STAGES]
            assert not words.roles or set(words.roles) & set(found["roles"]), path


def test_every_limit_is_shown_by_a_line() -> None:
    for kind in vocabulary(Workspace())["limits"]:
        shown({"limit": [kind["example"]], **kind["show"]})


def test_every_figure_and_ending_is_shown_by_a_line() -> None:
    corpus = load()
    for figure in list(corpus.figures.values())[:: sweep(small=6, full=1)]:
        found = shown({"approach.figures": [figure.name], "approach.count": ["1"]})
        assert "target" in found["roles"], figure.name
    workspace = Workspace()
    for changes in ("Dm7 | G7 | Cmaj7", "Dm7b5 | G7b9 | Cm7", "Dm7 | G7alt | C6"):
        tables = {"changes": changes}
        fitting = workspace.do("summary", {"tables": tables})["endings"]
        for ending in fitting[:: sweep(small=40, full=3)]:
            found = example(workspace, {"ending.use": [ending["name"]]}, tables)
            assert ending["name"] == "plain" or "ending" in found["roles"], ending["name"]


# -- in a browser --------------------------------------------------------------------------------------------


@pytest.mark.browser
def test_a_rule_is_found_by_its_words_and_explained_by_a_tap(page: Page, served: Served) -> None:
    visit(page, address(served, "lines"))
    unfold(page)
    page.fill("#find-rule", "next chord")
    page.locator(".found").get_by_role("button", name="Into the next chord").last.click()
    expect(page.locator("#part-handoff")).to_have_attribute("open", "")
    expect(page.locator("#part-handoff input").first).to_be_focused()
    page.get_by_role("button", name="What is this: Into the next chord").click()
    note = page.locator("#part-handoff .explanation")
    expect(note).to_contain_text(RULE_WORDS["handoff.rule"].what)
    note.locator("music-strip[data-ready]").wait_for()
    found = example(Workspace(), dict(RULE_WORDS["handoff.rule"].show or {}))
    expect(note.get_by_role("img", name=f"For example: {found['notes']}")).to_be_visible()
    note.get_by_role("button", name="Play the example").click()
    page.wait_for_function(
        "() => document.querySelector('.explanation music-strip').shadowRoot.querySelector('.lit') !== null"
    )
    note.get_by_role("button", name="Play the example").click()
    # Another rule leaves it open.
    page.locator("#part-handoff label.chip", has_text="by step").click()
    expect(page.locator("#part-handoff .part-says")).to_have_text("by step")
    expect(page.locator("#part-handoff .explanation")).to_be_visible()


@pytest.mark.browser
def test_the_list_of_endings_is_short_and_searchable(page: Page, served: Served) -> None:
    tables = {"changes": "Dm7 | G7 | Cmaj7"}
    visit(page, address(served, "check", tables))
    unfold(page)
    page.click("#part-ending summary")
    part = page.locator("#part-ending")
    part.locator(".pick").first.wait_for()
    assert part.evaluate("(each) => each.offsetHeight") < 900
    names = part.locator(".pick input").evaluate_all("(all) => all.map((each) => each.dataset.key)")
    assert len(names) == len(set(names)) == len(served.rules(tables)["endings"])
    part.get_by_label("Find one of: Endings").fill("anticipated tonic")
    pick = part.locator(".pick:visible")
    expect(pick).to_have_count(1)
    page.get_by_role("button", name="The plain ending alone").click()
    plain = space({**tables, "ending": {"use": ["plain"]}}).count
    expect(page.locator("#count")).to_have_text(f"{plain:,} lines".replace(",", "\u202f"))
    pick.locator("input").check()
    both = space({**tables, "ending": {"use": ["plain", "anticipated-tonic"]}}).count
    expect(page.locator("#count")).to_have_text(f"{both:,} lines".replace(",", "\u202f"))


PLACES = """() => Object.fromEntries([...document.querySelectorAll('#rules [data-key]')]
    .map((each) => [each.dataset.key, each.getBoundingClientRect()])
    .filter(([, box]) => box.height)
    .map(([key, box]) => [key, [box.x, box.y]]))"""

COUNTED = "(leaves) => ![...document.querySelectorAll(leaves)].some((each) => each.textContent === '…')"

CHANGES = [
    ("entry", "2&", "entry.beats 2&"),
    ("approach", "one", "approach.count 0 1"),
    ("approach", "figure", "approach.figures chromatic-below"),
    ("handoff", "step", "handoff.rule step"),
    ("passing", "scale", "passing.kinds scale"),
    ("rhythm", "quarter", "rhythm.cells 4"),
]


@pytest.mark.browser
def test_no_change_of_rules_moves_a_control(page: Page, served: Served) -> None:
    visit(page, address(served, "check", {**II_V_I, "approach": {"count": ["0-1"]}}))
    unfold(page)
    for part, _, key in CHANGES:
        page.click(f"#part-{part} summary")
        control = page.locator(f"#part-{part} [data-key='{key}']")
        control.wait_for()
        control.scroll_into_view_if_needed()
        # The counts that are there now, and those that will be.
        page.wait_for_function(COUNTED, arg=f"#part-{part} .leaves")
        before = page.evaluate(PLACES)
        shown = page.locator("#count").inner_text()
        control.click()
        expect(page.locator("#count")).not_to_have_text(shown)
        expect(control).to_be_checked()
        after = page.evaluate(PLACES)
        moved = {
            each: (before[each], place)
            for each, place in after.items()
            if any(abs(now - then) >= 1 for now, then in zip(place, before.get(each, place), strict=True))
        }
        assert moved == {}, key
        assert set(before) <= set(after), key
        page.click(f"#part-{part} summary")


@pytest.mark.browser
def test_defaults_are_ticked_and_the_last_cannot_be_taken_out(page: Page, served: Served) -> None:
    visit(page, address(served, "check"))
    unfold(page)
    page.click("#part-entry summary")
    beats = page.get_by_role("group", name="Beats to start on")
    expect(beats.get_by_label("1", exact=False).first).to_be_checked()
    beats.locator("[data-key='entry.beats 1&']").check()
    expect(page.locator("#part-entry .part-says")).to_have_text("beat 1, 1&")
    both = space({**II_V_I, "entry": {"beats": ["1", "1&"]}}).count
    expect(page.locator("#count")).to_have_text(f"{both:,} lines".replace(",", "\u202f"))
    # What stands beside a ticked choice is what would be without it, and says so.
    one = space({**II_V_I, "entry": {"beats": ["1&"]}}).count
    leaves = beats.locator("label.chip").first.locator(".leaves")
    expect(leaves).to_have_text(f"without: {one:,}".replace(",", "\u202f"))
    expect(leaves).to_have_attribute("title", f"{one:,} lines without it".replace(",", "\u202f"))
    page.click("#part-approach summary")
    for name in ("enclosure-2", "enclosure-3"):
        page.locator(f"[data-key='approach.figures {name}']").click()
    last = page.locator("[data-key='approach.figures enclosure-3']")
    expect(last).to_be_checked()
    expect(page.locator("#say")).to_contain_text("One of them at least must stay")


@pytest.mark.browser
def test_the_beat_may_be_a_dotted_quarter_where_eighths_go_in_threes(page: Page, served: Served) -> None:
    tables = {"changes": "Dm7 | G7 | Cmaj7", "meter": "6/8", "ending": {"use": ["plain"]}}
    visit(page, address(served, "check", tables))
    unfold(page)
    page.click("#part-music summary")
    page.locator("#part-music select[data-key='beat']").select_option(label="the dotted quarter")
    expect(page.locator("#count")).to_have_text(counted(space({**tables, "beat": "4."}).count))
    parts = page.locator("#part-music select[data-key='subdivision']")
    expect(parts.locator("option:checked")).to_have_text("eighths")
    parts.select_option(label="sixteenths")
    sixteenths = space({**tables, "beat": "4.", "subdivision": 6})
    expect(page.locator("#count")).to_have_text(counted(sixteenths.count))
    parts.select_option(label="eighths")
    page.click("#part-rhythm summary")
    page.locator("[data-key='rhythm.cells 4 8']").check()
    cells = space({**tables, "beat": "4.", "rhythm": {"cells": ["4 8"]}})
    expect(page.locator("#count")).to_have_text(counted(cells.count))
    expect(page.locator("#part-rhythm .part-says")).to_have_text("quarter, eighth")


@pytest.mark.browser
def test_on_a_phone_the_rules_are_a_sheet(browser: Browser, served: Served) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    visit(page, f"{served.address}/")
    first = page.locator(".strip").first
    expect(first).to_be_in_viewport()
    expect(page.locator("#rules")).to_be_hidden()
    page.get_by_role("button", name="Rules", exact=True).click()
    expect(page.get_by_role("button", name="Done")).to_be_focused()
    page.click("#part-handoff summary")
    page.locator("#part-handoff label.chip", has_text="by step").click()
    expect(page.locator("#part-handoff .part-says")).to_have_text("by step")
    page.keyboard.press("Escape")
    expect(page.locator("#rules")).to_be_hidden()
    expect(page.get_by_role("button", name="Rules", exact=True)).to_be_focused()
    page.close()
