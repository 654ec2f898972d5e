"""The smallest set of lines in which every pair of values that can occur together does occur.

Traits and values are those of ``classes``: the pairs that can occur are read off the exact classes of the
space, without listing a line. Classes that bring nothing over another are left out; the rest is a set cover,
begun by the greedy rule and then solved with a proof by CP-SAT.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from everyline.corpora.errors import InputError
from everyline.rules.line import Events
from everyline.solver.classes import Classes, Signature
from everyline.solver.interrupt import run
from everyline.solver.stratify import Stratum, shuffle, strata, sub_seed
from everyline.solver.varied import BEST_FOUND, OPTIMAL, load_solver, settle

Value = tuple[str, str]
"""(trait, value)."""

Pair = tuple[Value, Value]
"""Two values of different traits, in the order of the traits."""


@dataclass(frozen=True, slots=True)
class Cover:
    """A set of lines that has every pair of values, most useful lines first.

    ``lines`` are (source, line). ``pairs`` is how many pairs can occur; ``covered[k]`` how many of them the
    first k + 1 lines have. No set with fewer than ``bound`` lines has them all; ``status`` is OPTIMAL where
    this set is that small, else BEST_FOUND.
    """

    lines: tuple[tuple[int, Events], ...]
    pairs: int
    covered: tuple[int, ...]
    bound: int
    status: str

    @property
    def gap(self) -> int:
        """How many lines fewer a set might have."""
        return len(self.lines) - self.bound


def reachable_pairs(parts: Sequence[Stratum], traits: Sequence[str]) -> list[set[Pair]]:
    """For each part, the pairs of values that its lines have."""
    return [_pairs(part.signature, traits) for part in parts]


def _pairs(signature: Signature, traits: Sequence[str]) -> set[Pair]:
    return {
        ((one, a), (other, b))
        for (one, first), (other, second) in combinations(zip(traits, signature, strict=True), 2)
        for a in first
        for b in second
    }


def pair_cover(
    spaces: Sequence[Classes],
    traits: Sequence[str],
    seed: int = 1,
    constants: Sequence[Signature] | None = None,
    effort: float = 4.0,
) -> Cover:
    """The smallest set of lines with every pair of values of two of the ``traits`` that can occur together.

    ``traits`` names those of ``constants`` first (see ``strata``), then the classes'; which line stands for
    its class is drawn by the seed. ``effort`` bounds the search in the solver's own deterministic time, about
    seconds; beyond it the best set found is given with its bound. Raises InputError, and NoSolver.
    """
    if len(traits) < 2:
        raise InputError("a pair needs two traits at least; name another.")
    parts = strata(spaces, constants)
    if not parts:
        return Cover((), 0, (), 0, OPTIMAL)
    shuffle(parts, seed)
    rows: dict[Pair, int] = {}
    sets = []
    for found in reachable_pairs(parts, traits):
        sets.append(_from_places([rows.setdefault(pair, len(rows)) for pair in sorted(found)]))
    useful = _undominated(sets)
    greedy = _greedy([sets[place] for place in useful], len(rows))
    chosen, bound = _smallest([sets[place] for place in useful], greedy, effort, seed)
    chosen = _by_use([sets[useful[place]] for place in chosen], chosen)
    lines, covered, seen = [], [], 0
    for place in chosen:
        part = parts[useful[place]]
        number = sub_seed(seed, "cover", part.source, part.which) % part.count
        lines.append((part.source, spaces[part.source].line(part.which, number)))
        seen |= sets[useful[place]]
        covered.append(seen.bit_count())
    status = OPTIMAL if len(chosen) == bound else BEST_FOUND
    return Cover(tuple(lines), len(rows), tuple(covered), bound, status)


def _undominated(sets: Sequence[int]) -> list[int]:
    """The places of the sets that no other set includes; of equal sets the first."""
    having = _transposed(sets)
    kept = []
    for place, members in enumerate(sets):
        # A set that includes this one is among those that have its rarest element.
        rarest = min((having[row] for row in _bits(members)), key=int.bit_count)
        for other in _bits(rarest):
            larger = sets[other]
            if other != place and members | larger == larger and (larger != members or other < place):
                break
        else:
            kept.append(place)
    return kept


def _transposed(sets: Sequence[int]) -> list[int]:
    """For each element, the places of the sets that have it, as bits."""
    having: list[list[int]] = [[] for _ in range(max(sets, default=0).bit_length())]
    for place, members in enumerate(sets):
        for row in _bits(members):
            if row >= len(having):
                having.extend([] for _ in range(row + 1 - len(having)))
            having[row].append(place)
    return [_from_places(places) for places in having]


def _from_places(places: Sequence[int]) -> int:
    found = bytearray((max(places, default=0) >> 3) + 1)
    for place in places:
        found[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(found, "little")


def _bits(number: int) -> Iterator[int]:
    """The places of the bits that are set, from the lowest."""
    while number:
        low = number & -number
        yield low.bit_length() - 1
        number ^= low


def _greedy(sets: Sequence[int], rows: int) -> list[int]:
    """Always the set that brings the most pairs that are still missing."""
    left = (1 << rows) - 1
    chosen = []
    while left:
        best = max(range(len(sets)), key=lambda place: ((sets[place] & left).bit_count(), -place))
        chosen.append(best)
        left &= ~sets[best]
    return chosen


def _by_use(sets: Sequence[int], places: Sequence[int]) -> list[int]:
    """The same places, those that bring the most first."""
    left = dict(zip(places, sets, strict=True))
    seen, order = 0, []
    while left:
        best = max(left, key=lambda place: ((left[place] & ~seen).bit_count(), -place))
        seen |= left.pop(best)
        order.append(best)
    return order


def _needed(having: Sequence[int]) -> list[int]:
    """The elements that must be asked for, so that the others come with them."""
    order = sorted(range(len(having)), key=lambda row: (having[row].bit_count(), row))
    kept: list[int] = []
    for row in order:
        if not any(having[other] | having[row] == having[row] for other in kept):
            kept.append(row)
    return kept


def _smallest(sets: Sequence[int], start: Sequence[int], effort: float, seed: int) -> tuple[list[int], int]:
    """(a smallest choice of sets that together have every row, the fewest there can be)."""
    cp_model = load_solver()
    model = cp_model.CpModel()
    takes = [model.new_bool_var(f"take {place}") for place in range(len(sets))]
    # An element whose sets include those of another is had with that one.
    having = _transposed(sets)
    for row in _needed(having):
        model.add(sum(takes[place] for place in _bits(having[row])) >= 1)
    for place, take in enumerate(takes):
        model.add_hint(take, place in set(start))
    model.add(sum(takes) <= len(start))
    model.minimize(sum(takes))
    solver = cp_model.CpSolver()
    settle(solver, effort, seed % (1 << 31))
    solver.parameters.linearization_level = 2
    status = run(solver, model)
    bound = max(1, -int(-solver.best_objective_bound // 1))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return list(start), min(bound, len(start))
    return [place for place, take in enumerate(takes) if solver.value(take)], bound
