"""Fitting a taste to one set of rules: what its lines play on average comes as near to a style as they allow.

First iterative proportional fitting (W. E. Deming and F. F. Stephan, Annals of Mathematical Statistics 11,
1940): pairs of successive intervals, and degrees over each family of chord, become cheaper where the lines
play them too seldom and dearer where too often, by a part of the bits that their shares are off. Most rules
cannot play what a style plays, and then these steps soon go too far; so from there on costs go down the exact
slope of the summed distance (steps as in Kingma and Ba, "Adam", 2015), until it no longer falls.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from everyline.corpora.errors import InputError
from everyline.corpora.tastes import INTERVALS, MOST_COST
from everyline.rules.ruleset import Rules
from everyline.rules.taste import UNIT, WIDEST, Melody, Move, Statistics, Taste
from everyline.rules.taste_statistics import Distances, distances
from everyline.solver.diagram import Diagram
from everyline.solver.flow import Floats, Flow, Places
from everyline.solver.hearing import Hearing

MOST_ROUNDS = 300
PATIENCE = 20
"""Rounds down the slope without a fall after which nothing better is expected."""

FIRST_SHARE, LAST_SHARE = 0.5, 0.1
"""The part of what shares are off that a proportional round makes good; halved whenever it was too much."""

FALLS = 1e-5
"""The summed distance (bits) falls where it falls by more than this."""

UNSEEN = 1e-5
"""The share that a style counts as having of what is not in its statistics."""

STEP = 4.0
"""How far a round down the slope moves a cost, in sixteenths of a bit."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """A taste fitted to rules; how far what the lines play was from the style's statistics, and is now."""

    taste: Taste
    before: Distances
    after: Distances
    rounds: int


def fit(rules: Rules, diagram: Diagram, taste: Taste) -> Fitted:
    """The taste fitted to the lines of a diagram compiled from ``rules``.

    Raises InputError for a taste without statistics, and where no line has three notes.
    """
    style = taste.statistics
    if style is None or not style.pairs or not style.degrees:
        raise InputError(
            f'the taste "{taste.name}" has no statistics to be fitted to; take one that was learned.'
        )
    flow = Flow.of(Hearing.of(rules, diagram))
    found = flow.statistics(taste)
    if not found.pairs:
        raise InputError("these rules leave no line of three notes or more, so there is nothing to fit.")
    before = distances(found, style)
    costs = _Costs(taste, style, flow)
    added, rounds = costs.best()
    fitted = costs.taste(added)
    after = distances(flow.statistics(fitted), style)
    # Whole numbers may undo what little was won.
    return (
        Fitted(fitted, before, after, rounds)
        if sum(after) < sum(before)
        else Fitted(taste, before, before, 0)
    )


@dataclass(frozen=True, eq=False)
class _Compared:
    """One kind of thing that lines and style are compared by: ``keys`` that the lines have, which of them
    each thing heard is (``at``, the number of keys for none), and in which of several ``groups`` of shares.

    ``shares`` are the style's within the group, ``missing`` what it has of other keys there, ``told`` whether
    the style knows the group at all.
    """

    keys: tuple[Any, ...]
    at: Places
    group: Places
    shares: Floats
    missing: Floats
    told: Floats

    @classmethod
    def of(
        cls,
        moves: list[Move | None],
        key: Callable[[Move], Hashable | None],
        style: Mapping[Any, float],
        group: Callable[[Any], Hashable],
    ) -> _Compared:
        """What is compared by ``key`` of a move, within each group of keys."""
        found = [None if move is None else key(move) for move in moves]
        keys = tuple(dict.fromkeys(each for each in found if each is not None))
        place = {each: at for at, each in enumerate(keys)}
        groups = list(dict.fromkeys(map(group, keys)))
        totals = dict.fromkeys(groups, 0.0)
        for each, count in style.items():
            if group(each) in totals:
                totals[group(each)] += count
        sizes = [totals[group(each)] or 1.0 for each in keys]
        shares = np.array([style.get(each, 0) / size for each, size in zip(keys, sizes, strict=True)])
        of = np.array([groups.index(group(each)) for each in keys], dtype=np.intp)
        told = np.array([float(totals[each] > 0) for each in groups])
        there = np.bincount(of, weights=shares, minlength=len(groups))
        at = [len(keys) if each is None else place[each] for each in found]
        return cls(keys, np.array(at, dtype=np.intp), of, shares, told - there, told)

    def counted(self, played: Floats) -> Floats:
        """How often each key is played."""
        size = len(self.keys)
        return np.bincount(self.at, weights=played, minlength=size + 1)[:size].astype(np.float64)

    def compare(self, played: Floats) -> tuple[float, Floats, Floats]:
        """(the divergence in bits, its slope for each thing heard being played more, by how many bits each
        key is played too often).

        Divergences of several groups are averaged by how often each is played.
        """
        counts = self.counted(played)
        tiny = np.finfo(np.float64).tiny
        sums = np.bincount(self.group, weights=counts, minlength=len(self.told))
        p = np.maximum(counts / np.maximum(sums, tiny)[self.group], tiny)
        q = np.maximum(self.shares, tiny)
        high = np.log2(2 * p / (p + q)) / 2
        each = p * high + q * np.log2(2 * q / (p + q)) / 2
        apart = np.bincount(self.group, weights=each, minlength=len(self.told)) + self.missing / 2
        apart = np.where(self.told > 0, apart, 1.0)
        mean = np.bincount(self.group, weights=p * high, minlength=len(self.told))
        total = max(sums.sum(), tiny)
        divergence = float((sums * apart).sum() / total)
        slope = ((apart - mean)[self.group] + high) * self.told[self.group] - divergence
        slope += (1 - self.told)[self.group]
        off = np.log2(p / np.maximum(q, UNSEEN)) * self.told[self.group]
        return divergence, np.append(slope / total, 0.0)[self.at], off


class _Costs:
    """The costs of everything heard, and what is added for pairs of intervals and for degrees."""

    def __init__(self, taste: Taste, style: Statistics, flow: Flow) -> None:
        self._base, self._flow = taste, flow
        heard = flow.hearing.heard
        moves = [each.move for each in heard]
        self._pairs = _Compared.of(
            moves,
            lambda move: None if move.before is None else (move.before, move.interval),
            style.pairs,
            lambda key: None,
        )
        self._degrees = _Compared.of(
            moves, lambda move: (move.on, move.family, move.degree), style.degrees, lambda key: key[:2]
        )
        self._intervals = _Compared.of(moves, lambda move: move.interval, style.intervals, lambda key: None)
        self._costs = np.array(flow.hearing.costs(taste), dtype=np.float64)
        # Every context that the lines have gets a row that knows the interval before; no cost falls below 0.
        here = [move for move in moves if move is not None]
        self._contexts = {Melody(move.before, move.on) for move in here} | set(taste.melody)
        rows = {context: self._row(context) for context in self._contexts}
        self._least = np.array(
            [
                -min(row[step + WIDEST] for context, row in rows.items() if context.before == before)
                for before, step in self._pairs.keys
            ]
            + [-taste.harmony[on, family][degree] for on, family, degree in self._degrees.keys],
            dtype=np.float64,
        )

    def _row(self, context: Melody) -> tuple[int, ...]:
        taste = self._base
        row = taste.melody.get(context) or taste.melody.get(Melody(context.before, context.on))
        return row or taste.plain_melody[context.on]

    def _measure(self, added: Floats) -> tuple[float, Floats, Floats]:
        """(summed distance, its slope, by how many bits each pair and degree is played too often)."""
        cut = len(self._pairs.keys)
        costs = self._costs + np.append(added[:cut], 0.0)[self._pairs.at]
        costs += np.append(added[cut:], 0.0)[self._degrees.at]
        run = self._flow.run(costs)
        played = run.played
        kinds = [kind.compare(played) for kind in (self._pairs, self._degrees, self._intervals)]
        slopes = run.slopes(kinds[0][1] + kinds[1][1] + kinds[2][1]) / UNIT
        slope = np.concatenate([self._pairs.counted(slopes), self._degrees.counted(slopes)])
        return sum(each[0] for each in kinds), slope, np.concatenate([kinds[0][2], kinds[1][2]])

    def best(self) -> tuple[Floats, int]:
        """(what is added where the summed distance is least, rounds)."""
        added = np.zeros(len(self._least))
        least, slope, off = self._measure(added)
        share, rounds = FIRST_SHARE, 0
        while share >= LAST_SHARE:
            tried = np.maximum(added + UNIT * share * off, self._least)
            now, then, there = self._measure(tried)
            rounds += 1
            if now < least - FALLS:
                added, least, slope, off = tried, now, then, there
            else:
                share /= 2
        return self._down(added, least, slope, rounds)

    def _down(self, added: Floats, least: float, slope: Floats, rounds: int) -> tuple[Floats, int]:
        best, waited = added, 0
        mean, square = np.zeros_like(added), np.zeros_like(added)
        first = rounds
        while rounds < MOST_ROUNDS and waited < PATIENCE:
            rounds += 1
            turn = rounds - first
            mean = 0.9 * mean + 0.1 * slope
            square = 0.99 * square + 0.01 * slope**2
            pace = np.sqrt(square / (1 - 0.99**turn)) + 1e-9
            added = np.maximum(added - STEP * mean / (1 - 0.9**turn) / pace, self._least)
            now, slope, _ = self._measure(added)
            if now < least - FALLS:
                best, least, waited = added, now, 0
            else:
                waited += 1
        return best, rounds

    def taste(self, added: Floats) -> Taste:
        """The taste with what is added, in whole numbers."""
        cut = len(self._pairs.keys)
        pairs = dict(zip(self._pairs.keys, added[:cut].tolist(), strict=True))
        degrees = dict(zip(self._degrees.keys, added[cut:].tolist(), strict=True))
        melody = {
            context: tuple(
                _whole(cost + pairs.get((context.before, step), 0.0))
                for step, cost in zip(INTERVALS, self._row(context), strict=True)
            )
            for context in sorted(self._contexts, key=repr)
        }
        harmony = {
            (on, family): tuple(
                _whole(cost + degrees.get((on, family, degree), 0.0)) for degree, cost in enumerate(row)
            )
            for (on, family), row in self._base.harmony.items()
        }
        return replace(self._base, melody=melody, harmony=harmony)


def _whole(cost: float) -> int:
    return max(0, min(MOST_COST, round(cost)))
