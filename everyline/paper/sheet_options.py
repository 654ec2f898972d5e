"""How sheets are printed: paper, size of staves and print, what the score shows."""

from __future__ import annotations

from dataclasses import dataclass, field

from everyline.corpora.errors import InputError, did_you_mean
from everyline.paper.score_options import ScoreOptions

PAPERS = {"A3": (297.0, 420.0), "A4": (210.0, 297.0), "A5": (148.0, 210.0), "Letter": (215.9, 279.4)}
"""Width and height in millimetres (ISO 216; ANSI/ASME Y14.1)."""

MUSIC_WIDTHS = {"A3": 257.0, "A4": 180.0, "A5": 124.0, "Letter": 180.0}
"""Width of the music on each paper in millimetres."""
HEADING_COLUMN = 13.0
"""Width of the column that a close setting takes from the music, in millimetres."""

SIZES = (1.0, 0.92, 0.84, 0.76, 0.7, 0.64, 0.58)
"""Sizes of staff that are tried where a sheet must fit a number of pages, or a page so many lines."""
MOST_PER_PAGE = 24
"""Lines that a page is asked to have at most."""
LARGE_STAVES, LARGE_WORDS = 1.5, 1.6
"""Large print: staves of over ten millimetres, words of sixteen points (common practice for weak eyes)."""


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """How a sheet is printed: ``paper`` (one of ``PAPERS``), ``size`` of the staves (1 is seven millimetres),
    what the score shows, in ``colour`` or black, with or without a ``legend`` of the role marks.

    ``large`` prints staves and words for weak eyes, on top of ``size``. ``per_page`` is how many exercises
    stand on a page, None for as many as there is room for. A ``close`` setting has the number and title of an
    exercise beside its clef and leaves its task out. ``gap`` is the room between exercises in millimetres.
    Raises InputError.
    """

    paper: str = "A4"
    size: float = 1.0
    score: ScoreOptions = field(default_factory=ScoreOptions)
    colour: bool = True
    legend: bool = True
    large: bool = False
    per_page: int | None = None
    close: bool = False
    gap: float = 5.0

    def __post_init__(self) -> None:
        """Check paper and sizes."""
        if self.paper not in PAPERS:
            raise InputError(
                f'paper "{self.paper}" is none of: {", ".join(PAPERS)}.{did_you_mean(self.paper, PAPERS)}'
            )
        if not 0.5 <= self.size <= 1.5:
            raise InputError(f"staves of size {self.size:g} are out of reach: 0.5 to 1.5.")
        if self.per_page is not None and not 1 <= self.per_page <= MOST_PER_PAGE:
            raise InputError(f"{self.per_page} lines a page are out of reach: 1 to {MOST_PER_PAGE}.")

    @property
    def staff_size(self) -> float:
        """Size of the staves as they are printed."""
        return self.size * (LARGE_STAVES if self.large else 1.0)

    @property
    def word_size(self) -> float:
        """Size of the print, 1 for ten points."""
        return LARGE_WORDS if self.large else 1.0

    @property
    def music_width(self) -> float:
        """Width of the music in millimetres."""
        width = MUSIC_WIDTHS[self.paper]
        return width - HEADING_COLUMN if self.close else width
