"""The smoothest lines and the roughness of a whole space, against full sorting."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline import corpora
from everyline.rules.roughness import roughness
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules, Weights
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.smooth import roughness_histogram, smoothest
from tests.reference import solve
from tests.reference.random_rules import random_rules
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules
from tests.sweeps import sweep


def sorted_lines(diagram: Diagram, weights: Weights) -> list[tuple[int, int]]:
    found = [
        (roughness([event.pitch for event in events], weights), number)
        for number, events in enumerate(diagram.walk(), 1)
    ]
    return sorted(found)


def check(diagram: Diagram, weights: Weights) -> None:
    expected = sorted_lines(diagram, weights)
    found = list(smoothest(diagram, weights))
    assert [(line.roughness, line.number) for line in found] == expected
    assert all(diagram.number(line.events) == line.number for line in found)
    assert roughness_histogram(diagram, weights) == dict(
        sorted(Counter(cost for cost, _ in expected).items())
    )


def test_the_twelve_smoothest_of_a_known_space() -> None:
    diagram = compile_rules(rules(TWO_FIVE_ONE))
    assert diagram.count == 1758
    found = [(line.roughness, line.number) for line in islice(smoothest(diagram), 12)]
    sixes = (99, 102, 212, 213, 215, 219, 220, 226, 228)
    assert found == [(5, 211), (5, 230), (5, 485), *((6, number) for number in sixes)]


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, TRIPLETS, VAMP], ids=["two-five-one", "triplets", "vamp"])
def test_the_whole_order_equals_full_sorting(data: dict[str, Any]) -> None:
    check(compile_rules(rules(data)), Weights())


weights = st.builds(
    Weights,
    bands=st.lists(st.integers(0, 9), min_size=5, max_size=5).map(
        lambda costs: tuple(zip((0, 2, 4, 7, 12), costs, strict=True))
    ),
    beyond=st.integers(0, 20),
    leap=st.integers(1, 9),
    unfilled=st.integers(0, 9),
    fill=st.integers(1, 6),
)


@settings(max_examples=15)
@given(weights=weights)
def test_any_weights_equal_full_sorting(weights: Weights) -> None:
    check(SMALL, weights)


SMALL = compile_rules(rules(TWO_FIVE_ONE, range={"lowest": "C4", "highest": "E5"}))


@pytest.mark.parametrize("seed", range(sweep(8, 40)))
def test_random_rule_files_agree_with_the_plain_solver(seed: int) -> None:
    data = random_rules(seed, most=800)
    try:
        ours: Rules = parse_rules(data, corpora.load())
    except corpora.InputError as error:
        pytest.skip(f"not a rule file of ours: {error}")
    expected = solve(data).smoothest(50)
    found = [(line.roughness, line.number) for line in islice(smoothest(compile_rules(ours)), 50)]
    assert found == expected


def test_a_large_space_is_searched_without_listing_it() -> None:
    diagram = compile_rules(rules(PICKUPS))
    histogram = roughness_histogram(diagram)
    assert sum(histogram.values()) == diagram.count > 6_000_000
    found = list(islice(smoothest(diagram), 200))
    ranks = [(line.roughness, line.number) for line in found]
    assert ranks == sorted(set(ranks))
    least = min(histogram)
    smooth = [line for line in found if line.roughness == least]
    assert found[0].roughness == least
    assert len(smooth) == min(200, histogram[least])
    for line in found[::20]:
        assert roughness([event.pitch for event in line.events], Weights()) == line.roughness


def test_no_line_has_no_smoothest() -> None:
    none = compile_rules(rules(TWO_FIVE_ONE, limit=[{"kind": "largest-leap", "semitones": 0}]))
    assert list(smoothest(none)) == []
    assert roughness_histogram(none) == {}
