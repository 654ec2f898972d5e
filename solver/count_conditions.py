"""Conditions on how many moves begin in a chord, on passing notes, and on the cells of the rhythm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.cells import read_cell
from everyline.rules.keys import MOST_COUNT
from everyline.rules.moves.passing import KINDS
from everyline.rules.ruleset import Cell, Passing, Rules
from everyline.rules.schema import listed
from everyline.solver.condition import UNBOUNDED, Condition, Loosening, OtherValue, Written, longest_chord

COMMON_CELLS = ("8 8", "4", "r8 8", "8 r8", "8t 8t 8t", "2", "4. 8", "8 4 8")
COMMON_DOTTED_CELLS = ("8 8 8", "4 8", "4.", "r8 8 8", "8 r8 8", "2.", "8 4", "4. 4.")
"""Cells that come in where those of the rules leave no line, as far as they fit the meter and the grid."""


def _with(section: str, changed: Rules, **values: Any) -> Rules:
    return replace(changed, **{section: replace(getattr(changed, section), **values)})


def _shown(low: int, high: int) -> str:
    """A count as a rule file has it."""
    return f"{low}" if low == high else f"{low}-{high}"


def count_conditions(rules: Rules, section: str, what: str) -> Iterator[Condition]:
    """The conditions of the count list of ``approach`` or ``passing``, an entry each; ``what`` is counted."""
    for entry in range(len(getattr(rules, section).count)):
        yield from _entry(rules, section, what, entry)


def _entry(rules: Rules, section: str, what: str, entry: int) -> Iterator[Condition]:
    """The condition of one entry of a count list, unless it admits everything."""
    table = getattr(rules, section)
    counts = table.count
    least, most = counts[entry]
    longest = longest_chord(rules)
    if (least == 0 and most >= longest) or entry >= len(rules.progression.chords):
        return

    def counted(changed: Rules, low: int, high: int) -> Rules:
        count = getattr(changed, section).count
        return _with(section, changed, count=(*count[:entry], (low, high), *count[entry + 1 :]))

    def written(low: int, high: int) -> Written:
        texts = [_shown(*each) for each in counts]
        texts[entry] = _shown(low, high)
        return {f"{section}.count": texts}

    def move(down: int, up: int, room: int) -> Loosening:
        return Loosening(
            lambda n: f"count {_shown(least, most)} -> {_shown(least - down * n, most + up * n)}",
            lambda changed, n: counted(changed, least - down * n, most + up * n),
            room,
            lambda n: written(least - down * n, most + up * n),
        )

    progression = rules.progression
    where = f"{progression.chords[entry].symbol} (bar {progression.bar(progression.starts[entry])})"
    if entry == len(counts) - 1:
        where = f"each chord from {where} on" if entry else "each chord"
    times = plural(most, what) if most else f"no {what}"
    if least < most:
        times = f"{least} to {times}" if least else f"at most {times}"
    yield Condition(
        f"{section}.count, entry {entry + 1}",
        f"{times} in {where}",
        partial(counted, low=0, high=UNBOUNDED),
        written(0, MOST_COUNT),
        default=counts == type(table)().count,
        moves=tuple(
            each for each in (move(1, 0, least), move(0, 1, max(0, longest - most))) if each.most > 0
        ),
    )


def together(rules: Rules, changes: Iterable[Written]) -> Written:
    """Several changes as one. Those of entries of one count list are written in one list."""
    found: dict[str, Any] = {}
    for change in changes:
        for key, value in change.items():
            section, _, name = key.partition(".")
            if name == "count" and key in found:
                texts = [_shown(*each) for each in getattr(rules, section).count]
                places = zip(texts, found[key], value, strict=True)
                found[key] = [one if one != was else other for was, one, other in places]
            else:
                found[key] = value
    return found


def passing_conditions(rules: Rules) -> Iterator[Condition]:
    """The conditions on passing notes and on the rhythm."""
    passing = rules.passing
    missing = [kind for kind in KINDS if kind not in passing.kinds]
    if missing:
        kinds = (
            f"passing notes are {listed(passing.kinds)}" if passing.kinds else "there are no passing notes"
        )
        yield Condition(
            "passing.kinds",
            kinds,
            partial(_with, "passing", kinds=KINDS),
            {"passing.kinds": list(KINDS)},
            default=passing.kinds == Passing().kinds,
            choices=tuple(
                OtherValue(
                    f"also {kind} passing notes",
                    partial(_with, "passing", kinds=(*passing.kinds, kind)),
                    {"passing.kinds": [*passing.kinds, kind]},
                )
                for kind in missing
            ),
        )
    if passing.kinds and passing.place == "off":
        yield Condition(
            "passing.place",
            "no passing note begins on a beat",
            partial(_with, "passing", place="any"),
            {"passing.place": "any"},
            default=True,
        )
    yield from count_conditions(rules, "passing", "filled move")
    if rules.cells:
        yield from _cells(rules)


def _cells(rules: Rules) -> Iterator[Condition]:
    known = {cell.parts for cell in rules.cells}
    common = COMMON_DOTTED_CELLS if rules.progression.meter.dotted else COMMON_CELLS
    others = [cell for cell in map(partial(_cell, rules), common) if cell and cell.parts not in known]
    if others:
        yield Condition(
            "rhythm.cells",
            f"the cells of the rhythm are {listed(f'{chr(34)}{cell.text}{chr(34)}' for cell in rules.cells)}",
            lambda changed: replace(changed, cells=(*changed.cells, *others)),
            {"rhythm.cells": [cell.text for cell in (*rules.cells, *others)]},
            choices=tuple(
                OtherValue(
                    f'also the cell "{cell.text}"',
                    partial(_with_cell, cell=cell),
                    {"rhythm.cells": [each.text for each in (*rules.cells, cell)]},
                )
                for cell in others
            ),
        )


def _with_cell(changed: Rules, cell: Cell) -> Rules:
    return replace(changed, cells=(*changed.cells, cell))


def _cell(rules: Rules, text: str) -> Cell | None:
    """A cell in the rules' meter and on their grid, or None where it does not fit."""
    try:
        cell = read_cell(text, rules.progression.meter)
    except InputError:
        return None
    fits = all(part.rest or part.offset % rules.slot_ticks == 0 for part in cell.parts)
    return cell if fits else None
