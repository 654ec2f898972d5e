"""What lines play on average, each weighing what its taste gives it: in floating point, for fitting.

The sums are those of the fold, over all lines and never over a sample; here they are arrays, a layer of
places at a time, so that they can be had some hundred times in a row.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from everyline.rules.ruleset import Rules
from everyline.rules.taste import UNIT, Statistics, Taste
from everyline.solver.diagram import Diagram
from everyline.solver.hearing import Hearing

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


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

    def run(self, costs: Floats) -> Run:
        """How all lines go together, for the cost of each thing heard in sixteenths of a bit."""
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
        onward = np.exp2(bits + beyond[self.target] - beyond[self.source])
        visits = np.zeros(self.places)
        visits[self.source[0]] = 1.0
        for arcs, _, _ in self.layers:
            np.add.at(visits, self.target[arcs], onward[arcs] * visits[self.source[arcs]])
        return Run(self, onward, visits)

    def heard(self, shares: Floats) -> Floats:
        """What arcs have together for each thing heard."""
        size = len(self.hearing.heard)
        return np.bincount(self.value, weights=shares, minlength=size + 1)[:size].astype(np.float64)

    def statistics(self, taste: Taste) -> Statistics:
        """What a line plays on average under a taste."""
        if not len(self.source):
            return Statistics()
        run = self.run(np.array(self.hearing.costs(taste), dtype=np.float64))
        return self.hearing.statistics(dict(enumerate(run.played.tolist())))


@dataclass(frozen=True, eq=False)
class Run:
    """How all lines go together under some costs: ``onward`` is how likely each arc is at its source,
    ``visits`` how likely a line comes to each place."""

    flow: Flow
    onward: Floats
    visits: Floats

    @property
    def played(self) -> Floats:
        """How often each thing heard is played in a line, on average."""
        return self.flow.heard(self.onward * self.visits[self.flow.source])


def _runs(values: Places) -> list[tuple[int, int]]:
    """(first, beyond) of each run of equal values."""
    if not len(values):
        return []
    cuts = [0, *(np.flatnonzero(np.diff(values)) + 1).tolist(), len(values)]
    return list(pairwise(cuts))
