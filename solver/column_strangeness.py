"""Strangeness of many lines at once, read off their columns; the same numbers as ``rules.taste``."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import numpy.typing as npt

from everyline.rules.ruleset import Rules
from everyline.rules.taste import FAMILIES, WIDEST, Taste, rhythm_cost, tone
from everyline.solver.columns import ABSENT, Batch, Columns, look_up

_SIZES = 2 * WIDEST + 1
_NONE = _SIZES
"""The place of no interval, behind those of all intervals."""
_TONES = 12 * len(FAMILIES)
Costs = npt.NDArray[np.int32]


class ColumnStrangeness:
    """Strangeness under a taste, of lines that stand in certain columns."""

    def __init__(self, rules: Rules, columns: Columns, taste: Taste) -> None:
        self._rules, self._columns, self._taste = rules, columns, taste
        # What a taste hears of each code of a column: degree and family as one number, on the beat, harmony.
        self._tones: list[npt.NDArray[np.int32]] = []
        self._on: list[bool] = []
        self._harmony: list[Costs] = []
        for events in columns.events:
            heard = [tone(rules, event) for event in events]
            self._tones.append(
                np.array([FAMILIES.index(each.family) * 12 + each.degree for each in heard] + [0], np.int32)
            )
            self._on.append(heard[0].on)
            costs = [taste.harmony[each.on, each.family][each.degree] for each in heard]
            self._harmony.append(np.array([*costs, 0], np.int32))

    @cached_property
    def _melody(self) -> tuple[Costs, Costs]:
        """Costs by (interval before or none, tone left, interval), off the beat and on it."""

        def table(on: bool) -> Costs:
            rows = [
                self._taste.melody_row(None if place == _NONE else place - WIDEST, on, family, degree)
                for place in range(_SIZES + 1)
                for family in FAMILIES
                for degree in range(12)
            ]
            return np.array(rows, np.int32).ravel()

        return table(False), table(True)

    def __call__(self, batch: Batch) -> Costs:
        """The strangeness of each line of a batch."""
        lines = len(batch)
        found = np.zeros(lines, np.int32)
        pitch = np.full(lines, -1, np.int32)
        before = np.full(lines, _NONE, np.int32)
        left = np.zeros(lines, np.int32)
        for column in range(len(self._columns.ticks)):
            here = batch.pitches(column).astype(np.int32)
            present = here != ABSENT
            follows = present & (pitch >= 0)
            places = np.minimum(batch.codes[column], len(self._columns.events[column])).astype(np.intp)
            step = np.clip(here - pitch, -WIDEST, WIDEST) + WIDEST
            step[~follows] = 0
            costs = look_up(self._melody[self._on[column]], (before * _TONES + left) * _SIZES + step)
            costs = costs + look_up(self._harmony[column], places) - self._taste.offset
            found += np.where(follows, costs, 0)
            before = np.where(follows, step, before)
            left = np.where(present, look_up(self._tones[column], places), left)
            pitch = np.where(present, here, pitch)
        if self._rules.cells:
            found += self._rhythm(batch)
        return found

    def _rhythm(self, batch: Batch) -> Costs:
        """What the rhythm of each line costs. Lines have few rhythms, so that each is looked at once."""
        ticks = self._columns.ticks
        sounds = np.stack([batch.pitches(column) != ABSENT for column in range(len(ticks))])
        kinds, which = np.unique(np.packbits(sounds, axis=0), axis=1, return_inverse=True)
        costs = []
        for kind in kinds.T:
            heard = np.unpackbits(kind, count=len(ticks)).astype(bool)
            onsets = [tick for tick, is_heard in zip(ticks, heard, strict=True) if is_heard]
            costs.append(rhythm_cost(self._rules, onsets, self._taste))
        return np.array(costs, np.int32)[which.ravel()]
