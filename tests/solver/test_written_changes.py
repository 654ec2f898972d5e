"""What ``why`` says of a rule file is what the file gives when that one thing is changed in it."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.changes import changed, limits_in_order
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from everyline.solver.conflicts import why
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS
from tests.sweeps import sweep


def count(tables: dict[str, Any]) -> int:
    return compile_rules(parse_rules(tables, CORPUS)).count


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(sweep(5, 200)))
def test_every_cost_and_remedy_is_a_count_of_the_changed_file(seed: int) -> None:
    tables = random_rules(seed, most=400, extended=seed % 4 > 0)
    answer = why(parse_rules(tables, CORPUS), CORPUS)
    for cost in answer.costs:
        after = changed(tables, cost.condition.written)
        assert count(after) == cost.without, (cost.condition.key, cost.condition.written)
    for remedy in answer.remedies:
        assert count(changed(tables, remedy.written)) == remedy.count, (remedy.words, remedy.written)


NAMED = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": {"lowest": "C4", "highest": "C5"},
    "entry": {"start": ["D", "F4"]},
    "approach": {"count": ["0"]},
    "ending": {"use": ["plain"]},
}


def test_a_first_note_without_an_octave_means_more_notes_in_a_wider_range() -> None:
    answer = why(parse_rules(NAMED, CORPUS), CORPUS)
    (cost,) = (cost for cost in answer.costs if cost.condition.key == "range")
    after = changed(NAMED, cost.condition.written)
    assert cost.without == count(after)
    lines = compile_rules(parse_rules(after, CORPUS)).walk()
    assert {line[0].pitch for line in lines} == {50, 62, 74, 65}


CROWDED = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": {"lowest": "C4", "highest": "C5"},
    "approach": {"figures": ["above-below"], "count": ["3", "3", "0"]},
    "ending": {"use": ["plain"]},
}


def test_two_entries_of_a_count_that_go_together_are_both_written() -> None:
    answer = why(parse_rules(CROWDED, CORPUS), CORPUS)
    (remedy,) = answer.remedies
    assert remedy.written == {"approach.count": ["0-99", "0-99", "0"]}
    assert count(changed(CROWDED, remedy.written)) == remedy.count > 0


HOLES = {
    "changes": "Cm7 | F7 | Bbmaj7",
    "range": {"instrument": "guitar", "position": 5, "strings": [1, 2, 3, 4], "span": 3},
    "arpeggio": {"turns": 0},
    "ending": {"use": ["plain"]},
}


def test_a_wider_hand_and_another_position_are_remedies() -> None:
    answer = why(parse_rules(HOLES, CORPUS), CORPUS)
    assert answer.count == 0
    written = {key for remedy in answer.remedies for key in remedy.written}
    assert {"range.span", "range.position"} <= written
    for remedy in answer.remedies:
        assert count(changed(HOLES, remedy.written)) == remedy.count


def test_a_highest_pitch_narrows_another_position_too() -> None:
    # B4 is the highest note of the position as it is; higher up the neck it leaves some out.
    narrowed = HOLES | {"range": {**HOLES["range"], "highest": "B4"}}
    answer = why(parse_rules(narrowed, CORPUS), CORPUS)
    assert any("range.span" in remedy.written for remedy in answer.remedies)
    for remedy in answer.remedies:
        assert count(changed(narrowed, remedy.written)) == remedy.count


FEW_FRETS = {
    "changes": "Em7b5 | A7 | Dm7",
    "meter": "2/4",
    "range": {"instrument": "guitar", "position": 6, "strings": [4, 5]},
    "entry": {"start": ["C4", "C", "Bb"]},  # C4 is the highest note of the position
    "ending": {"use": ["short", "turned"]},
    "endings": [
        {"name": "short", "notes": "1 | -", "rhythm": "8 | 4"},
        {"name": "turned", "notes": "b9 13 | 5", "rhythm": "8 8 | 2"},
    ],
    "limit": [{"kind": "avoid-degrees", "degrees": ["6"]}],
}


def test_a_position_that_lacks_a_first_note_of_the_file_is_no_remedy() -> None:
    answer = why(parse_rules(FEW_FRETS, CORPUS), CORPUS)
    assert answer.remedies
    for remedy in answer.remedies:
        assert count(changed(FEW_FRETS, remedy.written)) == remedy.count


def test_changes_leave_the_tables_alone_and_take_out_what_is_none() -> None:
    limits = [
        {"kind": "must-target", "degree": "3"},
        {"kind": "ambitus", "semitones": 9},
        {"kind": "single-peak"},
    ]
    tables = {"changes": "Dm7 | G7", "arpeggio": {"turns": 0}, "limit": limits}
    assert limits_in_order(tables) == [1, 2, 0]
    after = changed(tables, {"limit 1.semitones": 12, "limit 3": None, "arpeggio.turns": None})
    assert after == {
        "changes": "Dm7 | G7",
        "limit": [{"kind": "ambitus", "semitones": 12}, {"kind": "single-peak"}],
    }
    assert tables["arpeggio"] == {"turns": 0} and tables["limit"] == limits
    with pytest.raises(InputError):
        parse_rules(changed(tables, {"limit 1.semitones": -1}), CORPUS)
