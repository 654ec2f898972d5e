"""Comping: when the chords are struck, how long they are held, and which voices keep clear of the line.

Rhythms come from the feel, drawn by seed; they lie on the pulses of the meter and their upbeats. A chord may
come half a pulse early where it goes on from the bar before, or where the line is early too or rests. All
common practice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.progression import Progression
from everyline.sound.drawn import drawn
from everyline.sound.feels import Feel
from everyline.sound.pulses import Pulse, bar_ticks, pulses
from everyline.sound.spans import Span
from everyline.sound.voicing import Voicing, lead

MOST_WAIT = 4
"""Parts of a pulse (two or three each) that a strike may wait for the line."""
HELD = 0.92
"""The part of the time to the next strike for which a chord sounds."""
LOW, LOW_PART = 52, 1 / 2
"""A line with more than this part of its notes below E3 leaves no room under it: the chords stand above."""
APART = 2
"""Semitones between the line and the nearest voice at least, on the side where the chords stand."""
LOWEST_ALONE = 40
"""E2: lower down a voice alone is lost in the bass."""


@dataclass(frozen=True, slots=True)
class Strike:
    """A chord struck at ``start`` and held until ``until`` at most, in ticks; ``chord`` is its place.

    ``opens`` is the first strike of a span, ``begins`` that of a chord, which is never left out; ``early`` is
    one that comes before its span.
    """

    start: int
    until: int
    chord: int
    opens: bool
    begins: bool
    early: bool = False


@dataclass(frozen=True, slots=True)
class Struck:
    """A chord as it is played: ticks and pitches."""

    start: int
    end: int
    chord: int
    pitches: Voicing
    early: bool


def comped(
    progression: Progression, laid: Sequence[Span], feel: Feel, last: int | None, line: Events, seed: int
) -> Iterator[Struck]:
    """The chords over some spans, out of the way of a line. From tick ``last`` on they are only held."""
    strikes = _early(progression, laid, _strikes(progression, laid, feel, last, seed), feel, last, line, seed)
    over = sum(event.pitch < LOW for event in line) > LOW_PART * len(line)
    above: list[list[int]] = [[] for _ in progression.chords]
    for strike in strikes:
        above[strike.chord] += sounding(line, strike.start)
    voiced = lead(progression.chords, above, over)
    grid = _grid(progression, laid[-1].end)
    pulse = pulses(progression)[0]
    part = pulse.ticks // pulse.parts
    free = 0
    for place, strike in enumerate(strikes):
        pitches = voiced[strike.chord]
        after = strikes[place + 1].start if place + 1 < len(strikes) else laid[-1].end
        begin = bisect_right(grid, strike.start)
        latest = bisect_right(grid, strike.start + MOST_WAIT * part)
        start = _begin(strike, pitches, line, over, grid[begin:latest], min(after, strike.until))
        kept = _clear(pitches, sounding(line, start), over)
        if not strike.opens and (start < free or len(kept) < len(pitches)):
            continue
        if not kept and not strike.begins:
            continue
        kept = kept or _apart(pitches, sounding(line, start), over)
        until = min(strike.until, start + round(feel.longest * pulse.ticks))
        end, kept = _until(start, start + round((until - start) * HELD), kept, line)
        free = start + TICKS_PER_BEAT // 2
        yield Struck(start, end, strike.chord, kept, strike.early)


def sounding(line: Events, tick: int) -> list[int]:
    """The pitch of the line at a tick, if there is one."""
    return [event.pitch for event in line if event.onset <= tick < event.end]


def on_beats(line: Events, start: int, end: int) -> Iterator[tuple[int, Event]]:
    """The beats from one tick to before another, with the note of the line that sounds at each."""
    for event in line:
        first = -(-max(start, event.onset) // TICKS_PER_BEAT) * TICKS_PER_BEAT
        for beat in range(first, min(end, event.end), TICKS_PER_BEAT):
            yield beat, event


def _strikes(
    progression: Progression, laid: Sequence[Span], feel: Feel, last: int | None, seed: int
) -> list[Strike]:
    """The strikes as the feel has them."""
    found: list[Strike] = []
    for span in laid:
        closing = last is not None and span.start >= last
        starts = [span.start] if closing else _starts(progression, span, feel, seed)
        for place, start in enumerate(starts):
            until = starts[place + 1] if place + 1 < len(starts) else span.end
            found.append(Strike(start, until, span.chord, place == 0, place == 0 and span.begins))
    return found


def _starts(progression: Progression, span: Span, feel: Feel, seed: int) -> list[int]:
    """Where the chord of a span is struck: on a rhythm of the feel for every two to four of its pulses."""
    bar = bar_ticks(progression)
    line = span.start // bar * bar
    there = [each for each in pulses(progression) if span.start <= line + each.start < span.end]
    if not there or line + there[0].start != span.start or line + there[-1].end != span.end:
        return [span.start]
    starts = []
    while there:
        count = _chunk(len(there))
        rhythms = feel.rhythms[count]
        rhythm = rhythms[drawn(seed, line + there[0].start, "chords") % len(rhythms)]
        starts += [line + _place(there, place) for place in rhythm]
        there = there[count:]
    return starts


def _chunk(count: int) -> int:
    """How many pulses the first rhythm of so many fills: 5 is 3 + 2, 6 is 3 + 3, 7 is 4 + 3."""
    return count if count <= 4 else 3 if count in (5, 6) else 4


def _place(there: Sequence[Pulse], place: float) -> int:
    pulse = there[int(place)]
    return pulse.upbeat if place % 1 else pulse.start


def _early(
    progression: Progression,
    laid: Sequence[Span],
    strikes: list[Strike],
    feel: Feel,
    last: int | None,
    line: Events,
    seed: int,
) -> list[Strike]:
    """The strikes, some of those on the first pulse of a span half a pulse early."""
    if not feel.pushes or not seed:
        return strikes
    begins = {span.start: span.begins for span in laid[1:] if last is None or span.start < last}
    before = {pulse.end: pulse.ticks - pulse.upbeat + pulse.start for pulse in pulses(progression)}
    bar = bar_ticks(progression)
    found: list[Strike] = []
    for strike in strikes:
        tick = strike.start
        by = before.get(tick % bar or bar)
        if strike.opens and tick in begins and by and drawn(seed, tick, "early") % feel.pushes == 0:
            early = tick - by
            room = not found or found[-1].start < early
            if room and (not begins[tick] or _is_meant(line, early, tick)):
                if found:
                    found[-1] = replace(found[-1], until=min(found[-1].until, early))
                strike = replace(strike, start=early, early=True)
        found.append(strike)
    return found


def _is_meant(line: Events, early: int, tick: int) -> bool:
    """Whether the line itself is early, holding a note over the change, or leaves the upbeat free."""
    heard = [event for event in line if event.onset < tick and event.end > early]
    return all(event.onset >= early and event.end > tick for event in heard)


def _grid(progression: Progression, end: int) -> list[int]:
    """The pulses and their upbeats, in ticks from bar 1."""
    within = [tick for each in pulses(progression) for tick in (each.start, each.upbeat)]
    return [line + tick for line in range(0, end, bar_ticks(progression)) for tick in within]


def _begin(
    strike: Strike, pitches: Voicing, line: Events, over: bool, places: Sequence[int], before: int
) -> int:
    """Where a strike comes: a first one waits for one of the places that clears it."""
    if not strike.opens or strike.early:
        return strike.start
    waits = (strike.start, *(tick for tick in places if tick + TICKS_PER_BEAT <= before))
    clear = (tick for tick in waits if len(_clear(pitches, sounding(line, tick), over)) == len(pitches))
    return next(clear, strike.start)


def _clear(pitches: Voicing, line: Sequence[int], over: bool) -> Voicing:
    """The voices that keep clear of the line's pitches, below them or above them."""
    if over:
        return tuple(each for each in pitches if all(each >= note + APART for note in line))
    return tuple(each for each in pitches if all(each <= note - APART for note in line))


def _apart(pitches: Voicing, line: Sequence[int], over: bool) -> Voicing:
    """What is struck where the line leaves no voice in place: the outermost one an octave further out, else
    the voices on the line's other side.
    """
    moved = (pitches[-1] + 12,) if over else (pitches[0] - 12,)
    if moved[0] >= LOWEST_ALONE and _clear(moved, line, over):
        return moved
    return _clear(pitches, line, not over) or moved


def _until(start: int, end: int, pitches: Voicing, line: Events) -> tuple[int, Voicing]:
    """When a chord is let go, and its voices: before a beat on which one would lie a semitone from the line.

    A chord that would be cut off at once loses that voice instead.
    """
    for beat, event in sorted(on_beats(line, start + 1, end), key=lambda pair: pair[0]):
        rubbing = [each for each in pitches if abs(each - event.pitch) == 1]
        if rubbing and beat >= end:
            break
        if rubbing and beat - start < TICKS_PER_BEAT and len(rubbing) < len(pitches):
            pitches = tuple(each for each in pitches if each not in rubbing)
        elif rubbing:
            return beat - (beat - start) // 12, pitches
    return end, pitches
