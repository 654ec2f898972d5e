"""Samples that are balanced over traits: every value as often as every other, to within one line.

The lines of one or several spaces are told apart by classes (see ``classes``), so the exact number of lines
of every combination is known. How many lines to take from each class is an integer program (CP-SAT): first
the values of every trait are evened out as far as the lines allow, then the classes among themselves. Within
a class every line is as likely as any other. A line that has two values of one trait counts half for each.
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import Any

from everyline.corpora.counted import only, plural
from everyline.corpora.errors import InputError
from everyline.rules.line import Events
from everyline.solver.classes import Classes, Signature
from everyline.solver.interrupt import run
from everyline.solver.sample import sample_numbers
from everyline.solver.varied import BEST_FOUND, OPTIMAL, load_solver, settle

MOST_LINES = 100_000
"""Lines that one balanced sample may have."""

MOST_PARTS = 1500
"""Classes among which a proof is still looked for."""

COARSE = 5000
"""The last lines of a sample, this many, are taken one at a time."""


@dataclass(frozen=True, slots=True)
class Stratum:
    """Lines that have the same values of every trait: those of class ``which`` of space ``source``."""

    source: int
    which: int
    signature: Signature
    count: int


@dataclass(frozen=True, slots=True)
class Share:
    """How often a value occurs in a sample, and in how many lines there are (``exists``).

    A line with two values of the trait counts half for each.
    """

    trait: str
    value: str
    lines: Fraction
    exists: Fraction


@dataclass(frozen=True, slots=True)
class Balanced:
    """A balanced sample: (source, line) in random order, the shares, and what could not be balanced."""

    lines: tuple[tuple[int, Events], ...]
    shares: tuple[Share, ...]
    remarks: tuple[str, ...]
    status: str


def strata(spaces: Sequence[Classes], constants: Sequence[Signature] | None = None) -> list[Stratum]:
    """The strata of several spaces; ``constants`` adds values to all lines of a space, such as its key."""
    found = []
    for source, classes in enumerate(spaces):
        extra = constants[source] if constants is not None else ()
        for which, signature in enumerate(classes.signatures):
            found.append(Stratum(source, which, (*extra, *signature), classes.counts[which]))
    return found


def stratified(
    spaces: Sequence[Classes],
    traits: Sequence[str],
    most: int,
    seed: int = 1,
    constants: Sequence[Signature] | None = None,
    effort: float = 8.0,
) -> Balanced:
    """``most`` distinct lines, balanced over ``traits`` (those of ``constants`` first, then the classes').

    Fewer where there are fewer. ``effort`` bounds each of two searches in the solver's own deterministic
    time, about seconds. The same seed gives the same lines on every machine. Raises InputError and NoSolver.
    """
    if not 1 <= most <= MOST_LINES:
        raise InputError(f"{most} lines cannot be balanced; 1 to {MOST_LINES} can.")
    parts = strata(spaces, constants)
    total = sum(part.count for part in parts)
    if not total:
        return Balanced((), (), ("there is no line to choose from.",), OPTIMAL)
    shuffle(parts, seed)
    most_here = min(most, total)
    takes, status = _allot(parts, len(traits), most_here, seed, effort)
    lines: list[tuple[int, Events]] = []
    for part, take in zip(parts, takes, strict=True):
        drawn = sample_numbers(part.count, take, sub_seed(seed, part.source, part.which))
        lines += [(part.source, spaces[part.source].line(part.which, place - 1)) for place in drawn]
    shuffle(lines, sub_seed(seed, "order"))
    shares = _shares(parts, takes, traits)
    remarks = []
    if total < most:
        remarks.append(f"{plural(most, 'line')} were asked for; {only(total, 'line')}, and all are here.")
    remarks += _remarks(shares, traits, status)
    return Balanced(tuple(lines), shares, tuple(remarks), status)


def sub_seed(seed: int, *names: object) -> int:
    """A seed of its own for a part of the work, the same on every machine."""
    text = " ".join(map(str, (seed, *names)))
    return int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest()[:8], "big")


def shuffle(items: list[Any], seed: int) -> None:
    """Put a list into a random order in place, by bits alone, so that Python's version does not matter."""
    order = list(sample_numbers(len(items), len(items), seed))
    items[:] = [items[place - 1] for place in order]


def _allot(
    parts: Sequence[Stratum], traits: int, most: int, seed: int, effort: float
) -> tuple[list[int], str]:
    """How many lines to take from each part, and whether no sample is more even.

    Line by line first; where every trait then is as even as it can be by itself, that is proof enough.
    """
    start = _one_by_one(parts, traits, most)
    if all(_even_alone(parts, start, trait) for trait in range(traits)):
        return start, OPTIMAL
    if len(parts) > MOST_PARTS:
        return start, BEST_FOUND
    cp_model = load_solver()
    model = cp_model.CpModel()
    takes = [model.new_int_var(0, min(part.count, most), f"take {i}") for i, part in enumerate(parts)]
    model.add(sum(takes) == most)
    unit = _unit(parts, traits)
    costs = []
    for trait in range(traits):
        costs += _evenness(model, parts, takes, trait, most, unit)
    _hint(model, takes, start)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    settle(solver, effort, seed % (1 << 31))
    status = run(solver, model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return start, BEST_FOUND
    values = [solver.value(take) for take in takes]
    # Among equally even samples, the one nearest to the first, which draws from as many classes as it can.
    model.add(sum(costs) <= round(solver.objective_value))
    _hint(model, takes, values)
    moved = []
    for take, value in zip(takes, start, strict=True):
        moved.append(model.new_int_var(0, most, ""))
        model.add(moved[-1] >= take - value)
    model.minimize(sum(moved))
    if run(solver, model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        values = [solver.value(take) for take in takes]
    return values, OPTIMAL if status == cp_model.OPTIMAL else BEST_FOUND


def _hint(model: Any, takes: Sequence[Any], values: Sequence[int]) -> None:
    model.clear_hints()
    for take, value in zip(takes, values, strict=True):
        model.add_hint(take, value)


def _even_alone(parts: Sequence[Stratum], takes: Sequence[int], trait: int) -> bool:
    """Whether the values of a trait are within one line of each other, all but those that have no more
    lines."""
    shares = _counted(parts, takes, trait)
    open_ = [lines for lines, exists in shares.values() if lines < exists]
    most = max(lines for lines, _ in shares.values())
    return not open_ or most - min(open_) <= 1


def _evenness(
    model: Any, parts: Sequence[Stratum], takes: Sequence[Any], trait: int, most: int, unit: int
) -> list[Any]:
    """The squares of how often each value occurs, whose sum is least where the values are even."""
    members: dict[str, list[Any]] = {}
    for part, take in zip(parts, takes, strict=True):
        values = part.signature[trait]
        for value in values:
            members.setdefault(value, []).append((unit // len(values)) * take)
    even = Fraction(most * unit, max(1, len(members)))
    costs = []
    for place, value in enumerate(sorted(members)):
        total = model.new_int_var(0, most * unit, f"share {trait} {place}")
        model.add(total == sum(members[value]))
        costs.append(_square(model, total, most * unit, even, unit))
    return costs


def _unit(parts: Sequence[Stratum], traits: int) -> int:
    """What one line weighs, so that it can be shared evenly among as many values as any line has."""
    return lcm(*(max(1, len(part.signature[trait])) for part in parts for trait in range(traits)))


def _square(model: Any, variable: Any, most: int, even: Fraction, unit: int = 1) -> Any:
    """A variable that is at least the square of another, by its chords: exact at multiples of ``unit`` up to
    well above the even share, and at sparse points beyond."""
    cost = model.new_int_var(0, most * most, "")
    top = min(most // unit, int(even / unit) + 3)
    low = max(0, int(even / unit) - 40)
    points = sorted({0, *range(low, top + 1), *_sparse(0, low), *_sparse(top, most // unit), most // unit})
    for left, right in itertools.pairwise(points):
        a, b = left * unit, right * unit
        model.add(cost >= (a + b) * variable - a * b)
    return cost


def _sparse(low: int, high: int) -> list[int]:
    """Points between two numbers whose gaps grow."""
    found, step = [], 1
    while low + step < high:
        low += step
        found.append(low)
        step = max(step + 1, step * 5 // 4)
    return found


def _one_by_one(parts: Sequence[Stratum], traits: int, most: int) -> list[int]:
    """Line by line, always from the part that leaves the values most even, then from the one least used.

    Large samples take several lines at a step until the last ones.
    """
    import numpy

    unit = _unit(parts, traits)
    columns: dict[tuple[int, str], int] = {}
    cells = [
        (row, columns.setdefault((trait, value), len(columns)), unit // len(part.signature[trait]))
        for row, part in enumerate(parts)
        for trait in range(traits)
        for value in part.signature[trait]
    ]
    weights = numpy.zeros((len(parts), len(columns)), dtype=numpy.int64)
    for row, column, weight in cells:
        weights[row, column] = weight
    left = numpy.array([min(part.count, most) for part in parts], dtype=numpy.int64)
    takes = numpy.zeros(len(parts), dtype=numpy.int64)
    # The sum of squares grows by 2 w s + w w where a line of weights w joins the sums s.
    worth = (weights * weights).sum(axis=1)
    spent = numpy.int64(1) << 62
    wanted = most
    while wanted:
        least = numpy.where(left > 0, worth, spent)
        ties = numpy.flatnonzero(least == least.min())
        place = int(ties[numpy.argmin(takes[ties])])
        step = min(int(left[place]), max(1, wanted // COARSE))
        takes[place] += step
        left[place] -= step
        wanted -= step
        worth += 2 * step * (weights @ weights[place])
    return [int(take) for take in takes]


def _counted(
    parts: Sequence[Stratum], takes: Sequence[int], trait: int
) -> dict[str, tuple[Fraction, Fraction]]:
    """For each value of a trait: lines taken and lines that exist, shared where a line has several."""
    found: dict[str, tuple[Fraction, Fraction]] = {}
    for part, take in zip(parts, takes, strict=True):
        size = len(part.signature[trait])
        for value in part.signature[trait]:
            lines, exists = found.get(value, (Fraction(0), Fraction(0)))
            found[value] = (lines + Fraction(take, size), exists + Fraction(part.count, size))
    return found


def _shares(parts: Sequence[Stratum], takes: Sequence[int], traits: Sequence[str]) -> tuple[Share, ...]:
    found = []
    for place, trait in enumerate(traits):
        counted = _counted(parts, takes, place)
        found += [Share(trait, value, *counted[value]) for value in sorted(counted)]
    return tuple(found)


def _remarks(shares: Sequence[Share], traits: Sequence[str], status: str) -> list[str]:
    """For each trait that is not balanced to within one line: how far apart, and why."""
    found = []
    for trait in traits:
        these = [share for share in shares if share.trait == trait]
        low = min(these, key=lambda share: share.lines)
        high = max(these, key=lambda share: share.lines)
        if high.lines - low.lines <= 1:
            continue
        spent = [share for share in these if share.lines == share.exists and share is not high]
        rest = [share.lines for share in these if share not in spent]
        reasons = []
        if spent:
            names = ", ".join(f"{share.value} ({_plain(share.exists)})" for share in spent[:6])
            more = f" and {len(spent) - 6} more" if len(spent) > 6 else ""
            reasons.append(f"all lines there are with {names}{more} are used")
        if max(rest) - min(rest) > 1:
            reasons.append(
                "no sample of this size is more even over all the traits together"
                if status == OPTIMAL
                else "the search for a more even sample was cut short"
            )
        span = f"from {_plain(low.lines)} ({low.value}) to {_plain(high.lines)} ({high.value})"
        found.append(f"{trait}: {span} lines; {'; '.join(reasons)}.")
    return found


def _plain(number: Fraction) -> str:
    return str(number.numerator) if number.denominator == 1 else f"{float(number):.1f}"
