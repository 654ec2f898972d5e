"""What would bring choruses back: each change made in the plan's tables, read anew and counted."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.rules.changes import changed
from everyline.rules.chorus_file import read_plan
from everyline.solver.budget import at_most
from everyline.solver.chorus import solve
from everyline.solver.chorus_remedies import chorus_remedies
from everyline.solver.conflicts import Remedy
from everyline.solver.intersect import lets_through
from tests.spaces import CORPUS

Tables = dict[str, Any]

FEW = 2000
"""Nodes that some changed plans need, and others do not."""
SMALL: Tables = {
    "changes": "Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7",
    "range": {"lowest": "C4", "highest": "C5"},
    "approach": {"count": ["0"]},
    "ending": {"use": ["plain"]},
    "phrase": [{"name": "call", "bars": "1-2"}, {"name": "answer", "bars": "3-4"}],
}


def plan(call: Tables | None = None, answer: Tables | None = None, **top: Any) -> Tables:
    first, second = SMALL["phrase"]
    return SMALL | top | {"phrase": [first | (call or {}), second | (answer or {})]}


def count(tables: Tables) -> int:
    return solve(read_plan(tables, CORPUS)).diagram.count


def remedies(tables: Tables) -> dict[str, Remedy]:
    """The remedies of a plan by their words; each is what the plan gives with that change."""
    found = chorus_remedies(solve(read_plan(tables, CORPUS)), CORPUS)
    for remedy in found:
        assert remedy.count == count(changed(tables, remedy.written)) > 0, remedy.words
    return {remedy.words: remedy for remedy in found}


def written(tables: Tables) -> list[Tables]:
    return [dict(remedy.written) for remedy in remedies(tables).values()]


def first_that_does(tables: Tables, key: str, values: range) -> int:
    return next(value for value in values if count(changed(tables, {key: value})))


HIGH = {"range": {"lowest": "G5", "highest": "G6"}}


def test_a_plan_with_choruses_needs_none() -> None:
    assert not remedies(plan())


def test_the_smallest_reach_that_does_is_found_by_trying_all() -> None:
    tables = plan(answer=HIGH, join={"reach": 2})
    least = first_that_does(tables, "phrase 2.join.reach", range(3, 128))
    found = remedies(tables)
    assert list(found) == [
        f'phrase "answer", join: reach 2 -> {least}',
        'phrase "answer", without it: its first note is at most 2 semitones from the last note before',
    ]
    assert [dict(each.written) for each in found.values()] == [
        {"phrase 2.join.reach": least},
        {"phrase 2.join.reach": 127},
    ]


def test_two_joins_that_share_a_reach_need_the_shared_one() -> None:
    third = {"name": "again", "bars": "5-6"}
    tables = plan(answer=HIGH, join={"reach": 2}, changes=f"{SMALL['changes']} | Dm7 G7 | Cmaj7")
    tables["phrase"].append(third)
    least = first_that_does(tables, "join.reach", range(3, 128))
    assert written(tables) == [{"join.reach": least}, {"join.reach": 127}]


@pytest.mark.parametrize(
    ("join", "key", "values"),
    [
        ({"least_rest": 5}, "least_rest", range(4, -1, -1)),
        ({"least_rest": 0, "most_rest": 1}, "most_rest", range(2, 9)),
    ],
)
def test_a_rest_gives_way_no_farther_than_it_has_to(join: Tables, key: str, values: range) -> None:
    tables = plan(answer={"join": join})
    nearest = first_that_does(tables, f"phrase 2.join.{key}", values)
    found = written(tables)
    assert found[0] == {f"phrase 2.join.{key}": nearest}
    assert {f"phrase 2.join.{key}": None if key == "most_rest" else 0} in found


def test_a_longest_rest_that_is_shared_is_taken_out_for_all() -> None:
    found = written(plan(join={"most_rest": 1}))
    assert {"phrase 2.join.most_rest": 3} in found
    assert {"join.most_rest": None} not in found  # one phrase is enough
    third = {"name": "again", "bars": "5-6"}
    both = plan(join={"most_rest": 1}, changes=f"{SMALL['changes']} | Dm7 G7 | Cmaj7")
    both["phrase"].append(third)
    assert {"join.most_rest": 3} in written(both) and {"join.most_rest": None} in written(both)


def test_where_there_is_no_rest_to_be_had_an_entry_is_moved() -> None:
    tables = plan(answer={"entry": {"pickup": [2]}, "join": {"least_rest": 4}})
    assert {"phrase 2.entry.beats": ["2"]} in written(tables)


def test_a_phrase_without_a_line_is_mended_in_its_own_table() -> None:
    limits = [{"kind": "single-peak"}, {"kind": "ambitus", "semitones": 1}]
    tables = plan(answer={"limit": limits})
    least = first_that_does(tables, "phrase 2.limit 2.semitones", range(2, 30))
    found = remedies(tables)
    assert found[f'phrase "answer", ambitus semitones 1 -> {least}'].written == {
        "phrase 2.limit 2.semitones": least
    }
    alone = 'phrase "answer", without it: from the lowest to the highest note there are at most 1 semitone'
    assert found[alone].written == {"phrase 2.limit 2": None}


def test_a_shared_rule_that_leaves_no_phrase_a_line_is_mended_for_all() -> None:
    found = remedies(plan(range={"lowest": "C4", "highest": "D4"}))
    assert found and all(words.startswith("all phrases, ") for words in found)
    assert all(set(each.written) >= {"range.lowest", "range.highest"} for each in found.values())


def test_a_shared_key_that_no_phrase_can_take_out_is_taken_out_for_all() -> None:
    tables = plan(call={"entry": {"start": ["D4"]}}, entry={"start": ["C#4"]})
    found = remedies(tables)
    assert {"entry.start": None} in [each.written for each in found.values()]
    assert "all phrases, without it: the first note is C#4" in found


def test_limits_over_the_whole_are_eased_or_dropped() -> None:
    tables = plan(limit=[{"kind": "ambitus", "semitones": 1}, {"kind": "largest-leap", "semitones": 9}])
    least = first_that_does(tables, "limit 1.semitones", range(2, 30))
    assert written(tables) == [{"limit 1.semitones": least}, {"limit 1": None}]


def test_one_chorus_is_seen_exactly_where_there_are_some() -> None:
    diagram = solve(read_plan(plan(), CORPUS)).diagram
    seen = []
    for most in range(14):
        limits = [{"kind": "direction-changes", "most": most}, {"kind": "ambitus", "semitones": 9}]
        form = read_plan(plan(limit=limits), CORPUS).form
        seen.append(lets_through(diagram, form.limits, form, 10**6))
        assert seen[-1] == (count(plan(limit=limits)) > 0)
        assert lets_through(diagram, form.limits, form, 2) is None
    assert set(seen) == {False, True}


def test_faults_one_after_another_are_mended_together_and_no_farther_than_they_have_to() -> None:
    tables = plan(
        call={"limit": [{"kind": "ambitus", "semitones": 0}]},
        answer=HIGH,
        limit=[{"kind": "last-degree", "degrees": ["b2"]}],
    )
    (remedy,) = remedies(tables).values()
    assert set(remedy.written) == {"phrase 1.limit 1.semitones", "phrase 2.join.reach", "limit 1"}
    for key, value in remedy.written.items():
        others = {other: each for other, each in remedy.written.items() if other != key}
        assert not count(changed(tables, others))
        if value is not None:
            assert not count(changed(tables, {**others, key: value - 1}))


def test_a_phrase_whose_rules_are_two_too_many_loses_both() -> None:
    limits = [{"kind": "largest-leap", "semitones": 0}, {"kind": "last-degree", "degrees": ["b2"]}]
    (remedy,) = remedies(plan(answer={"limit": limits})).values()
    assert remedy.written == {"phrase 2.limit 1": None, "phrase 2.limit 2": None}
    assert remedy.words.startswith('phrase "answer", without limit 1, largest-leap and without limit 2')


def test_a_change_that_would_be_too_large_is_left_out_and_a_smaller_one_found() -> None:
    tables = plan(
        range={"lowest": "C2", "highest": "F5"},
        answer={"range": {"lowest": "C6", "highest": "C9"}},
        join={"reach": 0},
        limit=[{"kind": "ambitus", "semitones": 40}],
    )
    smallest, widest = written(tables)
    with at_most(FEW):
        assert written(tables) == [smallest]
    assert widest == {"phrase 2.join.reach": 127}
