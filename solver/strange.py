"""Strangeness over a whole space, exactly, without listing it: the least strange lines, how many there are
of each strangeness, and lines drawn by taste."""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Context, Decimal
from fractions import Fraction
from itertools import accumulate
from math import prod
from typing import Any, NamedTuple

from everyline.corpora.errors import InputError
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules
from everyline.rules.taste import UNIT, Taste
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold
from everyline.solver.hearing import Hearing
from everyline.solver.sample import below

LEAST_BITS = 32
"""The least size of a factor, in bits: rounding one changes a share by less than a part in 4 000 000 000."""

_BITS = 64

MOST_BYTES = 2 << 30
"""The memory that exact weights may take before a temperature is refused as too low for such lines."""

Bits = Callable[[int], int]
"""Gives a whole number of so many random bits."""


class Strange(NamedTuple):
    """A line, its strangeness (sixteenths of a bit) and its number in the whole space."""

    strangeness: int
    number: int
    events: Events


# -- the least strange, and how many are how strange ---------------------------------------------------------


def least_strange(rules: Rules, diagram: Diagram, taste: Taste) -> Iterator[Strange]:
    """All lines from the least strange on, ties by number, each worked out when it is asked for."""
    return (Strange(*each) for each in Hearing.of(rules, diagram).priced(taste).best())


def strangeness_histogram(rules: Rules, diagram: Diagram, taste: Taste) -> dict[int, int]:
    """How many lines there are of each strangeness, in rising order; exact at any size."""
    return Hearing.of(rules, diagram).priced(taste).histogram()


# -- lines drawn by taste ------------------------------------------------------------------------------------


def drawn_by_taste(
    hearing: Hearing, taste: Taste, seed: int = 1, temperature: float | Fraction = 1
) -> Iterator[Strange]:
    """Distinct lines, each drawn out of those that are left in proportion to 2^(-strangeness / 16 /
    temperature); all of them in the end. The same for the same seed everywhere.

    Every factor is rounded once to a whole number (see ``factors``), and for these the distribution is exact:
    only whole numbers are drawn, by ``getrandbits`` of the Mersenne Twister. Raises InputError for a
    temperature that is not above 0 or too low for lines so long.
    """
    return Draws.of(hearing, taste, temperature).run(seed)


def factors(costs: set[int], temperature: float | Fraction = 1) -> tuple[dict[int, int], int]:
    """For each cost in sixteenths of a bit, 2^(scale - cost / 16 / temperature), rounded to a whole number of
    LEAST_BITS bits or more; and that scale. The same on every machine.

    A temperature given as a float is the decimal number that it prints as.
    """
    heat = temperature if isinstance(temperature, Fraction) else Fraction(str(temperature))
    if heat <= 0:
        raise InputError(f"temperature {temperature}: write a number above 0.")
    exponents = {cost: Fraction(cost, UNIT) / heat for cost in costs}
    scale = LEAST_BITS + int(-(-max(exponents.values(), default=Fraction(0)) // 1))
    context = Context(prec=scale * 3 // 10 + 30)
    ln2 = context.ln(Decimal(2))

    def power(exponent: Fraction) -> int:
        whole, part = divmod(scale - exponent, 1)
        share = context.divide(Decimal(part.numerator), Decimal(part.denominator))
        fine = context.multiply(context.exp(context.multiply(share, ln2)), Decimal(1 << int(whole)))
        return int(fine.to_integral_value(context=context))

    return {cost: power(exponent) for cost, exponent in exponents.items()}, scale


@dataclass(slots=True)
class _Drawn:
    """What has been drawn below one beginning, from there on: its weight; and either the one line's arcs, or
    whether the line that ends there has been drawn and the beginnings that are longer by a note, by arc."""

    weight: int
    rest: tuple[int, ...] | None
    ended: bool = False
    longer: dict[int, _Drawn] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws from a fold whose values are costs. ``sums`` are what the lines from each place weigh together.

    Factors are fractions of 2^``scale``. So that lines of few notes and of many weigh alike, what goes on
    from a place is counted in a unit that ``depth``, the most notes before it, decides: 2^-scale for each
    note that could still come.
    """

    fold: Fold[Any, int]
    factor: Mapping[int, int]
    scale: int
    depth: list[int]
    most_notes: int
    sums: list[int]
    _marks: dict[int, list[int]] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, hearing: Hearing, taste: Taste, temperature: float | Fraction = 1) -> Draws:
        """The draws from the lines of a hearing. Raises InputError as ``drawn_by_taste`` does."""
        fold = hearing.priced(taste)
        costs = {cost for arcs in fold.arcs for _, cost, _ in arcs} | set(fold.last.values())
        factor, scale = factors(costs, temperature)
        depth = fold.depths()
        notes = max(depth)
        size = scale * (notes + 1) * len(fold.nodes) // 16
        if size > MOST_BYTES:
            raise InputError(
                f"temperature {temperature}: too low for lines of {notes} notes, whose exact weights would "
                f"take {size >> 20} MB; raise it."
            )
        found = cls(fold, factor, scale, depth, notes, [])
        arcs = fold.arcs

        def gather(place: int, sums: list[int]) -> int:
            ways = [
                (factor[value] * sums[below]) << (scale * (depth[below] - depth[place] - 1))
                for _, value, below in arcs[place]
            ]
            return found._ending(place) + sum(ways)

        return replace(found, sums=fold.backward(gather))

    def _onward(self, place: int, at: int) -> int:
        """What an arc multiplies by."""
        _, value, below = self.fold.arcs[place][at]
        return self.factor[value] << (self.scale * (self.depth[below] - self.depth[place] - 1))

    def _ending(self, place: int) -> int:
        """What the line that ends at a place weighs from there on."""
        if not self.fold.ends[place]:
            return 0
        left = self.scale * (self.most_notes - self.depth[place])
        if place in self.fold.last:
            return self.factor[self.fold.last[place]] << left
        return 1 << left + self.scale

    def run(self, seed: int) -> Iterator[Strange]:
        """Lines as they are drawn, until none is left."""
        bits = random.Random(seed).getrandbits
        drawn = _Drawn(0, None)
        while drawn.weight < self.sums[self.fold.root]:
            yield self._line(self._draw(drawn, bits))

    def _draw(self, drawn: _Drawn, bits: Bits) -> list[int]:
        """The arcs of a line that has not been drawn; it is drawn then."""
        fold, place = self.fold, self.fold.root
        arcs: list[int] = []
        along: list[tuple[_Drawn, int]] = []
        here: _Drawn | None = drawn
        fresh = place
        while True:
            if here is None:
                at = self._any(place, bits)
            else:
                fresh = place
                at = self._left(place, here, bits)
            if at < 0:
                break
            if here is not None:
                along.append((here, self._onward(place, at)))
                here = here.longer.get(at)
            arcs.append(at)
            place = fold.arcs[place][at][2]
        self._note(arcs, along, here, fresh, self._ending(place))
        return arcs

    def _note(
        self, arcs: list[int], along: list[tuple[_Drawn, int]], here: _Drawn | None, fresh: int, weight: int
    ) -> None:
        """Note that a line has been drawn. ``along`` are the beginnings that it shares with others, with the
        factors that lead on from them, ``fresh`` is the place of the last of these."""
        if here is not None:  # it ends where others go on
            here.ended = True
            here.weight += weight
        else:
            depth, place, passed = len(along) - 1, fresh, []
            for at in arcs[depth:]:
                _, value, place = self.fold.arcs[place][at]
                passed.append(self.factor[value])
            notes = self.depth[place] - self.depth[fresh]
            weight *= prod(passed) << (self.scale * (notes - len(passed)))
            last, factor = along.pop()
            last.weight += weight
            last.longer[arcs[depth]] = _Drawn(weight // factor, tuple(arcs[depth + 1 :]))
        for shared, factor in reversed(along):
            weight *= factor
            shared.weight += weight

    def _bounds(self, place: int) -> list[int]:
        """Where the shares of ending here and of each arc end, one after the other."""
        arcs = enumerate(self.fold.arcs[place])
        weights = (self._onward(place, at) * self.sums[below] for at, (_, _, below) in arcs)
        return list(accumulate(weights, initial=self._ending(place)))

    def _any(self, place: int, bits: Bits) -> int:
        """An arc from a place (-1 for ending there) in proportion to what lies beyond it.

        Random bits are read until it is certain between which two bounds their number falls; the first few
        nearly always do, and are compared with bounds that are worked out once.
        """
        marks = self._marks.get(place)
        if marks is None:
            bounds = self._bounds(place)
            marks = self._marks[place] = [(bound << _BITS) // bounds[-1] for bound in bounds[:-1]]
        drawn = bits(_BITS)
        at = bisect_right(marks, drawn)
        if not at or marks[at - 1] != drawn:
            return at - 1
        bounds, width = self._bounds(place), _BITS
        while at and marks[at - 1] == drawn:
            drawn = drawn << _BITS | bits(_BITS)
            width += _BITS
            marks = [(bound << width) // bounds[-1] for bound in bounds[:-1]]
            at = bisect_right(marks, drawn)
        return at - 1

    def _left(self, place: int, drawn: _Drawn, bits: Bits) -> int:
        """The same where some lines have been drawn already: in proportion to what is left."""
        if drawn.rest is not None:
            self._unfold(place, drawn)
        rest = below(self.sums[place] - drawn.weight, bits)
        ending = 0 if drawn.ended else self._ending(place)
        if rest < ending:
            return -1
        rest -= ending
        for at, (_, _, child) in enumerate(self.fold.arcs[place]):
            beyond = drawn.longer.get(at)
            left = self._onward(place, at) * (self.sums[child] - (beyond.weight if beyond else 0))
            if rest < left:
                return at
            rest -= left
        raise AssertionError("a number beyond all that is left")

    def _unfold(self, place: int, drawn: _Drawn) -> None:
        """Take one note of the one line drawn here apart from the rest of it."""
        rest, drawn.rest = drawn.rest, None
        if not rest:
            drawn.ended = True
            return
        drawn.longer[rest[0]] = _Drawn(drawn.weight // self._onward(place, rest[0]), rest[1:])

    def _line(self, arcs: list[int]) -> Strange:
        diagram, fold, place = self.fold.diagram, self.fold, self.fold.root
        cost, before, events = 0, 0, []
        for at in arcs:
            node = fold.nodes[place]
            edge, value, place = fold.arcs[place][at]
            cost += value
            before += diagram.offsets(node)[edge]
            events.append(diagram.events[diagram.labels[node][edge]])
        return Strange(cost + fold.last.get(place, 0), before + 1, tuple(events))
