"""Roughness of a line: what its intervals cost, lower is smoother.

Small steps cost nothing, leaps cost more the wider they are, and a leap costs extra unless the melody fills
the gap by turning back in small steps (the gap-fill principle: L. B. Meyer, Explaining Music, 1973). The
weights are the project's own and can be set in the rule file.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from everyline.rules.ruleset import Weights


def interval_cost(interval: int, weights: Weights) -> int:
    """What one melodic interval (signed semitones) costs by its size."""
    size = abs(interval)
    for largest, cost in weights.bands:
        if size <= largest:
            return cost
    return weights.beyond


def fills(leap: int, following: int, weights: Weights) -> bool:
    """Whether the interval after a leap moves back into the gap by a small step."""
    return 1 <= abs(following) <= weights.fill and (leap > 0) != (following > 0)


def gap_cost(interval: int, following: int, weights: Weights) -> int:
    """What an interval costs on top for the interval after it: nothing unless it is a leap left unfilled."""
    if abs(interval) < weights.leap or fills(interval, following, weights):
        return 0
    return weights.unfilled


def roughness(pitches: Sequence[int], weights: Weights) -> int:
    """Roughness of a line given as MIDI pitches; the last interval owes nothing for what might follow it."""
    intervals = [after - before for before, after in itertools.pairwise(pitches)]
    cost = sum(interval_cost(interval, weights) for interval in intervals)
    return cost + sum(gap_cost(a, b, weights) for a, b in itertools.pairwise(intervals))
