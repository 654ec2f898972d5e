"""Printed sheets of the page's lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from everyline.rules.annotate import AnnotatedLine

if TYPE_CHECKING:
    from everyline.paper.two_parts import SecondStaff


def sheet(
    lines: Sequence[AnnotatedLine],
    *,
    staves: str,
    tempo: float,
    title: str,
    titles: Sequence[str] = (),
    remarks: Sequence[str] = (),
    remark: str = "",
    seconds: Sequence[tuple[SecondStaff | None, str]] = (),
    paper: str = "A4",
    large: bool = False,
    per_page: int | None = None,
    words: bool = True,
    fretboard: str = "none",
) -> bytes:
    """Lines as a numbered PDF sheet, each with a title and a remark; ``words`` explains them bar by bar.

    ``paper``, ``large`` and ``per_page`` are those of ``SheetOptions``; ``seconds`` are second parts, one for
    each line, with what is said of them."""
    from everyline.paper.score_options import ScoreOptions
    from everyline.paper.sheet import Sheet, SheetExercise, SheetOptions, sheet_pdf

    exercises = [
        SheetExercise(
            line,
            title=titles[place] if place < len(titles) and titles[place] else _name(line),
            task=remarks[place] if place < len(remarks) else "",
            explain=words,
            second=seconds[place][0] if seconds else None,
            remark=seconds[place][1] if seconds else "",
        )
        for place, line in enumerate(lines)
    ]
    score = ScoreOptions(staves=staves, numbers=False, fretboard=shown_fretboard(lines, fretboard))
    made = Sheet(title, exercises, remarks=(remark,) if remark else (), tempi=(round(tempo),))
    return sheet_pdf(made, SheetOptions(paper=paper, score=score, large=large, per_page=per_page))


def shown_fretboard(lines: Sequence[AnnotatedLine], wish: str) -> str | None:
    """The hand for which a fretboard is drawn, None where it is not wished for (``none``) or an instrument
    has no frets."""
    from everyline.paper.neck_drawing import has_frets

    return wish if wish != "none" and all(map(has_frets, lines)) else None


def _name(line: AnnotatedLine) -> str:
    return "" if line.number is None else f"No. {line.number}"
