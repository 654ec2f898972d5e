"""The one limit that asks about the analysis: a figure must land on a given degree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from everyline.rules.limits.base import ChordSet
from everyline.rules.progression import Progression


@dataclass(frozen=True, slots=True)
class MustTarget:
    """Some approach figure lands on ``degree`` (semitones) over that chord, on that beat if one is named.

    ``chords`` are the chord's occurrences (every chord where none is named); ``beat`` is a slot within the
    bar or None. It is no acceptor of pitches: the anatomy of a line asks ``meets`` of each target of one
    analysis.
    """

    kind: ClassVar[str] = "must-target"
    degree: int
    degree_name: str
    chords: ChordSet
    beat: int | None
    progression: Progression

    def meets(self, chord_index: int, degree: int, slot: int) -> bool:
        """Whether a target of this degree (semitones) over this chord, at this slot, is the one asked for."""
        return (
            degree == self.degree
            and chord_index in self.chords
            and (self.beat is None or slot % self.progression.slots_per_bar == self.beat)
        )

    def describe(self) -> str:
        """What the rule asks, in the trade's words."""
        return f"an approach figure lands on {self.wanted}"

    @property
    def wanted(self) -> str:
        """The target asked for: ``the 5 over Dm7 on beat 3``."""
        beat = "" if self.beat is None else f" on beat {self.progression.beat_name(self.beat)}"
        return f"the {self.degree_name}{self.chords.over}{beat}"
