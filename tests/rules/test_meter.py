"""Meters: what a beat is, how note values become ticks and back, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.meter import Meter, parse_meter
from everyline.rules.rulefile import parse_rules
from tests.spaces import CORPUS

DOTTED = ("3/8", "6/8", "9/8", "12/8", "15/8")


@pytest.mark.parametrize(
    ("meter", "beat", "beats", "parts", "quarters"),
    [
        ("4/4", None, 4, 2, 1),
        ("2/2", None, 2, 2, 2),
        ("6/8", None, 6, 2, 0.5),
        ("6/8", "8", 6, 2, 0.5),
        ("7/8", "8", 7, 2, 0.5),
        ("3/8", "4.", 1, 3, 1.5),
        ("6/8", "4.", 2, 3, 1.5),
        ("9/8", "4.", 3, 3, 1.5),
        ("12/8", "4.", 4, 3, 1.5),
        ("15/8", "4.", 5, 3, 1.5),
    ],
)
def test_a_bar_has_so_many_beats(
    meter: str, beat: str | None, beats: int, parts: int, quarters: float
) -> None:
    found = parse_meter(meter, beat)
    assert (str(found), found.beats, found.parts, found.quarters) == (meter, beats, parts, quarters)


def test_three_eighths_fill_a_beat_of_480_ticks() -> None:
    meter = parse_meter("12/8", "4.")
    values = {"2.": 1440, "4.": 720, "4": 480, "8.": 360, "8": 240, "16": 120, "32": 60}
    assert [meter.ticks(value) for value in values.values()] == [960, 480, 320, 240, 160, 80, 40]
    assert meter.ticks(160) is None, "an eighth triplet"
    assert (parse_meter("12/8").ticks(240), parse_meter("12/8").ticks(160)) == (480, 320)


@given(st.sampled_from([Meter(4, 4), Meter(2, 2), Meter(6, 8), Meter(6, 8, 3)]), st.integers(-5000, 5000))
def test_ticks_and_note_values_are_one_measure(meter: Meter, ticks: int) -> None:
    value = meter.value(ticks)
    if value is not None:
        assert meter.ticks(value) == ticks
        assert value == ticks * meter.quarters


@pytest.mark.parametrize("meter", DOTTED)
def test_slots_are_thirds_of_a_dotted_quarter_where_nothing_is_said(meter: str) -> None:
    rules = parse_rules({"changes": "Dm7 | G7 | Cmaj7", "meter": meter, "beat": "4."}, CORPUS)
    assert (rules.progression.subdivision, rules.slot_ticks) == (3, 160)
    assert rules.progression.slots_per_bar == rules.progression.meter.count
    assert rules.progression.beat_name(2) == "1let"


def test_before_cells_a_pickup_counts_eighths() -> None:
    table = {"changes": "C7 | F7", "meter": "12/8", "beat": "4.", "rhythm": {"cells": ["16 16 4"]}}
    rules = parse_rules({**table, "entry": {"pickup": [2], "beats": ["2&", "1+1/6"]}}, CORPUS)
    assert rules.progression.subdivision == 6
    assert [slot * rules.slot_ticks for slot in rules.entry.slots] == [-320, 80, 720]


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({"beat": "4."}, ('beat = "4."', "in 4/4 the beat is the quarter note", "Leave beat out")),
        ({"meter": "7/8", "beat": "4."}, ("in 7/8 the beat is the eighth note", "12/8")),
        ({"meter": "3/4", "beat": "8"}, ('beat = "8"', "in 3/4 the beat is the quarter note")),
        ({"meter": "12/8", "beat": "4"}, ('beat = "4"', 'Did you mean "4."?')),
        ({"meter": "12/8", "beat": 4}, ("beat = 4", "quotation marks")),
        ({"meter": "6/8", "beat": "4.", "subdivision": 4}, ("subdivision = 4", "1, 2, 3 or 6 slots")),
        ({"subdivision": 6}, ("subdivision = 6", "from 1 to 4")),
        ({"meter": "6/8", "beat": "4.", "rhythm": {"cells": ["8 8"]}}, ("lasts 0.667 beats", "whole beats")),
        ({"meter": "6/8", "beat": "4.", "rhythm": {"cells": ["8t 8t 8t"]}}, ("is a triplet", "8 is a third")),
        ({"meter": "6/8", "beat": "4.", "rhythm": {"cells": ["1."]}}, ("lasts 4 beats", "here 2 beats")),
        ({"meter": "6/8", "beat": "4.", "entry": {"beats": ["3"]}}, ("3 to a dotted quarter note", "2let")),
        (
            {"meter": "6/8", "beat": "4.", "rhythm": {"cells": ["4."]}, "entry": {"pickup": [6]}},
            ("1 to 5 eighth notes",),
        ),
        ({"meter": "9/8", "beat": "4.", "changes": "Dm7 G7 | C"}, ("2 equal shares do not fit 9/8",)),
    ],
)
def test_what_a_beat_cannot_be_is_one_sentence(tables: dict[str, object], said: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as refused:
        parse_rules({"changes": "Dm7 | G7 | Cmaj7", **tables}, CORPUS, name="file")
    text = str(refused.value)
    assert text.startswith("file") and text.count("\n") == 0
    assert all(each in text for each in said), text


def test_an_ending_in_triplets_does_not_fit() -> None:
    ending = {"name": "mine", "notes": "b9 1 b7 | 5", "rhythm": "8t 8t 8t | 4"}
    table = {"changes": "G7 | Cmaj7", "meter": "6/8", "beat": "4.", "endings": [ending]}
    with pytest.raises(InputError, match='"mine" has a note value that is a triplet; in beats of a dotted'):
        parse_rules({**table, "ending": {"use": ["mine"]}}, CORPUS)
