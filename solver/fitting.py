"""Fitting a taste to one set of rules: what its lines play on average comes as near to a style as they allow.

Iterative proportional fitting (W. E. Deming and F. F. Stephan, Annals of Mathematical Statistics 11, 1940):
round by round the intervals, the pairs of successive intervals and the degrees over each family of chord
become cheaper where the lines play them too seldom and dearer where too often. What the lines play is worked
out over all of them, each weighing what its taste gives it, from the fold; never from a sample.

Lines differ in how many notes they have, and shares alone would leave open how many a line should have: the
fitting would run away to lines with the most notes or the fewest. So counts are fitted, and not shares: those
that the style's shares would be of as many notes as the lines had under the taste before.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from everyline.corpora.errors import InputError
from everyline.corpora.tastes import INTERVALS, MOST_COST
from everyline.rules.taste import UNIT, Melody, Row, Statistics, Taste
from everyline.rules.taste_statistics import Distances, distances
from everyline.solver.flow import Floats, Flow, Places
from everyline.solver.hearing import Hearing

MOST_ROUNDS = 100
FIRST_PART, LAST_PART = 0.4, 0.05
"""The part of what counts are off that a round makes good; halved whenever it was too much."""

FALLS = 1e-4
"""The summed distance (bits) falls where it falls by more than this."""

UNSEEN = 0.3
"""How often something counts as played in the style that is not in its statistics."""

MOST_STEP = 2 * UNIT
"""The most that a count is taken to be off in one round, in sixteenths of a bit."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A taste fitted to rules; how far what the lines play was from the style's statistics, and is now."""

    taste: Taste
    before: Distances
    after: Distances
    rounds: int


def fit(hearing: Hearing, taste: Taste) -> Fitted:
    """The taste fitted to the lines of a hearing.

    Raises InputError for a taste without statistics, and where there is no line with an interval.
    """
    style = taste.statistics
    if style is None or not style.pairs or not style.degrees:
        raise InputError(
            f'the taste "{taste.name}" has no statistics to be fitted to; take one that was learned.'
        )
    flow = Flow.of(hearing)
    found = flow.statistics(taste)
    if not found.pairs:
        raise InputError("no line of three notes or more satisfies these rules, so there is nothing to fit.")
    before = distances(found, style)
    kinds = _kinds(hearing, style)
    costs = np.array(hearing.costs(taste), dtype=np.float64)
    passed = flow.run(costs).played
    for kind in kinds:
        kind.aim(passed)
    least, rounds, part = _distance(kinds, passed), 0, FIRST_PART
    while rounds < MOST_ROUNDS and part >= LAST_PART:
        tried = [kind.toward(passed, part) for kind in kinds]
        heard = flow.run(costs + np.sum([kind.costs for kind in tried], axis=0)).played
        now = _distance(tried, heard)
        if now < least - FALLS:
            kinds, passed, least, rounds = tried, heard, now, rounds + 1
        else:
            part /= 2
    fitted = _adjusted(taste, hearing, kinds) if rounds else taste
    return Fitted(fitted, before, distances(flow.statistics(fitted), style), rounds)


def _sums(places: Places, weights: Floats, size: int) -> Floats:
    """What falls on each of so many places; what falls beyond them is left out."""
    return np.bincount(places, weights=weights, minlength=size + 1)[:size].astype(np.float64)


@dataclass(frozen=True, eq=False)
class _Kind:
    """One kind of thing that is counted (intervals, pairs of them, degrees), and what is added to its costs.

    ``of`` is which thing each value of the hearing is, the last place for those that are none; ``style`` its
    share in the style within its group, ``group`` which group each belongs to, ``beyond`` what share of each
    group's style no line plays. ``aims`` are the counts to come to, ``added`` sixteenths of a bit.
    """

    keys: list[Hashable]
    of: Places
    style: Floats
    group: Places
    beyond: Floats
    aims: Floats
    added: Floats

    @property
    def costs(self) -> Floats:
        """What is added to the cost of each value."""
        return np.append(self.added, 0.0)[self.of]

    def counts(self, passed: Floats) -> Floats:
        """How often each thing is played."""
        return _sums(self.of, passed, len(self.keys))

    def aim(self, passed: Floats) -> None:
        """Aim at as many of each group as there are now, in the style's shares."""
        groups = _sums(self.group, self.counts(passed), len(self.beyond))
        self.aims[:] = self.style * groups[self.group]

    def toward(self, passed: Floats, part: float) -> _Kind:
        """One round more, which makes good a part of what the counts are off."""
        counts = self.counts(passed)
        off = np.log2(np.maximum(counts, _TINY) / np.maximum(self.aims, _TINY)) * UNIT
        return replace(self, added=self.added + part * np.clip(off, -MOST_STEP, MOST_STEP))

    def distance(self, passed: Floats) -> float:
        """The divergence from the style, averaged over the groups by what is played of them."""
        counts = self.counts(passed)
        groups = _sums(self.group, counts, len(self.beyond))
        shares: Floats = counts / np.maximum(groups, _TINY)[self.group]
        middle: Floats = np.maximum((shares + self.style) / 2, _TINY)
        bits: Floats = shares * np.log2(np.maximum(shares, _TINY) / middle)
        bits = bits + self.style * np.log2(np.maximum(self.style, _TINY) / middle)
        found = _sums(self.group, bits, len(self.beyond)) / 2 + self.beyond / 2
        return float(found @ groups / groups.sum())


_TINY = 1e-300


def _kinds(hearing: Hearing, style: Statistics) -> list[_Kind]:
    """Pairs, intervals and degrees, as a hearing has them."""
    moves = [heard.move for heard in hearing.heard]
    pairs = [None if move is None or move.before is None else (move.before, move.interval) for move in moves]
    intervals = [None if move is None else move.interval for move in moves]
    degrees = [None if move is None else (move.on, move.family, move.degree) for move in moves]
    return [
        _kind(pairs, style.pairs, lambda pair: None),
        _kind(intervals, style.intervals, lambda interval: None),
        _kind(degrees, style.degrees, lambda degree: degree[:2]),
    ]


def _kind(things: Sequence[Any], style: Mapping[Any, float], group_of: Callable[[Any], Hashable]) -> _Kind:
    """One kind, of what each value of a hearing is of it (None for none)."""
    keys = sorted({each for each in things if each is not None})
    place = {each: at for at, each in enumerate(keys)}
    groups = list(dict.fromkeys(map(group_of, keys)))
    group = np.array([groups.index(group_of(each)) for each in keys], dtype=np.intp)
    # A group that the style does not know is left as it is: its things are aimed at where they are.
    totals = Counter[Hashable]()
    for each, count in style.items():
        totals[group_of(each)] += count  # type: ignore[assignment]
    told = np.array([(style.get(each, 0) or UNSEEN) / (totals[group_of(each)] or 1) for each in keys])
    beyond = np.ones(len(groups))
    np.subtract.at(beyond, group, told)
    nothing = np.zeros(len(keys))
    of = np.array([len(keys) if each is None else place[each] for each in things], dtype=np.intp)
    return _Kind(keys, of, told, group, np.maximum(beyond, 0.0), nothing.copy(), nothing)


def _distance(kinds: Sequence[_Kind], passed: Floats) -> float:
    """The summed distance of what is played from the style."""
    return sum(kind.distance(passed) for kind in kinds)


def _adjusted(taste: Taste, hearing: Hearing, kinds: Sequence[_Kind]) -> Taste:
    """The taste with what was added, in whole numbers from 0 up, and with what that takes off each note."""
    pairs, intervals, degrees = (dict(zip(kind.keys, kind.added.tolist(), strict=True)) for kind in kinds)
    moves = [heard.move for heard in hearing.heard if heard.move is not None]
    # Every context that the lines have gets a row that knows the interval before.
    contexts = {Melody(move.before, move.on) for move in moves} | set(taste.melody)

    def row(before: int | None, costs: Row) -> list[float]:
        return [
            cost + intervals.get(step, 0.0) + pairs.get((before, step), 0.0)
            for step, cost in zip(INTERVALS, costs, strict=True)
        ]

    melody = {
        context: row(
            context.before, taste.melody.get(context) or taste.melody_row(context.before, context.on, "", 0)
        )
        for context in sorted(contexts, key=repr)
    }
    plain = {on: row(None, costs) for on, costs in taste.plain_melody.items()}
    harmony = {
        (on, family): [cost + degrees.get((on, family, degree), 0.0) for degree, cost in enumerate(costs)]
        for (on, family), costs in taste.harmony.items()
    }
    lowest = [
        -min(0, round(min(min(row) for row in rows)))
        for rows in ([*melody.values(), *plain.values()], harmony.values())
    ]
    return replace(
        taste,
        melody={context: _whole(costs, lowest[0]) for context, costs in melody.items()},
        plain_melody={on: _whole(costs, lowest[0]) for on, costs in plain.items()},
        harmony={key: _whole(costs, lowest[1]) for key, costs in harmony.items()},
        offset=taste.offset + sum(lowest),
    )


def _whole(row: list[float], more: int) -> Row:
    """Costs as a taste has them: whole numbers from 0 up."""
    return tuple(max(0, min(MOST_COST, round(cost) + more)) for cost in row)
