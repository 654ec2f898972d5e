"""Roughness of many lines at once, read off their columns; the same numbers as ``rules.roughness``."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from everyline.rules.roughness import gap_cost, interval_cost
from everyline.rules.ruleset import Weights
from everyline.solver.columns import ABSENT, Batch, look_up

_MIDDLE = 128
"""Intervals are -127 to 127 semitones; as an index each is that much more, and 0 stands for no interval."""


class ColumnRoughness:
    """Roughness under given weights."""

    def __init__(self, weights: Weights) -> None:
        sizes = range(1 - _MIDDLE, _MIDDLE)
        self._own = np.zeros(2 * _MIDDLE, dtype=np.int32)
        self._own[1:] = [interval_cost(each, weights) for each in sizes]
        # What an interval costs for itself and for the leap before it, by both.
        costs = np.tile(self._own, (2 * _MIDDLE, 1))
        for before in sizes:
            for after in sizes:
                costs[before + _MIDDLE, after + _MIDDLE] += gap_cost(before, after, weights)
        self._costs = costs.ravel()

    def __call__(self, batch: Batch) -> npt.NDArray[np.int32]:
        """The roughness of each line of a batch."""
        lines = len(batch)
        found = np.zeros(lines, dtype=np.int32)
        pitch = np.full(lines, -1, dtype=np.int32)
        interval = np.zeros(lines, dtype=np.int32)
        for column in range(len(batch.columns.ticks)):
            here = batch.pitches(column).astype(np.int32)
            present = here != ABSENT
            follows = present & (pitch >= 0)
            step = here - pitch + _MIDDLE
            step[~follows] = 0
            # Index 0 costs nothing either way: no interval, so no cost.
            found += look_up(self._costs, interval * (2 * _MIDDLE) + step)
            interval = np.where(present, step, interval)
            pitch = np.where(present, here, pitch)
        return found
