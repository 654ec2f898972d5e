"""The accompaniment: chords, bass and drums over a form, in one feel. What is played comes from ``comping``,
``voicing``, ``bass`` and ``drums``.

In the closing bar the chords and the bass only hold, and the drums have one stroke.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Rules
from everyline.sound.bass import Stop, bass_class, two_feel, walk
from everyline.sound.comping import comped, on_beats
from everyline.sound.drums import hits
from everyline.sound.feels import BY_FEEL, DOTTED, FEELS, WALKING, Feel
from everyline.sound.played import PartNote
from everyline.sound.pulses import Pulse, bar_ticks, pulses
from everyline.sound.sound_options import BASS, CHORDS, DRUMS
from everyline.sound.spans import Span, spans
from everyline.sound.swing import SwingMap

CHORD_VELOCITY, UPBEAT_VELOCITY, BASS_VELOCITY, BACKBEAT_VELOCITY = 62, 66, 84, 88
BASS_HOLD = 0.96
"""The part of the time to the next note for which a note of the bass sounds."""
STROKE_BEATS = 0.25
_HALFWAY = {(2, 2): 1, (4, 4): 2, (5, 4): 3, (6, 4): 3, (7, 4): 4, (6, 8): 3, (9, 8): 6, (12, 8): 6}
"""Where the second note of two-feel falls after the first, by how long a chord holds in a bar, both in notes
of the meter's lower figure, and by that figure.
"""


@dataclass(frozen=True, slots=True)
class Band:
    """How a form is accompanied: the feel, how the bass plays in it, when ticks sound, and when those of the
    drums do, whose eighths swing harder. ``seed`` draws the rhythms, 0 the usual ones.
    """

    feel: Feel
    timing: SwingMap
    drums: SwingMap
    bass: str = BY_FEEL
    seed: int = 0


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
    band: Band,
    parts: tuple[str, ...],
    closing: bool = True,
    line: Events = (),
    lead: int = 0,
) -> Iterator[PartNote]:
    """The wanted parts over so many bars, swung, out of the way of a ``line``.

    ``closing`` holds the last bar instead of playing on. In ``lead`` bars before bar 1 the drums play alone.
    """
    style = band.feel.bass if band.bass == BY_FEEL else band.bass
    if CHORDS in parts or BASS in parts:
        even = SwingMap(band.timing.tempo, band.timing.ratio)
        name = band.feel.name
        for note in _plan(rules.progression, rules.scales, bars, name, style, closing, line, band.seed):
            if note.part in parts:
                start, end = even.beats(note.start), even.beats(note.end)
                yield PartNote(note.part, start, end, note.pitch, note.velocity)
    if DRUMS in parts:
        there = range(-lead, bars)
        for hit in hits(rules.progression, there, band.feel, band.drums.tempo, closing, band.seed):
            start = band.drums.beats(hit.tick)
            yield PartNote(DRUMS, start, start + STROKE_BEATS, hit.key, hit.velocity)


@lru_cache(maxsize=64)
def _plan(
    progression: Progression,
    scales: tuple[tuple[int, ...], ...],
    bars: int,
    feel: str,
    style: str,
    closing: bool,
    line: Events,
    seed: int,
) -> tuple[_Planned, ...]:
    laid = spans(progression, bars)
    last = (bars - 1) * bar_ticks(progression) if closing else None
    chords = _chords(progression, laid, FEELS[feel], last, line, seed)
    return (*chords, *_bass(progression, scales, laid, style, last, line))


def _chords(
    progression: Progression, laid: Sequence[Span], feel: Feel, last: int | None, line: Events, seed: int
) -> Iterator[_Planned]:
    for struck in comped(progression, laid, feel, last, line, seed):
        upbeat = struck.start % TICKS_PER_BEAT != 0
        velocity = (UPBEAT_VELOCITY if upbeat else CHORD_VELOCITY) - feel.softer
        for pitch in struck.pitches:
            yield _Planned(CHORDS, struck.start, struck.end, pitch, velocity)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the bass plays: tick, its span, whether the root is wanted, whether a group of pulses begins or
    answers there.
    """

    tick: int
    span: Span
    root: bool
    strong: bool
    backbeat: bool = False


def _bass(
    progression: Progression,
    scales: tuple[tuple[int, ...], ...],
    laid: Sequence[Span],
    style: str,
    last: int | None,
    line: Events,
) -> Iterator[_Planned]:
    places: list[_Place] = []
    for span in laid:
        closing = last is not None and span.start >= last
        places += [_Place(span.start, span, True, True)] if closing else _places(progression, span, style)
    stops = []
    end_of_all = laid[-1].end
    untils = [*(place.tick for place in places[1:]), end_of_all]
    for number, (place, until) in enumerate(zip(places, untils, strict=True)):
        following = places[(number + 1) % len(places)]
        chord = progression.chords[place.span.chord]
        into = None
        if following.tick == following.span.start and following.span.begins:
            into = bass_class(progression.chords[following.span.chord])
        closing = last is not None and place.tick >= last
        first = closing or (place.tick == place.span.start and place.span.begins)
        near = tuple(sorted({event.pitch for _, event in on_beats(line, place.tick, until)}))
        stops.append(Stop(chord, scales[place.span.chord], first, place.root, place.strong, into, near))
    pitches = walk(stops) if style == WALKING else two_feel(stops)
    for place, until, pitch in zip(places, untils, pitches, strict=True):
        velocity = BACKBEAT_VELOCITY if place.backbeat and style == WALKING else BASS_VELOCITY
        end = place.tick + round((until - place.tick) * BASS_HOLD)
        yield _Planned(BASS, place.tick, end, pitch, velocity)


def _places(progression: Progression, span: Span, style: str) -> list[_Place]:
    """Where the bass plays within a span, beside its first tick."""
    bar = bar_ticks(progression)
    line = span.start // bar * bar
    there = {line + each.start: each for each in pulses(progression)}
    within = [each for tick, each in there.items() if span.start < tick < span.end]
    opening = there.get(span.start)
    group = opening.place if opening else 0
    found = [_Place(span.start, span, True, group == 0, group == 1)]
    if style == WALKING:
        later = [_Place(line + each.start, span, False, each.place == 0, each.place == 1) for each in within]
    elif style == DOTTED:
        later = _dotted(span, [each for each in (opening, *within) if each is not None], line)
    else:
        meter = progression.meter
        note = TICKS_PER_BEAT // meter.per_beat
        halfway = _HALFWAY.get((round((span.end - span.start) / note), meter.unit))
        tick = span.start + (halfway or 0) * note
        later = [] if halfway is None else [_Place(tick, span, False, False)]
    return found + later


def _dotted(span: Span, there: Sequence[Pulse], line: int) -> list[_Place]:
    """Root on 1, fifth on 2& and 3, root on 4&: a dotted quarter and an eighth, as often as there is room."""
    if not there or line + there[0].start != span.start:
        return []
    found = []
    for number, pulse in enumerate(there):
        if number % 4 == 1 and line + pulse.upbeat < span.end:
            found.append(_Place(line + pulse.upbeat, span, False, False))
        elif number % 4 == 2:
            found.append(_Place(line + pulse.start, span, False, True))
        elif number % 4 == 3:
            found.append(_Place(line + pulse.upbeat, span, True, False))
        elif number:
            found.append(_Place(line + pulse.start, span, True, True))
    return found
