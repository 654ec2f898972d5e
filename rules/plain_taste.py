"""Roughness as a taste: one bit for each point."""

from __future__ import annotations

from everyline.rules.roughness import gap_cost, interval_cost
from everyline.rules.ruleset import Weights
from everyline.rules.taste import FAMILIES, UNIT, WIDEST, Melody, Row, Taste

NAME = "plain"

_INTERVALS = range(-WIDEST, WIDEST + 1)


def plain_taste(weights: Weights | None = None) -> Taste:
    """The taste whose strangeness is roughness, a bit for each point.

    It is exact for lines without a leap of more than an octave: a taste cannot tell such a leap from an
    octave. That a leap is not filled is charged to the interval after it, as roughness does.
    """
    weights = weights or Weights()
    alone = tuple(UNIT * interval_cost(interval, weights) for interval in _INTERVALS)
    melody = {
        Melody(before, on): tuple(
            cost + UNIT * gap_cost(before, interval, weights)
            for interval, cost in zip(_INTERVALS, alone, strict=True)
        )
        for before in _INTERVALS
        for on in (False, True)
    }
    nothing: Row = (0,) * 12
    return Taste(
        NAME,
        melody,
        {False: alone, True: alone},
        {(on, family): nothing for on in (False, True) for family in FAMILIES},
        title="Small steps, and leaps that are filled",
        source="The roughness of a line, as a taste",
    )
