"""Why there is no line: minimal sets, least changes and costs, each against brute force."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline import corpora
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.conditions import conditions
from everyline.solver.conflicts import Probe, hitting, why
from everyline.solver.search import has_line
from tests.reference.random_rules import random_rules

CORPUS = corpora.load()

# The two endings and the figures of a set of 1758 lines.
TWO_FIVE: dict[str, Any] = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "E3", "highest": "E5"},
    "arpeggio": {"turns": 0},
    "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["1", "0"]},
    "ending": {"use": ["plain", "one", "two"]},
    "endings": [
        {"name": "one", "notes": "#5 b9' 1 b7 | 5"},
        {"name": "two", "notes": "b9 1 b7 5 | 3 1", "rhythm": "8 8 8 8 | 8 4."},
    ],
}
SHORT: dict[str, Any] = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": {"lowest": "A3", "highest": "C5"},
    "approach": {"figures": ["enclosure-2"], "count": ["1"]},
    "ending": {"use": ["plain"]},
}


def rules_with(data: dict[str, Any], *limits: dict[str, Any]) -> Rules:
    return parse_rules({**data, "limit": list(limits)} if limits else data, CORPUS)


def smallest_sets(size: int, has: Callable[[int], bool]) -> list[set[int]]:
    """Every smallest set of conditions without a line, by trying all sets, the smallest first."""
    found: list[set[int]] = []
    for number in range(size + 1):
        for chosen in combinations(range(size), number):
            inside = any(each <= set(chosen) for each in found)
            if not inside and not has(sum(1 << bit for bit in chosen)):
                found.append(set(chosen))
    return found


CONFLICTS = (
    (TWO_FIVE, ({"kind": "largest-leap", "semitones": 2},)),
    (
        SHORT,
        ({"kind": "ambitus", "semitones": 2}, {"kind": "single-peak"}, {"kind": "outside-notes", "most": 0}),
    ),
    (
        SHORT,
        (
            {"kind": "direction-changes", "most": 0},
            {"kind": "must-target", "degree": "5", "chord": "Cmaj7"},
            {"kind": "last-degree", "degrees": ["1"]},
        ),
    ),
)


@pytest.mark.parametrize(("data", "limits"), CONFLICTS)
def test_exclusions_are_exactly_the_smallest_sets(
    data: dict[str, Any], limits: tuple[dict[str, Any], ...]
) -> None:
    rules = rules_with(data, *limits)
    answer = why(rules, CORPUS, most_sets=1000, effort=10**9)
    assert answer.count == 0 and answer.complete and answer.exclusions
    asked = tuple(each for each in conditions(rules, CORPUS) if not each.default)

    @cache
    def has(kept: int) -> bool:
        changed = rules
        for bit, condition in enumerate(asked):
            if not kept >> bit & 1:
                changed = condition.drop(changed)
        # The compiled space, not the search that the answer rests on.
        return compile_rules(changed).count > 0

    keys = [each.key for each in asked]
    expected = {frozenset(keys[bit] for bit in each) for each in smallest_sets(len(asked), has)}
    assert {frozenset(each.key for each in found) for found in answer.exclusions} == expected
    sizes = [len(found) for found in answer.exclusions]
    assert sizes == sorted(sizes)


def test_a_leap_of_two_semitones_is_named_and_cured() -> None:
    answer = why(rules_with(TWO_FIVE, {"kind": "largest-leap", "semitones": 2}), CORPUS)
    assert all("limit 1, largest-leap" in {each.key for each in found} for found in answer.exclusions)
    changes = {remedy.words: remedy.count for remedy in answer.remedies}
    assert changes["without it: no leap is larger than 2 semitones"] == 1758
    least = next(n for n in range(3, 20) if _count(TWO_FIVE, {"kind": "largest-leap", "semitones": n}))
    assert changes[f"largest-leap semitones 2 -> {least}"] == _count(
        TWO_FIVE, {"kind": "largest-leap", "semitones": least}
    )


def _count(data: dict[str, Any], *limits: dict[str, Any]) -> int:
    return compile_rules(rules_with(data, *limits)).count


def test_two_separate_conflicts_need_two_changes() -> None:
    limits = ({"kind": "largest-leap", "semitones": 0}, {"kind": "last-degree", "degrees": ["b2"]})
    answer = why(rules_with(SHORT, *limits), CORPUS)
    assert all(len(remedy.conditions) == 2 for remedy in answer.remedies)
    both = [remedy for remedy in answer.remedies if all("limit" in each.key for each in remedy.conditions)]
    assert [remedy.count for remedy in both] == [_count(SHORT)]


def test_costs_are_the_counts_without_each_rule() -> None:
    limits = [{"kind": "largest-leap", "semitones": 6}, {"kind": "direction-changes", "most": 7}]
    limits.append({"kind": "single-peak"})
    answer = why(rules_with(TWO_FIVE, *limits), CORPUS)
    assert answer.count == 1092 and not answer.exclusions
    costs = {cost.condition.key: cost.without for cost in answer.costs}
    for number, limit in enumerate(limits, 1):
        rest = [each for each in limits if each is not limit]
        assert costs[f"limit {number}, {limit['kind']}"] == _count(TWO_FIVE, *rest)
    rules = rules_with(TWO_FIVE, *limits)
    free = replace(rules, approach=replace(rules.approach, count=((1, 1), (0, 99))))
    assert costs["approach.count, entry 2"] == compile_rules(free).count
    assert all(cost.without >= answer.count for cost in answer.costs)


def test_no_room_for_a_line_is_told_apart() -> None:
    answer = why(
        parse_rules({"changes": "Dm7 | G7", "range": {"lowest": "D4", "highest": "D4"}}, CORPUS), CORPUS
    )
    assert answer.count == 0 and answer.exclusions


@pytest.mark.parametrize("seed", range(12))
def test_search_agrees_with_the_compiled_space(seed: int) -> None:
    try:
        rules = parse_rules(random_rules(seed), CORPUS)
    except corpora.InputError as error:
        pytest.skip(f"not a rule file of ours: {error}")
    assert has_line(rules) == (compile_rules(rules).count > 0)
    for condition in conditions(rules, CORPUS):
        if not condition.default:
            continue
        assert compile_rules(condition.drop(rules)).count >= compile_rules(rules).count, condition.key


@settings(max_examples=60)
@given(
    st.lists(st.integers(1, 63), max_size=6),
    st.lists(st.integers(1, 63), max_size=3),
    st.integers(0, 6),
)
def test_hitting_sets_by_brute_force(to_hit: list[int], done: list[int], size: int) -> None:
    found = list(hitting(to_hit, done, size))
    assert len(set(found)) == len(found)
    for chosen in found:
        assert chosen.bit_count() == size
        assert all(chosen & each for each in to_hit)
        assert not any(chosen & each == each for each in done)
    minimal = {
        chosen
        for chosen in range(64)
        if chosen.bit_count() == size
        and all(chosen & each for each in to_hit)
        and not any(chosen & each == each for each in done)
        and all(
            any(not (chosen & ~(1 << bit)) & each for each in to_hit) for bit in range(6) if chosen >> bit & 1
        )
    }
    assert minimal <= set(found)


def test_probe_remembers() -> None:
    rules = rules_with(SHORT, {"kind": "largest-leap", "semitones": 0})
    probe = Probe(rules, conditions(rules, CORPUS))
    assert not probe.lines(probe.every)
    looked = probe.looked
    assert not probe.lines(probe.every) and probe.looked == looked
