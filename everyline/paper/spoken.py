"""Music in words, for those who hear a page instead of seeing it."""

from __future__ import annotations

from collections.abc import Collection
from itertools import groupby

from everyline.paper.layout import score_part, staves_of
from everyline.paper.score_options import ScoreOptions
from everyline.paper.signs import readable
from everyline.paper.transposed import as_written
from everyline.rules.annotate import AnnotatedLine

BLANK = "blank"


class Spoken:
    """Says what each drawn system of a line holds, in the pitches that its player reads."""

    def __init__(
        self, line: AnnotatedLine, score: ScoreOptions, blanks: frozenset[int] = frozenset(), own: str = ""
    ) -> None:
        staff, tab = staves_of(line, score)
        self.what = "Staff and tablature" if staff and tab else "Tablature" if tab else "Staff"
        self.line, self.blanks, self.own = as_written(line, score_part([line], score)), blanks, own

    def system(self, notes: Collection[int], place: int, of: int) -> str:
        """The system at ``place`` (from 0) of so many, which shows these notes (by index)."""
        part = f", system {place + 1} of {of}" if of > 1 else ""
        if self.own:
            chords = [chord for chord, _ in groupby(self.line.notes[index].chord for index in sorted(notes))]
            return f"{self.what} to write on{part}, over {' '.join(map(readable, chords))}"
        said = []
        shown = [(self.line.notes[index], index) for index in sorted(notes)]
        for chord, group in groupby(shown, key=lambda each: each[0].chord):
            names = [BLANK if index in self.blanks else readable(note.name) for note, index in group]
            said.append(f"{readable(chord)}: {' '.join(names)}")
        return f"{self.what}{part}. {'; '.join(said)}"
