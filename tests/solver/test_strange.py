"""Strangeness over whole spaces against plain sums over listed lines; draws by taste against exact shares."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache
from itertools import islice
from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.taste import Taste, load_taste, strangeness
from everyline.rules.taste_statistics import counted
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.flow import expected
from everyline.solver.hearing import Hearing
from everyline.solver.strange import (
    LEAST_BITS,
    Draws,
    drawn_by_taste,
    factors,
    least_strange,
    strangeness_histogram,
)
from tests.spaces import CORPUS, TRIPLETS, TWO_FIVE_ONE, VAMP
from tests.tastes import KEPT_ASIDE

CELLS: dict[str, Any] = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": {"lowest": "C4", "highest": "A4"},
    "entry": {"beats": ["1", "1&"]},
    "passing": {"kinds": ["scale"]},
    "approach": {"figures": ["chromatic-below"], "count": ["0-1"]},
    "rhythm": {"cells": ["8 8", "4", "r8 8"]},
    "ending": {"use": ["plain", "fall", "early"]},
    "endings": [
        {"name": "fall", "notes": "b9 1 | 5"},
        {"name": "early", "notes": "b7 13 | -", "rhythm": "8 8 | 4"},
    ],
}
SPACES: dict[str, dict[str, Any]] = {
    "two-five-one": TWO_FIVE_ONE,
    "triplets": TRIPLETS,
    "vamp": VAMP,
    "cells": CELLS,
    "few": {**VAMP, "range": {"lowest": "A3", "highest": "C5"}},
}
SOLOS = load_taste("solos", CORPUS)
TASTES = {"solos": SOLOS, "plain": load_taste("plain", CORPUS), "kept aside": KEPT_ASIDE}


@cache
def space(name: str) -> tuple[Rules, Diagram]:
    found = parse_rules(SPACES[name], CORPUS)
    return found, compile_rules(found)


@pytest.mark.parametrize("taste", TASTES.values(), ids=TASTES)
@pytest.mark.parametrize("name", SPACES)
def test_order_and_histogram_equal_plain_sums_over_listed_lines(name: str, taste: Taste) -> None:
    wanted, diagram = space(name)
    assert 1 < diagram.count < 10_000
    expected_order = sorted(
        (strangeness(wanted, events, taste), number, events)
        for number, events in enumerate(diagram.walk(), 1)
    )
    assert list(least_strange(wanted, diagram, taste)) == expected_order
    histogram = strangeness_histogram(wanted, diagram, taste)
    assert histogram == dict(sorted(Counter(cost for cost, _, _ in expected_order).items()))


def test_a_line_may_end_before_its_last_beat_is_over() -> None:
    """An anticipation leaves beats without an onset; they cost too, at the end of the line."""
    wanted, diagram = space("cells")
    early = [events for events in diagram.walk() if events[-1].onset < wanted.resolution_tick]
    assert early
    costs = {number: cost for cost, number, _ in least_strange(wanted, diagram, SOLOS)}
    for events in early:
        assert costs[diagram.number(events) or 0] == strangeness(wanted, events, SOLOS)


@pytest.mark.parametrize("name", SPACES)
def test_what_lines_play_on_average_equals_that_over_listed_lines(name: str) -> None:
    wanted, diagram = space(name)
    hearing = Hearing.of(wanted, diagram)
    costs = hearing.costs(SOLOS)
    factor, _ = factors(set(costs))
    found = hearing.statistics(hearing.fold.passed([factor[cost] for cost in costs]))
    average = expected(wanted, diagram, SOLOS)
    kinds = ["pairs", "first", "degrees", *(["beats"] if wanted.cells else [])]
    exact: dict[str, Counter[Any]] = {kind: Counter() for kind in kinds}
    real: dict[str, Counter[Any]] = {kind: Counter() for kind in kinds}
    total = 0.0
    for events in diagram.walk():
        heard = counted(wanted, [events])
        weight = weight_of(hearing, factor, diagram, events)
        share = 2 ** (-strangeness(wanted, events, SOLOS) / 16)
        total += share
        for kind in kinds:
            for each, count in getattr(heard, kind).items():
                exact[kind][each] += count * weight
                real[kind][each] += count * share  # type: ignore[assignment]
    for kind in kinds:
        assert getattr(found, kind) == exact[kind]
        shares = {each: count for each, count in getattr(average, kind).items() if count}
        assert shares == pytest.approx({each: share / total for each, share in real[kind].items()})


def weight_of(hearing: Hearing, factor: dict[int, int], diagram: Diagram, events: Any) -> int:
    """What a line weighs: the product of the factors of what is heard along it."""
    fold, place, weight = hearing.fold, hearing.fold.root, 1
    for event in events:
        _, value, below = next(
            arc for arc in fold.arcs[place] if diagram.events[fold.label(place, arc[0])] == event
        )
        weight *= factor[hearing.heard[value].cost(SOLOS)]
        place = below
    if place in fold.last:
        weight *= factor[hearing.heard[fold.last[place]].cost(SOLOS)]
    return weight


# -- lines drawn by taste ------------------------------------------------------------------------------------


def test_factors_are_powers_of_two_rounded_once() -> None:
    """2^(-1/2) is 0.70710678118654752440 (the square root of a half, from memory)."""
    found, scale = factors({0, 8, 16, 160})
    assert found[0] == 1 << scale
    assert min(found.values()).bit_length() > LEAST_BITS
    assert found[0] == 2 * found[16] == 1024 * found[160] == 1 << (LEAST_BITS + 10)
    assert found[8] == round(found[0] * Fraction(70710678118654752440, 10**20))
    assert factors({0, 8}, 0.5)[0][8] * 2 == factors({0, 8}, 0.5)[0][0]
    assert factors({0, 32}, 2)[0][32] * 2 == factors({0, 32}, 2)[0][0]


def check(found: list[int], expected: list[float]) -> None:
    """Pearson's chi-square test; the bound is that of Wilson and Hilferty (Proceedings of the National
    Academy of Sciences 17, 1931) for one right sampler in ten thousand to fail, 3.719 standard deviations."""
    degrees = len(expected) - 1
    assert degrees > 2
    assert sum(found) == pytest.approx(sum(expected))
    off = sum((count - size) ** 2 / size for count, size in zip(found, expected, strict=True))
    bound = degrees * (1 - 2 / (9 * degrees) + 3.719 * (2 / (9 * degrees)) ** 0.5) ** 3
    assert off < bound


@pytest.mark.parametrize(
    ("name", "seed", "temperature"), [("triplets", 1, 1), ("two-five-one", 2, 3), ("cells", 3, 2.5)]
)
def test_first_draws_fall_as_the_shares_say(name: str, seed: int, temperature: float) -> None:
    wanted, diagram = space(name)
    draws, cells = 3000, 30
    shares = sorted(
        (2 ** (-strangeness(wanted, events, SOLOS) / 16 / temperature), number)
        for number, events in enumerate(diagram.walk(), 1)
    )
    total = sum(share for share, _ in shares)
    # Lines from the rarest on are put together until each cell is large enough for the test.
    cell_of: dict[int, int] = {}
    sizes = [0.0]
    for share, number in shares:
        if sizes[-1] * draws / total >= draws / cells / 4:
            sizes.append(0.0)
        sizes[-1] += share
        cell_of[number] = len(sizes) - 1
    lots = Draws.of(Hearing.of(wanted, diagram), SOLOS, temperature)
    found = Counter(cell_of[next(lots.run(seed * draws + each)).number] for each in range(draws))
    check([found[cell] for cell in range(len(sizes))], [size * draws / total for size in sizes])


def test_later_draws_are_in_proportion_to_what_is_left() -> None:
    """The exact chance that line b comes second is the sum over every other first line."""
    wanted, diagram = space("few")
    weights = {
        number: 2 ** (-strangeness(wanted, events, SOLOS) / 16 / 4)
        for number, events in enumerate(diagram.walk(), 1)
    }
    total = sum(weights.values())
    chance = {
        b: sum(weights[a] / total * weights[b] / (total - weights[a]) for a in weights if a != b)
        for b in weights
    }
    likely = sorted(chance, key=chance.__getitem__, reverse=True)[:12]
    draws = 3000
    lots = Draws.of(Hearing.of(wanted, diagram), SOLOS, 4)
    found: Counter[int] = Counter()
    for each in range(draws):
        second = list(islice(lots.run(70_000 + each), 2))[1].number
        found[second if second in likely else 0] += 1
    sizes = {b: chance[b] * draws for b in likely} | {0: (1 - sum(chance[b] for b in likely)) * draws}
    check([found[b] for b in sizes], list(sizes.values()))


@pytest.mark.parametrize("name", SPACES)
def test_all_lines_are_drawn_once_and_the_same_for_a_seed(name: str) -> None:
    wanted, diagram = space(name)
    hearing = Hearing.of(wanted, diagram)
    found = list(drawn_by_taste(hearing, SOLOS, 5))
    assert sorted(line.number for line in found) == list(range(1, diagram.count + 1))
    for line in found[:: max(1, len(found) // 50)]:
        assert line.events == diagram.line(line.number)
        assert line.strangeness == strangeness(wanted, line.events, SOLOS)
    assert list(islice(drawn_by_taste(hearing, SOLOS, 5), 20)) == found[:20]
    assert list(islice(drawn_by_taste(hearing, SOLOS, 6), 20)) != found[:20]


def test_a_seed_gives_the_same_lines_everywhere() -> None:
    hearing = Hearing.of(*space("two-five-one"))
    found = [line.number for line in islice(drawn_by_taste(hearing, TASTES["plain"], 1), 5)]
    assert found == [602, 1615, 783, 1559, 475]


@pytest.mark.parametrize("temperature", [0, -1, 0.0])
def test_a_temperature_that_is_none_is_refused(temperature: float) -> None:
    with pytest.raises(InputError, match="number above 0"):
        next(drawn_by_taste(Hearing.of(*space("vamp")), SOLOS, 1, temperature))
