"""How often a style plays each pair of intervals, each degree and each rhythm; and how far lines are from it.

Distances are Jensen-Shannon divergences in bits (J. Lin, IEEE Transactions on Information Theory 37, 1991):
0 for the same shares, 1 for shares that have nothing in common.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping
from math import log2
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from everyline.corpora.tastes import INTERVALS
from everyline.rules.line import Events
from everyline.rules.taste import UNIT, Places, Row, Statistics, Taste, beats, moves

if TYPE_CHECKING:
    from everyline.rules.ruleset import Rules

Pair = tuple[int, int]
"""An interval and the one after it, in semitones, clipped to an octave."""

_STEPS = 60
"""Steps after which the shares of what follows what no longer change."""

T = TypeVar("T", bound=Hashable)


class Distances(NamedTuple):
    """Jensen-Shannon divergences in bits: of the intervals, of the pairs of successive intervals, and of the
    degrees given the family of the chord and on or off the beat."""

    intervals: float
    pairs: float
    degrees: float


def counted(rules: Rules, lines: Iterable[Events]) -> Statistics:
    """The statistics of some lines under one set of rules."""
    pairs: Counter[Pair] = Counter()
    first: Counter[int] = Counter()
    degrees: Counter[tuple[bool, str, int]] = Counter()
    rhythms: Counter[tuple[Places | None, Places]] = Counter()
    for events in lines:
        for move in moves(rules, events):
            if move.before is None:
                first[move.interval] += 1
            else:
                pairs[move.before, move.interval] += 1
            degrees[move.on, move.family, move.degree] += 1
        rhythms.update(beats(rules, [event.onset for event in events]))
    return Statistics(pairs, first, degrees, rhythms)


def implied(taste: Taste) -> Statistics:
    """The statistics that a taste's costs would give by themselves, for one that was learned from none.

    Shares, not counts: of lines that go on for ever in eighths, on and off the beat in turn, with the
    contexts that leave chords out; degrees are as likely as their own costs make them.
    """
    first = _shares(taste.melody_row(None, False, "", 0))
    pairs: dict[Pair, float] = {}
    shares = {(interval, False): share for interval, share in zip(INTERVALS, first, strict=True)}
    for _ in range(_STEPS):
        pairs = {}
        after: dict[tuple[int, bool], float] = {}
        for (before, on), share in shares.items():
            row = _shares(taste.melody_row(before, not on, "", 0))
            for interval, part in zip(INTERVALS, row, strict=True):
                pairs[before, interval] = pairs.get((before, interval), 0) + share * part
                after[interval, not on] = after.get((interval, not on), 0) + share * part
        # Halfway between two steps, so that on and off the beat are mixed.
        shares = {key: (shares.get(key, 0) + after.get(key, 0)) / 2 for key in shares.keys() | after.keys()}
    degrees = {
        (on, family, degree): share
        for (on, family), row in taste.harmony.items()
        for degree, share in enumerate(_shares(row))
    }
    return Statistics(pairs, {}, degrees)


def _shares(costs: Row) -> list[float]:
    found = [2.0 ** (-cost / UNIT) for cost in costs]
    total = sum(found)
    return [each / total for each in found]


def divergence(one: Mapping[T, float], other: Mapping[T, float]) -> float:
    """Jensen-Shannon divergence of two distributions given as counts, in bits.

    ValueError for one without counts.
    """
    here, there = sum(one.values()), sum(other.values())
    if not here or not there:
        raise ValueError("a distribution without counts has no divergence")
    found = 0.0
    for each in sorted(one.keys() | other.keys(), key=repr):
        p, q = one.get(each, 0) / here, other.get(each, 0) / there
        for share in (p, q):
            if share:
                found += share * log2(2 * share / (p + q)) / 2
    return max(0.0, found)


def distances(lines: Statistics, style: Statistics) -> Distances:
    """How far lines are from a style.

    The divergence of the degrees is worked out for each family of chord, on and off the beat, and averaged
    by how many notes the lines have there; a family that the style has never seen counts as 1.
    """
    return Distances(
        divergence(lines.intervals, style.intervals),
        divergence(lines.pairs, style.pairs),
        _degrees(lines.degrees, style.degrees),
    )


def _degrees(
    lines: Mapping[tuple[bool, str, int], float], style: Mapping[tuple[bool, str, int], float]
) -> float:
    here, there = _given(lines), _given(style)
    total = sum(lines.values())
    return sum(
        sum(row.values()) / total * (divergence(row, there[context]) if context in there else 1.0)
        for context, row in here.items()
    )


def _given(counts: Mapping[tuple[bool, str, int], float]) -> dict[tuple[bool, str], dict[int, float]]:
    """The degrees for each family of chord, on and off the beat."""
    found: dict[tuple[bool, str], dict[int, float]] = {}
    for (on, family, degree), count in counts.items():
        found.setdefault((on, family), {})[degree] = count
    return found
