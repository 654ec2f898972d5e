"""Stock endings set on a progression: where they start, which pitches they take, why one does not fit."""

from __future__ import annotations

from dataclasses import dataclass

from everyline.corpora import Ending
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.degrees import parse_degree
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.progression import Progression

DEFAULT_QUALITIES = ("7", "9", "7b9", "7#5", "7b5", "7alt", "7sus4")


@dataclass(frozen=True, slots=True)
class EndingNote:
    """One note of an ending: ticks from tick 0 of the progression, pitch class, octave marks, degree as
    written."""

    onset: int
    length: int
    pitch_class: int
    octave: int
    degree: str

    def pitch_after(self, previous: int) -> int:
        """The nearest pitch of the degree (a tritone goes up), moved by the octave marks."""
        up = (self.pitch_class - previous) % 12
        return previous + (up if up <= 6 else up - 12) + 12 * self.octave


@dataclass(frozen=True, slots=True)
class PlacedEnding:
    """A stock ending on given changes. ``start`` is the tick of its first note, always the first tick of a
    slot."""

    name: str
    start: int
    notes: tuple[EndingNote, ...]

    def event(self, place: int, previous: int) -> Event:
        """The event of the note at ``place``, counted from 0, when the note before it is ``previous``."""
        note = self.notes[place]
        return Event(note.onset, note.pitch_after(previous), note.length)

    def after(self, previous: int) -> Events:
        """The ending's events when the note before it is ``previous``."""
        events: list[Event] = []
        for place in range(len(self.notes)):
            events.append(self.event(place, events[-1].pitch if events else previous))
        return tuple(events)


class EndingDoesNotFit(InputError):
    """An ending can never be used on these changes; the message says why."""


def place(ending: Ending, progression: Progression, earliest: int = 0) -> PlacedEnding:
    """Set an ending on a progression, or raise EndingDoesNotFit with the reason.

    ``earliest`` is the first slot at which a line may start: a pickup (negative slots) belongs to the first
    chord, so over two chords an ending may reach back into it.
    """
    if progression.single:
        raise EndingDoesNotFit(
            f'ending "{ending.name}" needs two chords and these changes have one; '
            'only "plain" ends a one-chord vamp'
        )
    before, last = progression.chords[-2], progression.chords[-1]
    qualities = ending.over or DEFAULT_QUALITIES
    if before.quality not in qualities:
        over = ", ".join(each or "a major triad" for each in qualities)
        raise EndingDoesNotFit(
            f'ending "{ending.name}" is written over {over} and the chord before the last is {before.symbol}'
        )
    ticks = TICKS_PER_BEAT // progression.subdivision
    resolution = progression.resolution * ticks
    # The corpus counts note values with a quarter of 480; a beat of any other value still has 480 ticks here.
    scale_up, unit = progression.meter[1], 4
    notes = []
    for event in ending.events:
        chord = last if event.after else before
        offset, length = event.offset * scale_up, event.length * scale_up
        if offset % unit or length % unit:
            raise EndingDoesNotFit(
                f'ending "{ending.name}" has a rhythm that {progression.meter[1]} beats cannot show'
            )
        degree = (chord.root_class + parse_degree(event.degree)) % 12
        notes.append(
            EndingNote(resolution + offset // unit, length // unit, degree, event.octave, event.degree)
        )
    start = notes[0].onset
    if start % ticks:
        raise EndingDoesNotFit(
            f'ending "{ending.name}" starts between two slots: its rhythm needs another subdivision than '
            f"{progression.subdivision} (2 eighths, 3 triplets, 4 sixteenths)"
        )
    first = progression.starts[-2] or min(0, earliest)
    if start // ticks < first:
        needed, there = (resolution - start) / TICKS_PER_BEAT, (progression.resolution - first) * ticks
        raise EndingDoesNotFit(
            f'ending "{ending.name}" is {plural(needed, "beat")} long before it resolves and '
            f"{before.symbol} lasts {there / TICKS_PER_BEAT:g}"
        )
    final = notes[-1].pitch_class
    if final not in last.tone_classes:
        raise EndingDoesNotFit(
            f'ending "{ending.name}" ends on {ending.events[-1].degree} of {last.symbol}, '
            f"which is not one of its chord tones ({', '.join(last.degrees)})"
        )
    return PlacedEnding(ending.name, start, tuple(notes))
