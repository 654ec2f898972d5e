"""Fitting: on counts that the taste has not learned from, over all lines and over those that are drawn."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

import pytest

from everyline import lines
from everyline.corpora.errors import InputError
from everyline.corpora.taste_text import taste_text
from everyline.corpora.tastes import parse_taste
from everyline.rules.line import Events
from everyline.rules.plain_taste import plain_taste
from everyline.rules.taste import Taste, strangeness
from everyline.rules.taste_statistics import Distances, counted, distances
from everyline.solver.fitting import fit
from everyline.solver.flow import expected
from everyline.solver.hearing import Hearing
from everyline.solver.picking import pick
from everyline.solver.strange import Strange, drawn_by_taste, least_strange, strangeness_histogram
from everyline.spaces.space import Space
from tests.tastes import KEPT_ASIDE, LEARNED_FROM

PASSING = {"passing": ["scale", "chromatic"], "skips": 1}
COMMON = {**PASSING, "handoff": "nearest-or-common"}
"""Over a long form lines that repeat no common tone cannot come near: one note of twenty-five in solos is a
repeated one, and here only endings have any."""
TWO_FIVE_ONE = "Dm7 | G7 | Cmaj7"
BLUES = "F7 | Bb7 | F7 | % | Bb7 | % | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7"

SMALL = lines(
    "Dm7 G7 | Cmaj7",
    start="D4",
    turns=0,
    endings=["plain", "flat-nine-runs-to-third", "two-quarters-to-third", "leading-note-home"],
)
"""Lines of several numbers of notes."""


def from_style(space: Space, found: list[Events]) -> Distances:
    assert KEPT_ASIDE.statistics is not None
    return distances(counted(space.rules, found), KEPT_ASIDE.statistics)


def within(found: Distances, intervals: float, pairs: float, degrees: float) -> bool:
    return found.intervals <= intervals and found.pairs <= pairs and found.degrees <= degrees


@pytest.mark.parametrize(
    ("changes", "options", "bounds"),
    [(TWO_FIVE_ONE, PASSING, (0.02, 0.06, 0.025)), (BLUES, COMMON, (0.03, 0.07, 0.05))],
)
def test_lines_drawn_by_the_fitted_taste_are_in_style(
    changes: str, options: dict[str, Any], bounds: tuple[float, float, float]
) -> None:
    space = lines(changes, **options)
    hearing = Hearing.of(space.rules, space.diagram)
    fitted = fit(hearing, LEARNED_FROM)
    assert sum(fitted.after) < sum(fitted.before)
    drawn = [line.events for line in islice(drawn_by_taste(hearing, fitted.taste, 1), 1000)]
    assert within(from_style(space, drawn), *bounds)
    # No number of notes is preferred: on average lines are about as long as those of all lines are.
    evenly = [line.events for line in space.sample(300, 1)]
    assert abs(sum(map(len, drawn)) / len(drawn) - sum(map(len, evenly)) / len(evenly)) < 1
    # And evenly drawn or smoothest lines are far from it.
    assert not within(from_style(space, evenly), *bounds)
    smooth = [line.events for line in islice(space.ranked(), 100)]
    assert not within(from_style(space, smooth), 0.04, 0.12, 0.06)
    found = pick(space.rules, _by(space, LEARNED_FROM, fitted.taste), 100)
    assert len(found.lines) == 100
    assert within(from_style(space, [line.events for line in found.lines]), 0.04, 0.12, 0.06)


def _by(space: Space, taste: Taste, drawing: Taste) -> Iterator[Strange]:
    for line in drawn_by_taste(Hearing.of(space.rules, space.diagram), drawing, 1):
        yield line._replace(strangeness=strangeness(space.rules, line.events, taste))


def test_expectation_is_that_of_the_listed_lines() -> None:
    found = expected(SMALL.rules, SMALL.diagram, LEARNED_FROM)
    weights = [2 ** (-strangeness(SMALL.rules, line.events, LEARNED_FROM) / 16) for line in SMALL]
    total = sum(weights)
    pairs: dict[tuple[int, int], float] = {}
    degrees: dict[tuple[bool, str, int], float] = {}
    for line, weight in zip(SMALL, weights, strict=True):
        here = counted(SMALL.rules, [line.events])
        for pair, count in here.pairs.items():
            pairs[pair] = pairs.get(pair, 0) + count * weight / total
        for degree, count in here.degrees.items():
            degrees[degree] = degrees.get(degree, 0) + count * weight / total
    assert dict(found.pairs) == pytest.approx(pairs)
    assert {key: count for key, count in found.degrees.items() if count} == pytest.approx(degrees)


def test_a_fitted_taste_is_ranked_drawn_and_counted_like_any() -> None:
    taste = fit(Hearing.of(SMALL.rules, SMALL.diagram), LEARNED_FROM).taste
    assert taste.offset > 0
    assert len({len(line.notes) for line in SMALL}) > 1
    listed = sorted((strangeness(SMALL.rules, line.events, taste), line.number) for line in SMALL)
    ranked = [(line.strangeness, line.number) for line in least_strange(SMALL.rules, SMALL.diagram, taste)]
    assert ranked == listed
    histogram = strangeness_histogram(SMALL.rules, SMALL.diagram, taste)
    assert {cost: sum(1 for each, _ in listed if each == cost) for cost, _ in listed} == histogram
    drawn = list(drawn_by_taste(Hearing.of(SMALL.rules, SMALL.diagram), taste, 1))
    assert sorted((line.strangeness, line.number) for line in drawn) == listed


def test_a_fitted_taste_reads_back_from_its_file() -> None:
    taste = fit(Hearing.of(SMALL.rules, SMALL.diagram), LEARNED_FROM).taste
    text = taste_text(taste.entry)
    again = Taste.of(parse_taste(text.encode(), taste.name, "the file"))
    assert taste_text(again.entry) == text and again.offset == taste.offset
    line = SMALL.line(1).events
    assert strangeness(SMALL.rules, line, again) == strangeness(SMALL.rules, line, taste)


def test_what_cannot_be_fitted() -> None:
    with pytest.raises(InputError, match="has no statistics to be fitted to"):
        fit(Hearing.of(SMALL.rules, SMALL.diagram), plain_taste())
