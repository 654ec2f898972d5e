"""Music in words, for those who hear a page instead of seeing it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from itertools import groupby

from everyline.paper.layout import score_part, staves_of
from everyline.paper.score_options import ScoreOptions
from everyline.paper.signs import readable
from everyline.paper.transposed import as_written
from everyline.paper.two_parts import SecondStaff, player_names
from everyline.rules.annotate import AnnotatedLine

BLANK = "blank"


class Spoken:
    """Says what each drawn system of a line holds, in the pitches that its player reads."""

    def __init__(
        self,
        line: AnnotatedLine,
        score: ScoreOptions,
        blanks: frozenset[int] = frozenset(),
        own: str = "",
        second: SecondStaff | None = None,
    ) -> None:
        staff, tab = staves_of(line, score)
        self.what = "Staff and tablature" if staff and tab else "Tablature" if tab else "Staff"
        part = score_part([line], score)
        self.line, self.blanks, self.own = as_written(line, part), blanks, own
        self.below: Spoken | None = None
        if second is not None:
            lower = replace(score, concert=second.concert or score.concert)
            self.below = Spoken(second.line, lower, blanks)
            self.names = player_names(part, second.concert)

    def system(self, notes: Collection[int], place: int, of: int) -> str:
        """The system at ``place`` (from 0) of so many, which shows these notes (by index)."""
        part = f", system {place + 1} of {of}" if of > 1 else ""
        if self.own:
            chords = [chord for chord, _ in groupby(self.line.notes[index].chord for index in sorted(notes))]
            return f"{self.what} to write on{part}, over {' '.join(map(readable, chords))}"
        if self.below is None:
            return f"{self.what}{part}. {self._said(notes)}"
        upper, lower = self.names
        return (
            f"{self.what} of two players{part}. {upper}: {self._said(notes)}. "
            f"{lower}: {self.below._said(notes)}"
        )

    def _said(self, notes: Collection[int]) -> str:
        """These notes, chord by chord."""
        said = []
        shown = [(self.line.notes[index], index) for index in sorted(notes)]
        for chord, group in groupby(shown, key=lambda each: each[0].chord):
            names = [BLANK if index in self.blanks else readable(note.name) for note, index in group]
            said.append(f"{readable(chord)}: {' '.join(names)}")
        return "; ".join(said)
