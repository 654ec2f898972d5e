"""Fitting a taste to one set of rules: what its lines play on average comes as near to a style as they allow.

Iterative proportional fitting (W. E. Deming and F. F. Stephan, Annals of Mathematical Statistics 11, 1940):
pairs of successive intervals and degrees over each family of chord become cheaper where the lines play them
too seldom and dearer where too often, by a part of the bits that their shares are off. What the lines play is
worked out over all of them, each weighing what its taste gives it, from the fold; never from a sample.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from copy import copy
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from everyline.corpora.errors import InputError
from everyline.corpora.tastes import FAMILIES, INTERVALS, MOST_COST
from everyline.rules.ruleset import Rules
from everyline.rules.taste import UNIT, Melody, Row, Statistics, Taste
from everyline.rules.taste_statistics import Distances, distances
from everyline.solver.diagram import Diagram
from everyline.solver.hearing import Hearing

MOST_ROUNDS = 200
FIRST_SHARE, LAST_SHARE = 0.5, 0.05
"""The part of what shares are off that a round makes good; halved whenever it was too much."""

FALLS = 1e-5
"""The summed distance (bits) falls where it falls by more than this."""

UNSEEN = 0.5
"""How often something counts as played in the style that is not in its statistics."""

MOST_STEP = 2 * UNIT
"""The most by which a round changes a cost, in sixteenths of a bit."""

K = TypeVar("K", bound=Hashable)
Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Fitted:
    """A taste fitted to rules; how far what the lines play was from the style's statistics, and is now."""

    taste: Taste
    before: Distances
    after: Distances
    rounds: int


def fit(rules: Rules, diagram: Diagram, taste: Taste) -> Fitted:
    """The taste fitted to the lines of a diagram compiled from ``rules``.

    Raises InputError for a taste without statistics, and where there is no line with an interval.
    """
    style = taste.statistics
    if style is None or not style.pairs or not style.degrees:
        raise InputError(
            f'the taste "{taste.name}" has no statistics to be fitted to; take one that was learned.'
        )
    hearing = Hearing.of(rules, diagram)
    flow = Flow.of(hearing)
    found = flow.statistics(taste)
    if not found.pairs:
        raise InputError("these rules leave no line of three notes or more, so there is nothing to fit.")
    before = best = distances(found, style)
    adjusted, fitted, rounds, share = _Adjusted(taste, hearing), taste, 0, FIRST_SHARE
    while rounds < MOST_ROUNDS and share >= LAST_SHARE:
        tried = adjusted.toward(found, style, share)
        candidate = tried.taste()
        heard = flow.statistics(candidate)
        now = distances(heard, style)
        if sum(now) < sum(best) - FALLS:
            adjusted, fitted, found, best, rounds = tried, candidate, heard, now, rounds + 1
        else:
            share /= 2
    return Fitted(fitted, before, best, rounds)


def expected(rules: Rules, diagram: Diagram, taste: Taste) -> Statistics:
    """What a line plays on average, over all lines, each weighing 2^(-strangeness / 16)."""
    return Flow.of(Hearing.of(rules, diagram)).statistics(taste)


@dataclass(frozen=True, eq=False)
class Flow:
    """A hearing as arrays, for sums over all lines in floating point.

    Arcs are sorted by the layer of their source, the longest way to it from the root; the end of a line is an
    arc to one more place, the last. Weights are kept as logarithms, so that lines of any length have some.
    """

    hearing: Hearing
    source: Places
    target: Places
    value: Places
    layers: list[tuple[slice, Places, Places]]
    """The arcs of each layer, where each source begins among them, and these sources."""
    places: int

    @classmethod
    def of(cls, hearing: Hearing) -> Flow:
        """The arrays of a hearing."""
        fold = hearing.fold
        end, nothing = len(fold.nodes), len(hearing.heard)
        depth = fold.depths()
        rows = []
        for place in sorted(fold.order, key=depth.__getitem__):
            rows += [(place, below, value) for _, value, below in fold.arcs[place]]
            if fold.ends[place]:
                rows.append((place, end, fold.last.get(place, nothing)))
        table = np.array(rows, dtype=np.intp).reshape(-1, 3).T
        source, target, value = table
        depths = np.array(depth, dtype=np.intp)[source]
        layers = []
        for first, beyond in _runs(depths):
            starts = [start for start, _ in _runs(source[first:beyond])]
            at = np.array(starts, dtype=np.intp)
            layers.append((slice(first, beyond), at, source[first:beyond][at]))
        return cls(hearing, source, target, value, layers, end + 1)

    def passed(self, costs: Floats) -> Floats:
        """How often each thing heard is on average played in a line, for its cost in sixteenths of a bit."""
        bits = np.append(costs, 0.0)[self.value] / -UNIT
        # Backward: the logarithm of what all lines from a place on weigh together.
        beyond = np.full(self.places, -np.inf)
        beyond[-1] = 0.0
        for arcs, starts, sources in reversed(self.layers):
            ways = bits[arcs] + beyond[self.target[arcs]]
            most = np.maximum.reduceat(ways, starts)
            sizes = np.diff(np.append(starts, len(ways)))
            sums = np.add.reduceat(np.exp2(ways - np.repeat(most, sizes)), starts)
            beyond[sources] = most + np.log2(sums)
        # Forward: how likely a line comes to a place, and goes on from it by each arc.
        share = np.exp2(bits + beyond[self.target] - beyond[self.source])
        visits = np.zeros(self.places)
        visits[self.source[0]] = 1.0
        for arcs, _, _ in self.layers:
            share[arcs] *= visits[self.source[arcs]]
            np.add.at(visits, self.target[arcs], share[arcs])
        played = np.bincount(self.value, weights=share, minlength=len(costs) + 1)
        return played[: len(costs)].astype(np.float64)

    def statistics(self, taste: Taste) -> Statistics:
        """What a line plays on average under a taste."""
        if not len(self.source):
            return Statistics()
        passed = self.passed(np.array(self.hearing.costs(taste), dtype=np.float64))
        return self.hearing.statistics(dict(enumerate(passed.tolist())))


def _runs(values: Places) -> list[tuple[int, int]]:
    """(first, beyond) of each run of equal values."""
    if not len(values):
        return []
    cuts = [0, *(np.flatnonzero(np.diff(values)) + 1).tolist(), len(values)]
    return list(pairwise(cuts))


class _Adjusted:
    """A taste, and what is added to the costs of its pairs of intervals and of its degrees."""

    def __init__(self, taste: Taste, hearing: Hearing) -> None:
        self._taste = taste
        self._pairs: dict[tuple[int, int], float] = {}
        self._degrees: dict[tuple[bool, str, int], float] = {}
        # Every context that the lines have gets a row that knows the interval before.
        moves = [heard.move for heard in hearing.heard if heard.move is not None]
        self._contexts = {Melody(move.before, move.on) for move in moves} | set(taste.melody)

    def toward(self, lines: Statistics, style: Statistics, part: float) -> _Adjusted:
        """One round more: pairs as a whole, degrees within each family of chord, on and off the beat; a part
        of what they are off."""
        found = copy(self)
        found._pairs = _sum(self._pairs, _off(lines.pairs, style.pairs), part)
        for on in (False, True):
            for family in FAMILIES:
                here, there = (
                    {key: share for key, share in each.degrees.items() if key[:2] == (on, family)}
                    for each in (lines, style)
                )
                if here and there:
                    found._degrees = _sum(found._degrees, _off(here, there), part)
        return found

    def taste(self) -> Taste:
        """The taste with what is added, in whole numbers from 0 up."""
        melody = {context: self._row(context) for context in sorted(self._contexts, key=repr)}
        least = min((min(row) for row in melody.values()), default=0)
        harmony = {
            (on, family): [
                cost + self._degrees.get((on, family, degree), 0.0) for degree, cost in enumerate(row)
            ]
            for (on, family), row in self._taste.harmony.items()
        }
        lowest = min((min(row) for row in harmony.values()), default=0)
        return replace(
            self._taste,
            melody={context: _whole(row, least) for context, row in melody.items()},
            plain_melody={
                on: _whole([float(cost) for cost in row], least)
                for on, row in self._taste.plain_melody.items()
            },
            harmony={key: _whole(row, lowest) for key, row in harmony.items()},
        )

    def _row(self, context: Melody) -> list[float]:
        taste, before = self._taste, context.before
        row = taste.melody.get(context) or taste.melody.get(Melody(before, context.on))
        row = row or taste.plain_melody[context.on]
        if before is None:
            return [float(cost) for cost in row]
        return [
            cost + self._pairs.get((before, step), 0.0) for step, cost in zip(INTERVALS, row, strict=True)
        ]


def _off(lines: Mapping[K, float], style: Mapping[K, float]) -> dict[K, float]:
    """By how much each share that the lines have is too high, in sixteenths of a bit; the mean is 0."""
    here = sum(lines.values())
    told = {key: style.get(key, 0) or UNSEEN for key in lines}
    there = sum(told.values())
    if not here or not there:
        return {}
    off = {
        key: float(np.clip(UNIT * np.log2(count / here * there / told[key]), -MOST_STEP, MOST_STEP))
        for key, count in lines.items()
        if count > 0
    }
    mean = sum(off[key] * lines[key] for key in off) / here
    return {key: each - mean for key, each in off.items()}


def _sum(costs: Mapping[K, float], more: Mapping[K, float], part: float) -> dict[K, float]:
    return {key: costs.get(key, 0.0) + part * more.get(key, 0.0) for key in costs.keys() | more.keys()}


def _whole(row: list[float], least: float) -> Row:
    """Costs as a taste has them: whole numbers from 0 up; ``least`` is taken off where it is below 0."""
    return tuple(min(MOST_COST, round(cost - min(least, 0.0))) for cost in row)
