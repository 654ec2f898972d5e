"""The strangeness of a line as a plain sum, from the table of a taste as its file has it."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from tests.reference.progression import BEAT, Progression, on_beat
from tests.reference.result import Line
from tests.reference.rulefile import Rules
from tests.reference.theory import Chord

PLACES = 48  # of a beat, in a taste's rows of rhythm


def family(chord: Chord) -> str:
    """The rules say: "Families of chords: major, minor, dominant, half-diminished, diminished"; a chord
    without a third belongs to the dominants, unless it names a major seventh."""
    if 4 in chord.tones:
        return "dominant" if 10 in chord.tones else "major"
    if 3 not in chord.tones:
        return "major" if 11 in chord.tones else "dominant"
    if 6 in chord.tones and 7 not in chord.tones:
        return "half-diminished" if 10 in chord.tones else "diminished"
    return "minor"


def clipped(interval: int) -> int:
    return max(-12, min(12, interval))


def word(interval: int | None) -> str:
    """An interval as the table writes it."""
    return "none" if interval is None else f"{interval:+d}" if interval else "0"


def melody(taste: dict[str, Any], progression: Progression, line: Line, place: int) -> int:
    """The rules say: "the interval from the note before (semitones, clipped to -12..12), given the interval
    before that one (clipped likewise; none for the second note), whether the note begins on a beat, and the
    degree (0-11) and family of chord of the note before"; "the most special context that the table has is
    used: (interval before, on/off, family, degree), then (interval before, on/off), then (on/off)"."""
    (onset, _, pitch), (onset_before, _, pitch_before) = line[place], line[place - 1]
    earlier = word(clipped(pitch_before - line[place - 2][2]) if place > 1 else None)
    beat = "on" if on_beat(onset) else "off"
    chord = progression.chord_at(onset_before)
    degree = (pitch_before - chord.root) % 12
    contexts = (f"{earlier} {beat} {family(chord)} {degree}", f"{earlier} {beat}", beat)
    row = next(taste["melody"][context] for context in contexts if context in taste["melody"])
    return int(row[clipped(pitch - pitch_before) + 12])


def harmony(taste: dict[str, Any], progression: Progression, line: Line, place: int) -> int:
    """The rules say: "the degree (0-11) of the note over its own chord, that chord's family and whether it
    begins on a beat"."""
    onset, _, pitch = line[place]
    chord = progression.chord_at(onset)
    row = taste["harmony"][f"{'on' if on_beat(onset) else 'off'} {family(chord)}"]
    return int(row[(pitch - chord.root) % 12])


def rhythm(taste: dict[str, Any], progression: Progression, line: Line) -> int:
    """The rules say: "for every beat from the one that holds the entry to the last before the resolution
    slot: the cost of the places in the beat where notes begin, given those of the beat before (`start` at the
    first); the taste's table lists both, with a plainest row for what it has not seen"."""
    first, end = line[0][0] // BEAT, progression.resolution // BEAT
    beats = []
    for beat in range(first, end):
        onsets = [onset - beat * BEAT for onset, _, _ in line if onset // BEAT == beat]
        beats.append(" ".join(str(onset * PLACES // BEAT) for onset in onsets))
    plainest = taste["rhythm"]["any"]
    total = 0
    for before, after in pairwise(["start", *beats]):
        row = taste["rhythm"].get(before, {})
        total += row[after] if after in row else plainest.get(after, plainest["other"])
    return total


def strangeness(rules: Rules, line: Line, taste: dict[str, Any]) -> int:
    """The rules say: "For each note from the second on, cost = M + H", and: "For files with `[rhythm]` a
    third term R is added"."""
    progression = rules.progression
    notes = range(1, len(line))
    total = sum(melody(taste, progression, line, n) + harmony(taste, progression, line, n) for n in notes)
    if rules.celled and "rhythm" in taste:
        total += rhythm(taste, progression, line)
    return total
