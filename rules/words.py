"""A line explained in the trade's words, note by note and bar by bar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from everyline.rules.analysis import (
    APPROACH,
    ARPEGGIO,
    ENTRY,
    HANDOFF,
    PASSING,
    PLAIN,
    TARGET,
    PlacedFigure,
)
from everyline.rules.annotate import AnnotatedLine, AnnotatedNote
from everyline.rules.ladder import rung
from everyline.rules.limits.base import place
from everyline.rules.line import TICKS_PER_BEAT

INTERVALS = (
    "the same note", "a half step", "a whole step", "a minor third", "a major third", "a fourth", "a tritone",
    "a fifth", "a minor sixth", "a major sixth", "a minor seventh", "a major seventh", "an octave",
)  # fmt: skip
"""Intervals of 0 to 12 semitones, as musicians call them."""


@dataclass(frozen=True, slots=True)
class NoteWords:
    """What one note does. ``index`` is its place in the line, from 0; ``bar`` counts from 1, 0 is the
    pickup; ``beat`` is counted aloud (``3&``); ``name`` is the sounding pitch as spelled."""

    index: int
    bar: int
    beat: str
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class BarWords:
    """One bar of a line: its number, the chords that sound in it, and its notes in words."""

    bar: int
    chords: tuple[str, ...]
    notes: tuple[NoteWords, ...]

    @property
    def text(self) -> str:
        """The whole bar as one sentence: ``Bar 1 (Dm7): D4 opens the line on the 1; ...``."""
        head = f"Bar {self.bar}" if self.bar > 0 else "Pickup"
        return f"{head} ({', '.join(self.chords)}): {'; '.join(f'{n.name} {n.text}' for n in self.notes)}."


def interval(semitones: int) -> str:
    """A melodic interval with its direction: ``a whole step up``, ``an octave and a third down``."""
    size, way = abs(semitones), "up" if semitones > 0 else "down"
    if not size:
        return INTERVALS[0]
    if size <= 12:
        return f"{INTERVALS[size]} {way}"
    octaves, rest = divmod(size, 12)
    words = "an octave" if octaves == 1 else f"{octaves} octaves"
    return f"{words}{f' and {INTERVALS[rest]}' if rest else ''} {way}"


def note_by_note(line: AnnotatedLine) -> tuple[NoteWords, ...]:
    """What each note of a line does, in order."""
    progression = line.rules.progression
    found = []
    for index, note in enumerate(line.notes):
        slot, rest = divmod(note.onset, progression.slot_ticks)
        beat = place(progression, note.onset).rpartition(" ")[2]
        text = _text(line, index)
        found.append(
            NoteWords(index, progression.bar(slot), f"just after {beat}" if rest else beat, note.name, text)
        )
    return tuple(found)


def bar_by_bar(line: AnnotatedLine) -> tuple[BarWords, ...]:
    """The same, gathered by bar; bars in which no note begins are left out."""
    bars: dict[int, list[NoteWords]] = {}
    for words in note_by_note(line):
        bars.setdefault(words.bar, []).append(words)
    return tuple(
        BarWords(bar, tuple(dict.fromkeys(line.notes[n.index].chord for n in notes)), tuple(notes))
        for bar, notes in bars.items()
    )


def explain(line: AnnotatedLine) -> str:
    """The whole line, one sentence a bar, each on a line of its own."""
    return "\n".join(bar.text for bar in bar_by_bar(line))


def _text(line: AnnotatedLine, index: int) -> str:
    note = line.notes[index]
    tone = f"the {note.degree} of {note.chord}"
    if note.role == ENTRY:
        return f"opens the line on {tone}"
    if note.role == APPROACH:
        return _approach(line, index)
    before = line.notes[index - 1]
    if note.role == TARGET:
        landed = f"is the target, {tone}"
        return f"{landed}, and the handoff to {note.chord}" if _opens_chord(line, index) else landed
    moved = interval(note.pitch - before.pitch)
    if note.role == PASSING:
        return f"passes on the way to {_goal(line, index).name}, {moved}"
    if note.role == ARPEGGIO:
        return f"is {tone}, {_along(line, index)}"
    if note.role == HANDOFF:
        last = ", and the line rests there" if line.ending == PLAIN and index == len(line.notes) - 1 else ""
        return f"hands the line over to {note.chord} on its {note.degree}, {moved}{last}"
    return _ending(line, index, tone)


def _along(line: AnnotatedLine, index: int) -> str:
    """How an arpeggio note is reached: rung by rung, over a rung, or through passing notes."""
    note = line.notes[index]
    before = next(each for each in reversed(line.notes[:index]) if each.role != PASSING)
    way = "up" if note.pitch > before.pitch else "down"
    chord = line.rules.progression.chords[line.rules.note(line.events[index]).chord]
    if rung(chord, before.pitch, 1 if way == "up" else -1) != note.pitch:
        return f"{way} the arpeggio over one rung"
    return f"{way} the arpeggio"


def _goal(line: AnnotatedLine, index: int) -> AnnotatedNote:
    """The chord tone that a passing note leads to."""
    return next(each for each in line.notes[index:] if each.role != PASSING)


def _opens_chord(line: AnnotatedLine, index: int) -> bool:
    """Whether a note is the first onset of a new chord."""
    notes = [line.rules.note(event).chord for event in line.events[index - 1 : index + 1]]
    return len(set(notes)) == 2


def _approach(line: AnnotatedLine, index: int) -> str:
    figure = _figure_at(line.figures, index)
    target = line.notes[figure.target]
    distance = line.notes[index].pitch - target.pitch
    side = "above" if distance > 0 else "below"
    where = f"{INTERVALS[abs(distance)]} {side} {target.name}"
    return f"begins the figure {figure.name}, {where}" if index == figure.first else f"goes on {where}"


def _figure_at(figures: Sequence[PlacedFigure], index: int) -> PlacedFigure:
    return next(each for each in figures if each.first <= index < each.target)


def _ending(line: AnnotatedLine, index: int, tone: str) -> str:
    first = next(at for at, note in enumerate(line.notes) if note.role == line.notes[index].role)
    if index == first:
        return f"begins the ending {line.ending} on {tone}"
    if index == len(line.notes) - 1:
        beats = line.notes[index].length / TICKS_PER_BEAT
        held = f", held for {beats:.3g} beats" if beats > 1 else ""
        return f"ends the line on {tone}{held}"
    return f"is {tone}, in the ending"
