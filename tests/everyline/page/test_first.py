"""The four choices above the first lines: what they set, and that they stay where they are."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from everyline.corpora import load
from everyline.page.controls import vocabulary
from everyline.page.operations import Workspace
from everyline.rules.rulefile import parse_rules
from tests.everyline.page.node import run
from tests.everyline.page.served import Served
from tests.everyline.page.visiting import space, unfold, visit
from tests.sweeps import sweep

LEVELS = 5
TUNES = [
    {"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": "guitar", "position": 5}},
    {"changes": "Dm7b5 | G7b9 | Cm6", "key": "Cm", "range": {"instrument": "alto-voice"}},
    {"changes": "F7 | Bb7 | F7 | Cm7 F7 | Bb7", "range": {"instrument": "trumpet"}},
    {"changes": "Em7 | A7 | Dmaj7", "meter": "3/4", "range": {"lowest": "E3", "highest": "E5"}},
]

# -- without a browser ---------------------------------------------------------------------------------------


def at_levels(tables: dict[str, Any]) -> list[dict[str, Any]]:
    """The rules of every level for a tune."""
    script = """
    const { atLevel, levelOf, LEVELS } = await load("first-rules.js");
    return LEVELS.map((_, place) => atLevel(place + 1, given)).map((each) => [each, levelOf(each)]);
    """
    found = run(script, tables)
    assert [level for _, level in found] == list(range(1, LEVELS + 1))
    return [each for each, _ in found]


@pytest.mark.parametrize("tune", TUNES, ids=lambda tune: tune["changes"])
def test_each_level_has_lines_and_more_than_the_level_below(tune: dict[str, Any]) -> None:
    own = {**tune, "limit": [{"kind": "largest-leap", "semitones": 5}], "entry": {"beats": ["2"]}}
    counts = [space(tables).count for tables in at_levels(own)]
    assert counts[0] > 0
    assert counts == sorted(set(counts))
    # The tune stays, whatever the level.
    assert all({name: each[name] for name in tune} == tune for each in at_levels(own))


def test_each_level_has_every_line_of_the_level_below() -> None:
    tune = {"changes": "Dm7 G7 | Cmaj7", "range": {"lowest": "E3", "highest": "E5"}}
    spaces = [space(each) for each in at_levels(tune)]
    for lower, higher in pairwise(spaces):
        for number in range(1, lower.count + 1, max(1, lower.count // 20)):
            line = lower.line(number)
            assert line in higher, line.notes


@pytest.mark.parametrize(
    "tables",
    [
        {"entry": {"beats": ["2"]}},
        {"approach": {"count": ["0"]}},
        {"limit": [{"kind": "largest-leap", "semitones": 5}]},
    ],
)
def test_other_rules_are_of_no_level(tables: dict[str, Any]) -> None:
    script = 'const { levelOf } = await load("first-rules.js"); return levelOf(given);'
    assert run(script, {**TUNES[0], **tables}) is None
    assert run(script, {**TUNES[0], "rhythm": {"cells": ["4"]}}) == LEVELS - 2


def test_every_place_on_every_instrument_has_lines_and_is_known_again() -> None:
    script = """
    const { atPlace, placeOf, placesOn } = await load("first-rules.js");
    return given.map((each) => placesOn(each).map(({ name }) => {
        const made = atPlace({ changes: "Dm7 | G7 | Cmaj7" }, each, name);
        return [made, name, placeOf(made, each)?.name];
    }));
    """
    instruments = vocabulary(Workspace())["instruments"]
    found = run(script, instruments)
    assert [len(each) for each in found[:1]] == [6]
    every = [each for places in found for each in places]
    assert len(every) > 80
    for tables, name, again in every[:: sweep(small=17, full=2)]:
        assert again == name
        assert space(tables).count > 0, tables


def test_a_progression_goes_to_every_key_of_its_mode_and_back() -> None:
    script = """
    const { inKey, keysFor, progressionOf } = await load("first-rules.js");
    return given.map((each) => keysFor(each, each.key).map((key) => {
        const moved = { meter: each.meter, ...inKey(key, each) };
        return [each, moved, progressionOf(moved, given).numerals];
    }));
    """
    corpus = load()
    found = run(script, vocabulary(Workspace())["progressions"])
    assert all(len(keys) == 12 for keys in found)
    for keys in found[:: sweep(small=3, full=1)]:
        home = parse_rules({name: keys[0][0][name] for name in ("changes", "meter")}, corpus).progression
        for each, moved, numerals in keys[1 :: sweep(small=6, full=2)]:
            assert numerals == each["numerals"]
            there = parse_rules(moved, corpus).progression
            assert [c.quality for c in there.chords] == [c.quality for c in home.chords], moved


# -- in a browser --------------------------------------------------------------------------------------------

PLACES = """() => Object.fromEntries([...document.querySelectorAll('#first [data-key]')]
    .map((each) => [each.dataset.key, each.getBoundingClientRect()])
    .map(([key, { x, y, width, height }]) => [key, [x, y, width, height].map(Math.round)]))"""

CHOICES: list[tuple[str, str, dict[str, Any]]] = [
    ("Level", "1", {"approach": {"count": ["0"]}, "ending": {"use": ["plain"]}}),
    ("Where on the neck", "5", {"range": {"instrument": "guitar", "position": 5}}),
    ("Over which changes", "two-five-one-short", {"changes": "Gm7 C7 | Fmaj7", "key": "F"}),
    ("In the key of", "Eb", {"changes": "ii7 V7 | Imaj7", "key": "Eb"}),
    ("Played on", "tenor-saxophone", {"range": {"instrument": "tenor-saxophone"}}),
    ("Part of its range", "low", {}),
]


def chosen(page: Page, words: str, value: str) -> None:
    """Choose, and wait for what the rules are then."""
    page.get_by_label(words, exact=True).select_option(value)
    expect(page.get_by_label(words, exact=True)).to_have_value(value)
    expect(page.locator("html")).to_have_attribute("data-busy", "no")


@pytest.mark.browser
def test_four_choices_set_the_rules_and_stay_where_they_are(page: Page, served: Served) -> None:
    tables: dict[str, Any] = {"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": "guitar"}}
    visit(page, f"{served.address}/")
    expect(page.get_by_label("Level", exact=True)).to_have_value("3")
    before = page.evaluate(PLACES)
    for words, value, change in CHOICES[:-1]:
        chosen(page, words, value)
        tables |= change
        count = int(served.rules(tables)["count"])
        expect(page.locator("#count")).to_have_text(f"{count:,} lines".replace(",", "\u202f"))
        assert page.evaluate(PLACES) == before
    # The list opens below them, is open again next time, and moves neither them nor the lines.
    lines = page.locator(".strip").first
    lines.locator("music-strip[data-ready]").wait_for()  # so that it is as high as it will be
    stood = lines.bounding_box()
    unfold(page)
    assert (page.evaluate(PLACES), lines.bounding_box()) == (before, stood)
    expect(page.locator("#part-range .part-says")).to_have_text("Tenor saxophone")
    chosen(page, *CHOICES[-1][:2])
    expect(page.locator("#part-range .part-says")).to_contain_text("up to")
    # Everything is in the address, and can be undone.
    page.reload()
    page.wait_for_selector("html[data-ready=yes]")
    expect(page.locator("#part-range")).to_be_visible()
    expect(page.get_by_label("Part of its range", exact=True)).to_have_value("low")
    expect(page.get_by_label("Level", exact=True)).to_have_value("1")
    chosen(page, "Level", "2")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_label("Level", exact=True)).to_have_value("1")


@pytest.mark.browser
def test_rules_from_the_panel_are_ones_own(page: Page, served: Served) -> None:
    visit(page, f"{served.address}/")
    unfold(page)
    page.click("#part-handoff summary")
    page.locator("#part-handoff label.chip", has_text="by step").click()
    level = page.get_by_label("Level", exact=True)
    expect(level).to_have_value("")
    expect(level.locator("option:checked")).to_have_text("my own rules")
    # By the keys alone, the focus stays for the next change.
    level.focus()
    page.keyboard.press("2")
    expect(level).to_have_value("2")
    expect(page.locator("#part-handoff .part-says")).to_have_text("nearest chord tone")
    expect(level).to_be_focused()
    changes = page.get_by_label("The changes, bar by bar")
    changes.fill("Cm7 | F7 | Bbmaj7")
    changes.press("Enter")
    expect(page.locator("#over")).to_contain_text("Cm7 | F7 | Bbmaj7")
    expect(changes).to_be_focused()


OVER_THE_EDGE = """() => [...document.querySelectorAll(".strip header")]
  .filter((head) => head.lastElementChild.getBoundingClientRect().right > head.getBoundingClientRect().right)
  .map((head) => head.textContent)"""
"""The heads of rows whose last button runs over the edge."""


@pytest.mark.browser
def test_a_phone_shows_the_choices_and_eight_lines(browser: Browser, served: Served) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    visit(page, f"{served.address}/")
    for words in ("Over which changes", "In the key of", "Played on", "Where on the neck", "Level"):
        expect(page.get_by_label(words, exact=True)).to_be_in_viewport(ratio=1)
    page.get_by_label("Level", exact=True).tap()
    chosen(page, "Level", "1")
    play = page.get_by_role("button", name="Play line").first
    expect(play).to_be_in_viewport()
    expect(page.locator(".strip").first).to_have_attribute("aria-setsize", "8")
    # Between the buttons there is no room for the ending.
    assert page.locator(".strip .facts").first.is_hidden()
    # With no line left the choices are there to go back.
    chosen(page, "Played on", "ukulele")
    chosen(page, "Where on the neck", "9")
    page.locator(".conflicts").wait_for()
    expect(page.get_by_label("Level", exact=True)).to_be_visible()
    context.close()


@pytest.mark.browser
def test_in_a_window_as_narrow_as_a_phone_every_button_of_a_row_is_whole(page: Page, served: Served) -> None:
    page.set_viewport_size({"width": 360, "height": 844})
    visit(page, f"{served.address}/")
    page.locator(".strip header").first.wait_for()
    assert page.evaluate(OVER_THE_EDGE) == []
