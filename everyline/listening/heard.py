"""What was heard of a take: its notes at their places in the bar, early or late, and how surely."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.listening.counted_in import without_count_in
from everyline.listening.following import Beats, beats_through
from everyline.listening.placing import Fit, fits
from everyline.listening.played import Played, PlayedNote
from everyline.reading.fitted import ReadLine, as_endings, in_range, lengths
from everyline.rules.annotate import spell_each
from everyline.rules.limits.base import place
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.ruleset import Rules

NOTICED = 0.04
"""Seconds from which an early or late note is told in words: twice what good players are off as a rule."""
SLOWEST, FASTEST = 30.0, 400.0
MOST_NOTES, MOST_BEATS = 600, 600
"""Of a take: 64 bars of 4/4 are 256 beats, or 512 eighths."""


@dataclass(frozen=True, slots=True)
class HeardNote:
    """A note in its place. ``note`` is what was played, ``event`` how it was read (the pitch may be octaves
    away), ``late`` by how many seconds it came after its beat or, negative, before it, ``late_beats`` the
    same in beats."""

    note: PlayedNote
    event: Event
    late: float
    late_beats: float


@dataclass(frozen=True, slots=True)
class _Reading:
    """One candidate: its notes, and the beats under it."""

    notes: tuple[HeardNote, ...]
    left_out: tuple[PlayedNote, ...]
    beats: Beats
    ratio: float


@dataclass(frozen=True, slots=True)
class Heard:
    """A take as heard. ``line`` is what goes to ``everyline.spaces.checking.check``: its candidates differ
    in where the line starts and in the lengths that playing leaves open. ``notes`` and all else that depends
    on the place are asked for by the candidate that was taken."""

    rules: Rules
    played: Played
    tempo: float
    line: ReadLine
    readings: dict[Events, _Reading]

    def notes(self, events: Events) -> tuple[HeardNote, ...]:
        """The notes of a candidate, one to each of its events."""
        return self.readings[events].notes

    def left_out(self, events: Events) -> tuple[PlayedNote, ...]:
        """Notes that were heard and have no place in a candidate."""
        return self.readings[events].left_out

    @property
    def sure(self) -> float:
        """How sure the take as a whole is, 0 to 1: the mean over its notes."""
        notes = self.played.notes
        return round(sum(note.sure for note in notes) / len(notes), 2)

    def tempo_at(self, events: Events) -> tuple[float, float]:
        """The tempo kept at the first and at the last note of a candidate, in beats a minute."""
        beats = self.readings[events].beats
        first, last = events[0].onset / TICKS_PER_BEAT, events[-1].onset / TICKS_PER_BEAT
        return beats.tempo(first), beats.tempo(max(first, last - 1))

    def assumed(self, events: Events) -> tuple[str, ...]:
        """What was taken for granted about a candidate, in sentences."""
        reading = self.readings[events]
        first, last = self.tempo_at(events)
        start = place(self.rules.progression, events[0].onset)
        said = [f"the first note, at {reading.notes[0].note.onset:.2f} s, was taken for {start}."]
        if len(events) > 2:
            kept = f"about {first:.0f}" if round(first) == round(last) else f"{first:.0f} to {last:.0f}"
            said.append(f"the tempo kept was {kept} beats a minute; early and late are against it.")
        if reading.ratio > 1:
            said.append(f"the eighths were taken as swung, about {reading.ratio:g} to 1.")
        if abs(self.played.tuning) >= 10:
            sharp = "sharp" if self.played.tuning > 0 else "flat"
            said.append(
                f"the whole take is {abs(self.played.tuning)} cents {sharp}; it was heard as in tune."
            )
        return tuple(said)

    def as_row(self, events: Events) -> dict[str, Any]:
        """A candidate as one row of data. Times in seconds from the start of the take, ticks 480 to a beat,
        notes counted from 1."""
        reading = self.readings[events]
        names = spell_each(self.rules, events)
        first, last = self.tempo_at(events)
        return {
            "by_ear": self.played.by_ear,
            "sure": self.sure,
            "tempo": {"said": self.tempo, "first": round(first, 1), "last": round(last, 1)},
            "swing": reading.ratio,
            "tuning_cents": self.played.tuning,
            "assumed": list(self.assumed(events)),
            "notes": [
                {
                    "name": name,
                    "pitch": heard.event.pitch,
                    "tick": heard.event.onset,
                    "place": place(self.rules.progression, heard.event.onset),
                    "late_ms": round(1000 * heard.late),
                    "late_beats": round(heard.late_beats, 3),
                    **_row(heard.note),
                }
                for name, heard in zip(names, reading.notes, strict=True)
            ],
            "left_out": [{"pitch": note.pitch, **_row(note)} for note in reading.left_out],
        }


def _row(note: PlayedNote) -> dict[str, Any]:
    return {
        "onset": round(note.onset, 3),
        "length": round(note.length, 3),
        "sure": note.sure,
        "unsure": note.unsure,
        "octave_doubt": note.octave,
        "cents": note.cents,
        "velocity": note.velocity,
    }


def heard(
    played: Played, rules: Rules, tempo: float, name: str, asked: Events | None = None, since: float = 0.0
) -> Heard:
    """A take put in its places. ``tempo`` is the one that was to be played, in beats a minute; ``asked`` the
    line asked for, whose places are then the likelier; ``since`` the second from which the take counts.
    Raises InputError for a tempo that is none, no notes or too many."""
    if not SLOWEST <= tempo <= FASTEST:
        raise InputError(f"tempo {tempo:g}; allowed are {SLOWEST:g} to {FASTEST:g} beats a minute.")
    notes = [note for note in played.notes if note.onset >= since]
    notes, remarks = without_count_in(notes, 60 / tempo) if played.by_ear else (notes, [])
    if not notes:
        after = f" after {since:g} s" if since else ""
        raise InputError(
            f"{name}: no note was heard{after}: {_why_none(played)}; record one melody line alone, close to "
            "the microphone."
        )
    if len(notes) > MOST_NOTES:
        raise InputError(f"{name}: {len(notes)} notes are more than a line has ({MOST_NOTES} at most).")
    if (notes[-1].onset - notes[0].onset) * tempo / 60 > MOST_BEATS:
        raise InputError(
            f"{name}: its first note, at {notes[0].onset:.2f} s, and its last, at {notes[-1].onset:.2f} s, "
            f"are more than {MOST_BEATS} beats apart; cut the line out of it."
        )
    remarks = [*played.remarks, *remarks]
    readings: dict[Events, _Reading] = {}
    for fit in fits(notes, rules, tempo, asked):
        for events, reading in _read(notes, fit, rules, tempo, remarks):
            readings.setdefault(events, reading)
    remarks.append("how long each note rings was not judged: lengths were read as the rules have them.")
    line = ReadLine(tuple(readings), tuple(dict.fromkeys(remarks)))
    return Heard(rules, Played(notes, played.by_ear, played.tuning), tempo, line, readings)


def _why_none(played: Played) -> str:
    return "noise, or several notes at once, have no pitch to follow" if played.by_ear else "it has none"


def _read(
    notes: Sequence[PlayedNote], fit: Fit, rules: Rules, tempo: float, remarks: list[str]
) -> Iterable[tuple[Events, _Reading]]:
    """The events that one fit may mean, with what was heard of each."""
    placed = [(note, tick) for note, tick in zip(notes, fit.ticks, strict=True) if tick is not None]
    times = [note.onset for note, _ in placed]
    beats = beats_through(times, [fit.beats(tick) for _, tick in placed], 60 / tempo)
    raw = [
        Event(
            tick, note.pitch, max(1, round(note.length * beats.tempo(fit.beats(tick)) / 60 * TICKS_PER_BEAT))
        )
        for note, tick in placed
    ]
    events = lengths(raw, rules)
    # A note or two out of range are slips; a take out of range was played in another octave.
    if sum(event.pitch not in rules.pitches for event in events) * 4 > len(events):
        events = in_range(events, rules, remarks)
    left_out = tuple(note for note, tick in zip(notes, fit.ticks, strict=True) if tick is None)
    if left_out:
        at = ", ".join(f"{note.onset:.2f} s" for note in left_out[:5])
        remarks.append(f"{plural(len(left_out), 'sound')} without a place in the bar left out ({at}).")
    for found in (*as_endings(events, rules), events):
        yield found, _Reading(tuple(_heard(placed, found, fit, beats)), left_out, beats, fit.ratio)


def _heard(
    placed: Sequence[tuple[PlayedNote, int]], events: Events, fit: Fit, beats: Beats
) -> Iterable[HeardNote]:
    for (note, tick), event in zip(placed, events, strict=True):
        at = fit.beats(tick)
        late = note.onset - beats.seconds(at)
        yield HeardNote(note, event, late, late * beats.tempo(at) / 60)


def told(found: HeardNote) -> str:
    """Early or late in words, nothing for what is in time: ``62 ms late (0.12 of a beat)``."""
    if abs(found.late) < NOTICED:
        return ""
    word = "late" if found.late > 0 else "early"
    return f"{abs(found.late) * 1000:.0f} ms {word} ({abs(found.late_beats):.2f} of a beat)"
