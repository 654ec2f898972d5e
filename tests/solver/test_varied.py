"""Varied choices against their plain definitions and against every choice there is."""

from __future__ import annotations

from itertools import combinations, islice

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.line import Event, Events
from everyline.solver.compiler import compile_rules
from everyline.solver.smooth import Ranked, smoothest
from everyline.solver.varied import BALANCE, OPTIMAL, TooRough, distance, least_distance, most_varied, varied
from tests.spaces import PICKUPS, TWO_FIVE_ONE, rules

DIAGRAM = compile_rules(rules(TWO_FIVE_ONE))
POOL = list(islice(smoothest(DIAGRAM), 120))


def line(*notes: tuple[int, int]) -> Events:
    return tuple(Event(onset, pitch, 240) for onset, pitch in notes)


def test_distance_counts_the_onsets_that_differ() -> None:
    assert distance(line((0, 60), (240, 62)), line((0, 60), (240, 62))) == 0
    assert distance(line((0, 60), (240, 62)), line((0, 60), (240, 64))) == 1
    # An onset that only one of them has differs too.
    assert distance(line((0, 60), (240, 62)), line((-240, 59), (0, 60), (240, 62))) == 1
    assert distance(line((0, 60)), line((120, 60))) == 2
    # Length alone makes no distance.
    assert distance((Event(0, 60, 240),), (Event(0, 60, 480),)) == 0


def plain(pool: list[Ranked], most: int, balance: int) -> list[Ranked]:
    """The definition, step by step."""
    onsets = len({event.onset for each in pool for event in each.events})
    least, most_rough = min(each.roughness for each in pool), max(each.roughness for each in pool)
    chosen: list[Ranked] = []
    left = sorted(pool, key=lambda each: (each.roughness, each.number))
    for _ in range(most):

        def value(each: Ranked) -> int:
            nearest = min((distance(each.events, other.events) for other in chosen), default=onsets)
            smooth = (100 - balance) * (most_rough - each.roughness) * onsets
            return smooth + balance * nearest * max(1, most_rough - least)

        best = max(left, key=value)
        chosen.append(best)
        left.remove(best)
    return chosen


@pytest.mark.parametrize("balance", [0, 20, BALANCE, 80, 100])
def test_varied_is_the_definition(balance: int) -> None:
    assert list(islice(varied(POOL, balance), 15)) == plain(POOL, 15, balance)


def test_varied_lines_of_different_onsets() -> None:
    pool = list(islice(smoothest(compile_rules(rules(PICKUPS))), 150))
    assert list(islice(varied(pool), 10)) == plain(pool, 10, BALANCE)


def test_varied_gives_the_whole_pool_once_and_the_order_of_the_pool_does_not_matter() -> None:
    whole = list(varied(POOL))
    assert sorted(each.number for each in whole) == sorted(each.number for each in POOL)
    assert list(varied(POOL[::-1])) == whole
    assert [each.number for each in varied(POOL, 0)] == [each.number for each in POOL]


def test_varied_lines_differ_more_than_the_smoothest() -> None:
    chosen = [each.events for each in islice(varied(POOL), 8)]
    assert least_distance(chosen) > least_distance([each.events for each in POOL[:8]])


@pytest.mark.parametrize(("choose", "spare"), [(2, 0), (3, 0), (3, 4), (4, 2)])
def test_the_exact_choice_equals_looking_at_every_choice(choose: int, spare: int) -> None:
    pool = POOL[::9][:13]
    budget = sum(each.roughness for each in pool[:choose]) + spare
    best = min(
        (-least_distance([each.events for each in some]), sum(each.roughness for each in some))
        for some in combinations(pool, choose)
        if sum(each.roughness for each in some) <= budget
    )
    found = most_varied(pool, choose, budget)
    assert found.status == OPTIMAL
    assert (-found.least, found.roughness) == best
    assert found.bound == found.least == least_distance([each.events for each in found.lines])


def test_the_exact_choice_is_no_worse_than_step_by_step() -> None:
    pool = POOL[:60]
    greedy = list(islice(varied(pool), 5))
    found = most_varied(pool, 5)
    assert found.least >= least_distance([each.events for each in greedy])
    assert found.roughness <= sum(each.roughness for each in greedy)
    assert most_varied(pool, 5) == found


def test_what_cannot_be_chosen_is_refused() -> None:
    with pytest.raises(TooRough, match="the smoothest together have 15"):
        most_varied(POOL, 3, 14)
    with pytest.raises(InputError, match="1 to 120"):
        most_varied(POOL, 121)
    with pytest.raises(InputError, match="too large"):
        most_varied(POOL * 3, 2)
    with pytest.raises(InputError, match="percentage"):
        list(varied(POOL, 101))
    assert list(varied([])) == []
