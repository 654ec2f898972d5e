"""The accompaniment: who plays when. What is played comes from ``voicing`` and ``bass``.

The chords strike where a chord begins and once more in a long one, at a place drawn by seed; the bass walks a
note a beat or plays two-feel. In the closing bar both only hold. Patterns are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from zlib import crc32

from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Rules
from everyline.sound.bass import Stop, bass_class, two_feel, walk
from everyline.sound.played import PartNote
from everyline.sound.sound_options import BASS, CHORDS, WALKING
from everyline.sound.swing import SwingMap
from everyline.sound.voicing import Voicing, lead

CHORD_VELOCITY, BASS_VELOCITY, BACKBEAT_VELOCITY = 62, 84, 88
CHORD_HOLD, BASS_HOLD = 0.92, 0.96
"""The part of the time to the next note for which a note sounds."""
SECOND_STRIKE_BEATS = 1
MOST_WAIT = 4
"""Halves of a beat by which a first strike may wait."""

_SECOND_STRIKES: dict[tuple[int, int], tuple[float | None, ...]] = {
    (2, 2): (1.0, None),
    (3, 4): (1.5, 1.5, 2.0, None),
    (4, 4): (1.5, 1.5, 2.5, 3.0, None),
    (5, 4): (3.0, 1.5, 3.0),
    (6, 4): (3.0, 4.5),
    (7, 4): (4.0, 5.0),
    (6, 8): (3.0, 3.0, None),
    (9, 8): (3.0, 6.0),
    (12, 8): (6.0, 3.0, 9.0),
}
"""Where the chords may strike again, in beats after the first strike, by the beats that a chord holds in a
bar and the meter's unit; None where they do not. The first is the usual one: the upbeat of 2 in three and
four, the second group in longer bars.
"""
_HALFWAY = {(2, 2): 1, (4, 4): 2, (5, 4): 3, (6, 4): 3, (7, 4): 4, (6, 8): 3, (9, 8): 6, (12, 8): 6}
"""Where the second note of two-feel falls, in beats after the first, by the same."""


@dataclass(frozen=True, slots=True)
class Span:
    """The time that one chord holds within one bar: ticks, the chord's place, whether it begins there."""

    start: int
    end: int
    chord: int
    begins: bool

    @property
    def beats(self) -> float:
        """Beats in the span."""
        return (self.end - self.start) / TICKS_PER_BEAT


@dataclass(frozen=True, slots=True)
class _Planned:
    """A note before swing, in ticks of the line (480 a beat)."""

    part: str
    start: int
    end: int
    pitch: int
    velocity: int


def accompany(
    rules: Rules,
    bars: int,
    timing: SwingMap,
    bass: str,
    parts: tuple[str, ...],
    closing: bool = True,
    line: Events = (),
    seed: int = 0,
) -> Iterator[PartNote]:
    """The wanted parts over so many bars, swung, out of the way of a ``line``.

    ``closing`` holds the last bar instead of playing on; ``seed`` draws where the chords strike again, 0 the
    usual place everywhere.
    """
    even = SwingMap(timing.tempo, timing.ratio)
    for note in _plan(rules.progression, rules.scales, bars, bass, closing, line, seed):
        if note.part in parts:
            yield PartNote(note.part, even.beats(note.start), even.beats(note.end), note.pitch, note.velocity)


def spans(progression: Progression, bars: int) -> tuple[Span, ...]:
    """The chords cut at the bar lines, in order."""
    bar = progression.beats_per_bar * TICKS_PER_BEAT
    starts = {start * progression.slot_ticks: index for index, start in enumerate(progression.starts)}
    edges = sorted({*range(0, bars * bar + 1, bar), *(tick for tick in starts if tick < bars * bar)})
    found, chord = [], 0
    for start, end in pairwise(edges):
        chord = starts.get(start, chord)
        found.append(Span(start, end, chord, start in starts))
    return tuple(found)


@lru_cache(maxsize=64)
def _plan(
    progression: Progression,
    scales: tuple[tuple[int, ...], ...],
    bars: int,
    bass: str,
    closing: bool,
    line: Events,
    seed: int,
) -> tuple[_Planned, ...]:
    laid = spans(progression, bars)
    last = (bars - 1) * progression.beats_per_bar * TICKS_PER_BEAT if closing else None
    return (*_chords(progression, laid, last, line, seed), *_bass(progression, scales, laid, bass, last))


def _chords(
    progression: Progression, laid: tuple[Span, ...], last: int | None, line: Events, seed: int
) -> Iterator[_Planned]:
    """The strikes of the chords, out of the line's way: the first of a chord waits for up to two beats where
    that clears it, else it is without the voices that the line meets; a second one is left out then.
    """
    struck = [(span, strike) for span in laid for strike in _strikes(progression, span, last, seed)]
    above: list[list[int]] = [[] for _ in progression.chords]
    for span, (start, _) in struck:
        above[span.chord] += _sounding(line, start)
    voiced = lead(progression.chords, above)
    free = 0
    for span, (start, until) in struck:
        pitches = voiced[span.chord]
        first = start == span.start
        waits = [_off_beat(progression, half / 2) for half in range(MOST_WAIT + 1)] if first else [0]
        begin = next((start + by for by in waits if _clear(pitches, line, start + by)), start)
        if begin > start and begin + SECOND_STRIKE_BEATS * TICKS_PER_BEAT > span.end:
            begin = start
        if not first and (begin < free or not _clear(pitches, line, begin)):
            continue
        if not _clear(pitches, line, begin):
            met = min(_sounding(line, begin))
            # A line at the bottom of the register leaves no voice in place: the lowest goes an octave down.
            pitches = tuple(pitch for pitch in pitches if pitch < met - 1) or (pitches[0] - 12,)
        free = begin + SECOND_STRIKE_BEATS * TICKS_PER_BEAT
        end = begin + round((max(until, free) - begin) * CHORD_HOLD)
        for pitch in pitches:
            yield _Planned(CHORDS, begin, end, pitch, CHORD_VELOCITY)


def _strikes(progression: Progression, span: Span, last: int | None, seed: int) -> list[tuple[int, int]]:
    """From when until when the chord of a span is held, each time that it is struck."""
    closing = last is not None and span.start >= last
    choices = () if closing else _SECOND_STRIKES.get((round(span.beats), progression.meter[1]), ())
    second = choices[_drawn(seed, span.start) % len(choices)] if choices else None
    if second is None or span.beats != round(span.beats):
        return [(span.start, span.end)]
    again = span.start + _off_beat(progression, second)
    return [(span.start, again), (again, again + SECOND_STRIKE_BEATS * TICKS_PER_BEAT)]


def _drawn(seed: int, tick: int) -> int:
    """A number drawn for a moment, the same on every machine; 0 for the seed 0."""
    return crc32(f"{seed} {tick}".encode()) if seed else 0


def _clear(voicing: Voicing, line: Events, tick: int) -> bool:
    """Whether all voices are below the line at a tick, and none a semitone from it."""
    return all(voicing[-1] < pitch and pitch - voicing[-1] != 1 for pitch in _sounding(line, tick))


def _sounding(line: Events, tick: int) -> list[int]:
    """The pitch of the line at a tick, if there is one."""
    return [event.pitch for event in line if event.onset <= tick < event.end]


def _off_beat(progression: Progression, beats: float) -> int:
    """Ticks of a point that may lie halfway through a beat; in triplets that is the last of the three."""
    ticks = int(beats * TICKS_PER_BEAT)
    if ticks % TICKS_PER_BEAT and progression.subdivision == 3:
        return ticks - ticks % TICKS_PER_BEAT + TICKS_PER_BEAT * 2 // 3
    return ticks


def _bass(
    progression: Progression,
    scales: tuple[tuple[int, ...], ...],
    laid: tuple[Span, ...],
    style: str,
    last: int | None,
) -> Iterator[_Planned]:
    places: list[tuple[int, Span]] = []
    for span in laid:
        closing = last is not None and span.start >= last
        places += [(tick, span) for tick in _bass_ticks(progression, span, style, closing)]
    stops = []
    for place, (tick, span) in enumerate(places):
        following = places[(place + 1) % len(places)]
        chord = progression.chords[span.chord]
        into = None
        if following[0] == following[1].start and following[1].begins:
            into = bass_class(progression.chords[following[1].chord])
        closing = last is not None and tick >= last
        opens = tick == span.start
        first = closing or (opens and span.begins)
        stops.append(Stop(chord, scales[span.chord], first, opens, _strong(progression, tick), into))
    pitches = walk(stops) if style == WALKING else two_feel(stops)
    end_of_all = laid[-1].end
    for place, ((tick, _), pitch) in enumerate(zip(places, pitches, strict=True)):
        until = places[place + 1][0] if place + 1 < len(places) else end_of_all
        backbeat = tick // TICKS_PER_BEAT % 2 == 1
        velocity = BACKBEAT_VELOCITY if backbeat and style == WALKING else BASS_VELOCITY
        yield _Planned(BASS, tick, tick + round((until - tick) * BASS_HOLD), pitch, velocity)


def _bass_ticks(progression: Progression, span: Span, style: str, closing: bool) -> list[int]:
    """Where the bass plays within a span."""
    if closing:
        return [span.start]
    if style == WALKING:
        pulse = _pulse(progression)
        later = range(-(-(span.start + 1) // pulse) * pulse, span.end, pulse)
        return [span.start, *later]
    halfway = _HALFWAY.get((round(span.beats), progression.meter[1]))
    return [span.start] if halfway is None else [span.start, span.start + halfway * TICKS_PER_BEAT]


def _pulse(progression: Progression) -> int:
    """Ticks from one walking note to the next: a quarter note, or a group of three eighths where the bar has
    such.
    """
    beats, unit = progression.meter
    if unit == 8:
        return (3 if beats % 3 == 0 else 2) * TICKS_PER_BEAT
    return TICKS_PER_BEAT // (2 if unit == 2 else 1)


def _strong(progression: Progression, tick: int) -> bool:
    """Whether a tick is the first of its bar, or its middle where the bar is even."""
    bar = progression.beats_per_bar * TICKS_PER_BEAT
    return tick % bar == 0 or (progression.beats_per_bar % 2 == 0 and tick % bar == bar // 2)
