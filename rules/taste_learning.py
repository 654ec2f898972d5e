"""Learning a taste from what somebody plays: counts turned into costs, smoothed where they are few.

Each context is smoothed toward the plainer one that holds it, with a weight in moves, as in Dirichlet
smoothing with back-off (D. MacKay and L. Peto, Natural Language Engineering 1, 1995). Where the taste leans
on another one, it is smoothed toward what the other says of the context, times how far the plainer context
has moved away from the other already.

In melody and harmony the likeliest costs nothing and everything else what it is less likely by: a line with
one note more is then as welcome as one with a note less. Harmony is charged by half, since melody, which
knows the degree that an interval leaves, has charged for the degree that it leads to within a chord already.
In rhythm, where all lines have as many beats, costs are the bits of the shares themselves.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from math import log2
from typing import TypeVar

from everyline.corpora.tastes import DEGREES, INTERVALS
from everyline.rules.taste import (
    FAMILIES,
    MOST_COST,
    UNIT,
    WIDEST,
    BeatCosts,
    HeardMove,
    Melody,
    Places,
    Row,
    Statistics,
    Taste,
)

T = TypeVar("T", bound=Hashable)
Shares = list[float]

HARMONY = 0.5
"""The part of its bits that a degree is charged."""

LEAST_SEEN = 4
"""A context of all four parts is listed when it was seen so often."""


@dataclass(frozen=True, slots=True)
class Smoothing:
    """How many moves what a context is smoothed toward counts for, from the plainest to the most special.

    The three of melody were chosen on one half of the counts of solos by how well they foretell the other.
    """

    plainest: float = 5
    interval_before: float = 60
    chord: float = 30
    harmony: float = 12
    beats: float = 20


ALONE = Smoothing()
LEANING = replace(ALONE, plainest=60, harmony=60)
"""What another taste says is worth more than nothing at all."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a taste was learned from: moves, and how much of it they decide, 0 to 1.

    ``plainest`` is their part in how often each interval comes, ``interval_before`` in what follows an
    interval, ``chord`` in what follows it over a degree of a chord; each averaged over the moves.
    """

    moves: int
    plainest: float
    interval_before: float
    chord: float


def learned(
    name: str,
    moves: Mapping[HeardMove, int],
    beats: Mapping[tuple[Places | None, Places], int],
    toward: Taste | None = None,
    texts: Mapping[str, str] | None = None,
) -> tuple[Taste, Evidence]:
    """A taste out of counted moves and beats, leaning on another where one is given.

    ``texts`` are its title, source and licence. ValueError where there is no move to learn from.
    """
    if not moves:
        raise ValueError("there is no move to learn from")
    weights = ALONE if toward is None else LEANING
    plain, melody, evidence = _melody(moves, toward, weights)
    taste = Taste(
        name,
        melody,
        plain,
        _harmony(moves, toward, weights),
        _rhythm(beats, toward, weights),
        statistics(moves, beats),
        # Title, source and licence are texts, which the type of a mapping cannot say of single names.
        **(texts or {}),  # type: ignore[arg-type]
    )
    return taste, evidence


def statistics(
    moves: Mapping[HeardMove, int], beats: Mapping[tuple[Places | None, Places], int] | None = None
) -> Statistics:
    """The statistics of counted moves and beats."""
    pairs: Counter[tuple[int, int]] = Counter()
    first: Counter[int] = Counter()
    degrees: Counter[tuple[bool, str, int]] = Counter()
    for move, count in moves.items():
        if move.before is None:
            first[move.interval] += count
        else:
            pairs[move.before, move.interval] += count
        degrees[move.on, move.family, move.degree] += count
    return Statistics(pairs, first, degrees, beats or {})


def _melody(
    moves: Mapping[HeardMove, int], toward: Taste | None, weights: Smoothing
) -> tuple[dict[bool, Row], dict[Melody, Row], Evidence]:
    seen: dict[Melody | bool, Counter[int]] = defaultdict(Counter)
    for move, count in moves.items():
        context = Melody(move.before, move.on, move.family_before, move.degree_before)
        for each in (move.on, Melody(move.before, move.on), context):
            seen[each][move.interval] += count
    listed = {each for each in seen if isinstance(each, Melody) and _is_listed(each, seen[each])}
    listed |= set(toward.melody) if toward else set()
    shares: dict[Melody | bool, Shares] = {}
    for on in (False, True):
        told = _shares(toward.plain_melody[on]) if toward else _even(len(INTERVALS))
        shares[on] = _smoothed(seen[on], told, weights.plainest)
    for context in sorted(listed, key=_plainest_first):
        special = context.family is not None
        above = Melody(context.before, context.on) if special else context.on
        if above not in shares:
            above = context.on
        told = shares[above]
        if toward:
            told = _moved(_shares(_row(toward, context)), told, _shares(_row(toward, above)))
        shares[context] = _smoothed(
            seen[context], told, weights.chord if special else weights.interval_before
        )
    plain = {on: _beyond_likeliest(shares[on]) for on in (False, True)}
    melody = {context: _beyond_likeliest(shares[context]) for context in sorted(listed, key=_order)}
    return plain, melody, _evidence(seen, weights)


def _is_listed(context: Melody, seen: Counter[int]) -> bool:
    return context.family is None or seen.total() >= LEAST_SEEN


def _plainest_first(context: Melody) -> tuple[bool, tuple[int, bool, int, int]]:
    return context.family is not None, _order(context)


def _order(context: Melody) -> tuple[int, bool, int, int]:
    """The order of a file: by the interval before (none first), off and on the beat, then by chord."""
    before = -WIDEST - 1 if context.before is None else context.before
    if context.family is None or context.degree is None:
        return before, context.on, -1, -1
    return before, context.on, FAMILIES.index(context.family), context.degree


def _row(taste: Taste, context: Melody | bool) -> Row:
    """What a taste says of a context: its most special row for it."""
    if isinstance(context, bool):
        return taste.plain_melody[context]
    plainer = Melody(context.before, context.on)
    return taste.melody.get(context) or taste.melody.get(plainer) or taste.plain_melody[context.on]


def _evidence(seen: Mapping[Melody | bool, Counter[int]], weights: Smoothing) -> Evidence:
    parts = {"plainest": 0.0, "interval_before": 0.0, "chord": 0.0}
    kinds = {"plainest": weights.plainest, "interval_before": weights.interval_before, "chord": weights.chord}
    total = 0
    for context, counter in seen.items():
        count = counter.total()
        if isinstance(context, bool):
            kind = "plainest"
            total += count
        else:
            kind = "interval_before" if context.family is None else "chord"
        parts[kind] += count * count / (count + kinds[kind])
    return Evidence(total, **{kind: part / total for kind, part in parts.items()})


def _harmony(
    moves: Mapping[HeardMove, int], toward: Taste | None, weights: Smoothing
) -> dict[tuple[bool, str], Row]:
    seen: dict[tuple[bool, str], Counter[int]] = defaultdict(Counter)
    for move, count in moves.items():
        seen[move.on, move.family][move.degree] += count
    found = {}
    for on in (False, True):
        for family in FAMILIES:
            told = _shares(toward.harmony[on, family], HARMONY) if toward else _even(len(DEGREES))
            shares = _smoothed(seen[on, family], told, weights.harmony, first=0)
            found[on, family] = _beyond_likeliest(shares, HARMONY)
    return found


def _rhythm(
    beats: Mapping[tuple[Places | None, Places], int], toward: Taste | None, weights: Smoothing
) -> BeatCosts | None:
    """Every row lists every pattern that was seen anywhere, so that only new ones cost the same in all."""
    base = toward.rhythm if toward else None
    patterns = sorted({places for _, places in beats} | set(base.plainest if base else ()))
    if not patterns:
        return None
    # One more stands for all that was never seen.
    size = len(patterns) + 1
    place = {each: index for index, each in enumerate(patterns)}
    befores = {before for before, _ in beats} | set(base.rows if base else ())
    seen: dict[Places | None, Counter[int]] = defaultdict(Counter)
    for (before, places), count in beats.items():
        seen[before][place[places]] += count
    everywhere: Counter[int] = Counter()
    for counter in seen.values():
        everywhere += counter
    plain_told = _even(size)
    if base:
        plain_told = _shares([*(base.plainest.get(each, base.other) for each in patterns), base.other])
    plainest = _smoothed(everywhere, plain_told, weights.plainest, first=0)
    rows: dict[Places | None, dict[Places, int]] = {}
    for before in sorted(befores, key=lambda each: (each is not None, each or ())):
        told = plainest
        if base:
            row = _shares([*(base.cost(before, each) for each in patterns), base.other])
            told = _moved(row, plainest, plain_told)
        costs = _costs(_smoothed(seen[before], told, weights.beats, first=0))
        rows[before] = dict(zip(patterns, costs[:-1], strict=True))
    costs = _costs(plainest)
    return BeatCosts(rows, dict(zip(patterns, costs[:-1], strict=True)), costs[-1])


def _smoothed(seen: Mapping[int, int], told: Shares, weight: float, first: int = -WIDEST) -> Shares:
    """Shares out of counts and of what is told before; ``first`` is the value at the first place."""
    total = sum(seen.values())
    return [(seen.get(first + place, 0) + weight * t) / (total + weight) for place, t in enumerate(told)]


def _moved(row: Shares, above: Shares, base_above: Shares) -> Shares:
    """A row as far from its base as the context above it is from its own."""
    found = [r * a / b for r, a, b in zip(row, above, base_above, strict=True)]
    total = sum(found)
    return [each / total for each in found]


def _shares(costs: Row | list[int], part: float = 1.0) -> Shares:
    """Shares out of costs, whatever those sum up to; ``part`` is the part of the bits that was charged."""
    # Costs beyond about a thousand bits would vanish; MOST_COST keeps them far from that.
    found = [2.0 ** (-cost / UNIT / part) for cost in costs]
    total = sum(found)
    return [each / total for each in found]


def _even(size: int) -> Shares:
    return [1 / size] * size


def _costs(shares: Shares) -> Row:
    """Bits of shares, in sixteenths."""
    return tuple([min(MOST_COST, round(-UNIT * log2(share))) if share else MOST_COST for share in shares])


def _beyond_likeliest(shares: Shares, part: float = 1.0) -> Row:
    """Bits by which shares are less than the largest, or a part of them, in sixteenths."""
    largest = max(shares)
    return _costs([(share / largest) ** part for share in shares])
