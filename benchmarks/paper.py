"""How fast lines come onto paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchmarks.measure import Spread, figure, in_turns, ratio
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, rules
from everyline.paper.engrave import engrave
from everyline.paper.sheet import Sheet, SheetExercise, sheet_pdf, twelve_key_sheet
from everyline.spaces.space import Space

WORDS = """
Staff, role marks and degrees of lines out of a ii-V-I, analysed beforehand: drawn alone, as a sheet of one
line in twelve keys, and as a numbered sheet.
""".strip()


def section(quick: bool) -> Section:
    """Measure. ``quick`` prints ten lines where a whole run prints a hundred."""
    many = 10 if quick else 100
    lines = Space(rules(II_V_I)).sample(many)
    some = lines[:10]

    def drawn() -> None:
        for line in some:
            engrave(line)

    works: list[tuple[str, int, Callable[[], Any]]] = [
        ("engraved alone", len(some), drawn),
        ("one line in twelve keys, PDF", 12, lambda: sheet_pdf(*twelve_key_sheet(lines[0], "Twelve keys"))),
        (
            f"{many} lines, PDF",
            many,
            lambda: sheet_pdf(Sheet("Lines", [SheetExercise(line) for line in lines])),
        ),
    ]
    times = in_turns([work for _, _, work in works], 1 if quick else 2)
    each = [[t / n for t in spent] for (_, n, _), spent in zip(works, times, strict=True)]
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            name,
            Spread.of(spent).seconds(),
            figure(1 / Spread.of(per_line).median),
            ratio(per_line, each[0]).times(),
        )
        for (name, _, _), spent, per_line in zip(works, times, each, strict=True)
    )
    head = ("", "all", "lines a second", "time of a line, as times engraving it")
    return Section("Paper", WORDS, (Table(head, rows),))
