"""Rhythm cells: what is read, which are one rhythm, how fine the grid gets, what is refused."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.cells import grid, read_cell, read_cells
from everyline.rules.meter import Meter, parse_meter
from everyline.rules.rulefile import parse_rules, rules_from_options
from everyline.rules.ruleset import CellPart, Rules
from everyline.rules.schema import Where
from tests.rules.limit_cases import corpus

COMMON = Meter(4, 4)


def read(cells: list[str], **keys: Any) -> Rules:
    return parse_rules({"changes": "Dm7 | G7 | Cmaj7", "rhythm": {"cells": cells}, **keys}, corpus())


def parts(text: str, meter: str = "4/4", beat: str | None = None) -> list[tuple[int, int, bool]]:
    return [tuple(part) for part in read_cell(text, parse_meter(meter, beat)).parts]  # type: ignore[misc]


def test_a_cell_is_in_ticks_of_480_to_a_beat() -> None:
    assert parts("r8 8") == [(0, 240, True), (240, 240, False)]
    assert parts("8t 8t 8t") == [(0, 160, False), (160, 160, False), (320, 160, False)]
    assert parts(" 4.  8 ") == [(0, 720, False), (720, 240, False)]


def test_a_beat_is_the_unit_of_the_meter() -> None:
    assert parts("8", "6/8") == [(0, 480, False)]
    assert parts("4 8", "6/8") == [(0, 960, False), (960, 480, False)]
    assert parts("4 4", "2/2") == [(0, 240, False), (240, 240, False)]


@pytest.mark.parametrize(
    ("cells", "slots"),
    [
        (["4"], 2),
        (["8 8", "4", "r8 8"], 2),
        (["8t 8t 8t"], 6),
        (["16 8."], 4),
        (["8 8", "8t 8t 8t", "16 16 16 16"], 12),
        (["4t 4t 4t"], 6),
        (["r8 r16 16"], 4),
        (["32 32 16 8"], 16 // 2),
    ],
)
def test_a_slot_is_the_finest_value_and_halves_always_fit(cells: list[str], slots: int) -> None:
    assert grid(read_cells(cells, COMMON, Where("file")), COMMON) == slots
    rules = read(cells)
    assert rules.progression.subdivision == slots
    assert rules.slot_ticks * slots == 480


def test_cells_that_sound_alike_are_one_and_keep_every_cut() -> None:
    one, two = read_cells(["r2 4", "r4 r4 4", "4 8 8"], COMMON, Where("file"))
    assert (one.text, two.text) == ("r2 4", "4 8 8")
    assert one.parts == (CellPart(0, 480, True), CellPart(480, 480, True), CellPart(960, 480, False))
    assert len(read_cells(["8 8", "8  8"], COMMON, Where("file"))) == 1
    assert len(read_cells(["4 r4", "4"], COMMON, Where("file"))) == 2


def test_entry_beats_are_counted_in_the_finest_values() -> None:
    rules = read(["8t 8t 8t", "16 16 8"], entry={"beats": ["1trip", "2 &", "3e", "1+1/6"], "pickup": [1, 3]})
    assert rules.progression.subdivision == 12
    assert rules.entry.slots == (-18, -6, 2, 4, 18, 27)


def test_names_for_any_place_in_a_beat_are_read_back() -> None:
    progression = read(["8t 8t 8t", "16 16 16 16", "32 32 16 8"]).progression
    names = [progression.beat_name(slot) for slot in range(progression.subdivision)]
    assert names[:4] == ["1", "1+1/24", "1+1/12", "1+1/8"]
    assert {"1&", "1trip", "1let", "1e", "1a", "1+5/6"} < set(names)
    everything = range(progression.slots_per_bar)
    assert [progression.parse_beat(progression.beat_name(slot)) for slot in everything] == list(everything)


REFUSED: tuple[tuple[dict[str, Any], tuple[str, ...]], ...] = (
    ({"rhythm": {"cells": ["8"]}}, ('cells = ["8"]', "lasts 0.5 beats", "whole beats")),
    ({"rhythm": {"cells": ["8t 8t"]}}, ("lasts 0.667 beats",)),
    ({"rhythm": {"cells": ["1 4"]}}, ("lasts 5 beats", "a bar at most", "4 beats")),
    ({"meter": "3/4", "rhythm": {"cells": ["1"]}}, ("lasts 4 beats", "3 beats")),
    ({"rhythm": {"cells": ["r8 r8"]}}, ("only rests", "a note at least")),
    ({"rhythm": {"cells": ["8 8 | 4"]}}, ("bar line", "leave the | out")),
    ({"rhythm": {"cells": ["8 x"]}}, ('"x"', "note value")),
    ({"rhythm": {"cells": []}}, ("cells = []", "empty")),
    ({"rhythm": {"cells": "8 8"}}, ('cells = "8 8"', "square brackets")),
    ({"rhythm": {"cell": ["8 8"]}}, ('"cell"', 'Did you mean "cells"?')),
    ({"rhythm": {"cells": ["4"]}, "subdivision": 2}, ("subdivision = 2", "leave subdivision out")),
    ({"meter": "4/2", "rhythm": {"cells": ["32.. 32"]}}, ("too short", "beats of 2")),
    (
        {"changes": "Dm7 / / G7 / / Cmaj7 / | %", "rhythm": {"cells": ["4"]}},
        ("G7 begins on bar 1, beat 2&", "begins on a beat"),
    ),
    ({"rhythm": {"cells": ["4"]}, "entry": {"beats": ["1e"]}}, ('beats = ["1e"]', "1 1& 2 2&")),
    (
        {"rhythm": {"cells": ["8t 8t 8t"]}, "entry": {"pickup": [8]}},
        ("pickup = [8]", "1 to 7 halves of a beat"),
    ),
    (
        {"changes": "Dm7 G7 | C", "rhythm": {"cells": ["4"]}, "entry": {"beats": ["3"]}},
        ("belongs to G7",),
    ),
    (
        {"passing": {"kinds": ["scales"]}},
        ('kinds = ["scales"]', "scale and chromatic", 'Did you mean "scale"?'),
    ),
    ({"passing": {"kinds": "scale"}}, ("square brackets",)),
    ({"passing": {"place": "on"}}, ('place = "on"', "off and any")),
    ({"passing": {"count": ["2-1"]}}, ("empty", '"1-2"')),
    ({"arpeggio": {"skips": -1}}, ("skips = -1",)),
    ({"count": ["1"]}, ("in [approach] or in [passing]",)),
)


@pytest.mark.parametrize(("keys", "words"), REFUSED)
def test_what_is_refused_says_why(keys: dict[str, Any], words: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as refused:
        parse_rules({"changes": "Dm7 | G7 | Cmaj7", **keys}, corpus(), name="lesson.toml")
    assert all(word in str(refused.value) for word in ("lesson.toml", *words)), str(refused.value)


def test_an_entry_that_no_cell_can_hold_is_not_an_error() -> None:
    assert read(["8t 8t 8t"], entry={"beats": ["1&"]}).entry.slots == (3,)


def test_an_empty_rhythm_table_leaves_a_note_on_every_slot() -> None:
    rules = parse_rules({"changes": "Dm7 | G7", "rhythm": {}, "subdivision": 3}, corpus())
    assert (rules.cells, rules.progression.subdivision) == ((), 3)


def test_options_take_passing_notes_and_cells() -> None:
    options = {"passing": ["scale"], "passing_place": "any", "passing_count": ["1"], "skips": 2}
    given = rules_from_options(corpus(), changes="Dm7 | G7 | Cmaj7", cells=["8 8", "4"], **options)
    table = {"kinds": ["scale"], "place": "any", "count": ["1"]}
    assert given == read(["8 8", "4"], passing=table, arpeggio={"skips": 2})
