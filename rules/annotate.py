"""A line with everything that a reader wants to see beside its notes: names, roles, degrees, chords."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from everyline.rules.acceptor import Notes
from everyline.rules.analysis import (
    ENDING,
    PLAIN,
    UNEXPLAINED,
    UNKNOWN_ENDING,
    Analysis,
    PlacedFigure,
    best_analysis,
)
from everyline.rules.line import Event, Events
from everyline.rules.names import line_names
from everyline.rules.roughness import roughness
from everyline.rules.ruleset import Rules
from everyline.rules.taste import Taste, default_taste, strangeness


@dataclass(frozen=True, slots=True)
class AnnotatedNote:
    """One note as it is shown. Ticks are 480 to a beat, 0 on beat 1 of bar 1; ``pitch`` is sounding MIDI.

    ``name`` is the spelled sounding pitch (``G#4``), ``degree`` that of the chord which holds at the note's
    onset, whose symbol is ``chord``.
    """

    onset: int
    length: int
    pitch: int
    name: str
    role: str
    degree: str
    chord: str

    def as_row(self) -> dict[str, Any]:
        """The note as data."""
        return {
            "tick": self.onset,
            "length": self.length,
            "pitch": self.pitch,
            "name": self.name,
            "role": self.role,
            "degree": self.degree,
            "chord": self.chord,
        }


@dataclass(frozen=True)
class AnnotatedLine:
    """A line with the analysis that is shown, and its number where the whole space is known."""

    rules: Rules = field(repr=False)
    notes: tuple[AnnotatedNote, ...]
    figures: tuple[PlacedFigure, ...]
    ending: str
    number: int | None = None
    taste: Taste | None = field(default=None, repr=False, compare=False)
    """What strangeness goes by; the default taste where it is None."""

    @cached_property
    def events(self) -> Events:
        """The line itself: what makes it the same as another."""
        return tuple(Event(note.onset, note.pitch, note.length) for note in self.notes)

    @cached_property
    def roughness(self) -> int:
        """Roughness under the rules' weights; lower is smoother."""
        return roughness([note.pitch for note in self.notes], self.rules.weights)

    @cached_property
    def strangeness(self) -> int:
        """Strangeness under the taste, in sixteenths of a bit; lower is more in its style."""
        return strangeness(self.rules, self.events, self.taste or default_taste())

    @property
    def ending_words(self) -> str:
        """The ending in words, for a heading."""
        return "plain ending" if self.ending == PLAIN else f"ending {self.ending}"

    @property
    def guide(self) -> str:
        """What stands between title and music on paper; nothing where the line says it all."""
        return ""

    @property
    def sections(self) -> tuple[AnnotatedLine, ...]:
        """The stretches of the line that have rules of their own, in order, together all its notes."""
        return (self,)

    def as_row(self) -> dict[str, Any]:
        """The line as one row of data: number, roughness, strangeness and notes."""
        return {
            "number": self.number,
            "roughness": self.roughness,
            "strangeness": self.strangeness,
            "notes": [note.as_row() for note in self.notes],
        }


def annotate(
    rules: Rules,
    events: Events,
    number: int | None = None,
    analysis: Analysis | None = None,
    taste: Taste | None = None,
) -> AnnotatedLine:
    """A line with its analysis, the given one or the one to show. ValueError for an invalid line."""
    analysis = analysis or best_analysis(rules, events)
    if analysis is None:
        raise ValueError("the line is not valid under these rules, so it has no analysis")
    notes = rules.notes(events)
    written = _written(rules, analysis, notes)
    names = _names(rules, notes, analysis, written)
    chords = rules.progression.chords
    annotated = []
    for note, name, role, degree in zip(notes, names, analysis.roles, written, strict=True):
        degree, chord = degree or rules.called(note)[1], chords[note.chord].symbol
        annotated.append(AnnotatedNote(note.onset, note.length, note.pitch, name, role, degree, chord))
    return AnnotatedLine(rules, tuple(annotated), analysis.figures, analysis.ending, number, taste)


def unexplained(rules: Rules, events: Events) -> AnnotatedLine:
    """A line that need not be valid: names, degrees and chords, and no roles."""
    return annotate(rules, events, None, Analysis((UNEXPLAINED,) * len(events), (), UNKNOWN_ENDING))


def spell_line(rules: Rules, events: Sequence[Event], analysis: Analysis | None = None) -> tuple[str, ...]:
    """The name of each note (``everyline.rules.names``); without an analysis by what the notes alone show."""
    notes = rules.notes(tuple(events))
    if analysis is None:
        return line_names(rules, notes)
    return _names(rules, notes, analysis, _written(rules, analysis, notes))


def spell_each(rules: Rules, events: Sequence[Event]) -> tuple[str, ...]:
    """The name of each note by its chord and the key alone, so that equal events have one name in every
    line."""
    return tuple(rules.called(rules.note(event))[0] for event in events)


def _names(rules: Rules, notes: Notes, analysis: Analysis, written: Sequence[str | None]) -> tuple[str, ...]:
    targets = {
        place: figure.target for figure in analysis.figures for place in range(figure.first, figure.target)
    }
    return line_names(rules, notes, targets, written)


def _written(rules: Rules, analysis: Analysis, notes: Notes) -> list[str | None]:
    """For each note of a stock ending, the degree as the ending writes it; None for every other note, and for
    one that sounds otherwise, as a note of a line that is not valid may."""
    ending = next((each for each in rules.endings if each.name == analysis.ending), None)
    if ending is None or ENDING not in analysis.roles:
        return [None] * len(notes)
    before = len(notes) - len(ending.notes)
    return [None] * before + [
        wanted.degree if wanted.pitch_class == note.pitch % 12 else None
        for wanted, note in zip(ending.notes, notes[max(0, before) :], strict=False)
    ]
