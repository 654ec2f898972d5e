"""How fast lines come onto paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchmarks.measure import Spread, figure, in_turns, ratio
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, rules
from everyline.paper.engrave import engrave
from everyline.paper.sheet import SecondStaff, Sheet, SheetExercise, sheet_pdf, twelve_key_sheet
from everyline.rules.annotate import AnnotatedLine
from everyline.spaces.space import Space

WORDS = """
Staff, role marks and degrees of lines out of a ii-V-I, analysed beforehand: drawn alone, as a sheet of one
line in twelve keys, as a numbered sheet, and as a book, which is what `everyline sheet --changes "Dm7 | G7 |
Cmaj7" --sample 1000 --to book.pdf` prints; then with TAB and fingering for guitar, and for two guitars in one
score.
""".strip()


def _printed(lines: Sequence[AnnotatedLine], two: bool = False) -> bytes:
    """A numbered sheet; ``two`` gives each line a part for a second player, the line itself once more."""
    exercises = [SheetExercise(line, second=SecondStaff(line) if two else None) for line in lines]
    return sheet_pdf(Sheet("Lines", exercises))


def section(quick: bool) -> Section:
    """Measure. ``quick`` prints ten lines and a hundred where a whole run prints a hundred and a thousand."""
    many = 10 if quick else 100
    lines = Space(rules(II_V_I)).sample(10 * many)
    some = lines[:10]
    guitar = Space(rules({**II_V_I, "range": {"instrument": "guitar"}})).sample(10)

    def drawn() -> None:
        for line in some:
            engrave(line)

    works: list[tuple[str, int, Callable[[], Any]]] = [
        ("engraved alone", len(some), drawn),
        ("one line in twelve keys, PDF", 12, lambda: sheet_pdf(*twelve_key_sheet(lines[0], "Twelve keys"))),
        (f"{many} lines, PDF", many, lambda: _printed(lines[:many])),
        (f"{10 * many} lines, PDF", 10 * many, lambda: _printed(lines)),
        ("10 lines for guitar, PDF", 10, lambda: _printed(guitar)),
        ("10 lines for two guitars, PDF", 10, lambda: _printed(guitar, two=True)),
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
