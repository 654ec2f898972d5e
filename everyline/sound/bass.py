"""The bass: walking or two-feel, made by rule. All rules are common practice.

Walking: a note a beat; the root (or the slash bass) where a chord begins; chord tones on the strong beats,
steps of the chord scale between them; the last note before a change leads into the next root, best by a
semitone. Two-feel: the root, and the fifth halfway through a long chord.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from everyline.rules.chords import Chord
from everyline.rules.pitch import parse_note_name

LOWEST, HIGHEST, CENTRE = 28, 55, 40
"""Register in MIDI numbers: E1, the open low string, to G3, an octave above the open high string."""
COMFORTABLE = (29, 48)
"""Where a walking line is at home: F1 to C3."""

_LEAPS = {0: 12.0, 1: 0.0, 2: 0.0, 3: 1.0, 4: 1.0, 5: 1.5, 6: 5.0, 7: 2.0, 8: 5.0, 9: 5.0, 12: 3.0}
_TOO_FAR = 20.0
_ROCKING, _TURNING = 4.0, 1.2
"""What it costs to come back to the note before the last, and to turn round."""
_OUTSIDE, _RUB = 0.6, 8.0
"""What a semitone outside the comfortable register costs, and one from the line on a beat."""
_APPROACH = {1: 0.0, 2: 0.5, 7: 1.5, 5: 1.5}
"""What a note costs that leads into a root so many semitones away: half step, whole step, fifth above or
below.
"""


@dataclass(frozen=True, slots=True)
class Stop:
    """A place where the bass plays: its chord, the chord's scale, and how it stands there.

    ``first`` is where the chord begins (or closes), ``opens`` its first note in a bar or another root,
    ``strong`` a strong beat; ``into`` is the pitch class of the root that follows, when the next stop begins
    another chord; ``near`` are the pitches of the line that sound on a beat meanwhile.
    """

    chord: Chord
    scale: tuple[int, ...]
    first: bool
    opens: bool
    strong: bool
    into: int | None
    near: tuple[int, ...] = ()


def bass_class(chord: Chord) -> int:
    """Pitch class that the bass plays where a chord begins: the slash bass, else the root."""
    return parse_note_name(chord.bass) if chord.bass else chord.root_class


def fifth_class(chord: Chord) -> int:
    """Pitch class of the chord's fifth, as altered; of the plain fifth where the chord names none."""
    fifth = next((tone for tone in (7, 6, 8) if tone in chord.tones), 7)
    return (chord.root_class + fifth) % 12


def walk(stops: Sequence[Stop]) -> tuple[int, ...]:
    """A walking line over the stops, MIDI numbers: the cheapest path note to note, the lower of a tie.

    The search remembers two notes, since to rock between the same two is no walk, and one that goes on in its
    direction covers the instrument.
    """
    totals: dict[tuple[int, int], float] = {(0, 0): 0.0}
    steps: list[dict[tuple[int, int], tuple[int, int]]] = []
    for stop in stops:
        longer: dict[tuple[int, int], float] = {}
        came: dict[tuple[int, int], tuple[int, int]] = {}
        choices = _candidates(stop)
        for state, total in totals.items():
            earlier, before = state
            for pitch, cost in choices:
                moved = total + cost + (_move(earlier, before, pitch, stop.first) if before else 0.0)
                reached = (before, pitch)
                if reached not in longer or moved < longer[reached]:
                    longer[reached] = moved
                    came[reached] = state
        totals = longer
        steps.append(came)
    state = min(totals, key=lambda each: (totals[each], each[1], each[0]))
    path = []
    for came in reversed(steps):
        path.append(state[1])
        state = came[state]
    return tuple(reversed(path))


def two_feel(stops: Sequence[Stop]) -> tuple[int, ...]:
    """The root first in every bar, then the fifth; each the nearest to the note before, the lower one of a
    tie.
    """
    line: list[int] = []
    for stop in stops:
        wanted = bass_class(stop.chord) if stop.opens else fifth_class(stop.chord)
        near = line[-1] if line else CENTRE - 2
        options = [pitch for pitch in range(LOWEST, HIGHEST + 1) if pitch % 12 == wanted]
        clear = [pitch for pitch in options if all(abs(pitch - each) != 1 for each in stop.near)] or options
        line.append(min(clear, key=lambda pitch: (abs(pitch - near) + abs(pitch - CENTRE) / 4, pitch)))
    return tuple(line)


def _move(earlier: int, before: int, after: int, first: bool) -> float:
    """What it costs to go on to a note."""
    cost = _LEAPS.get(abs(after - before), _TOO_FAR)
    if after == earlier and not first:
        cost += _ROCKING
    if earlier and (before - earlier) * (after - before) < 0:
        cost += _TURNING
    return cost


@lru_cache(maxsize=4096)
def _candidates(stop: Stop) -> tuple[tuple[int, float], ...]:
    """The pitches that may be played at a stop, with what each costs."""
    return tuple(_priced(stop))


def _priced(stop: Stop) -> Iterator[tuple[int, float]]:
    root = bass_class(stop.chord)
    for pitch in range(LOWEST, HIGHEST + 1):
        cost = _cost(stop, root, pitch)
        if cost is not None:
            rubs = sum(abs(pitch - each) == 1 for each in stop.near)
            outside = max(0, COMFORTABLE[0] - pitch, pitch - COMFORTABLE[1])
            yield pitch, cost + outside * _OUTSIDE + rubs * _RUB


def _cost(stop: Stop, root: int, pitch: int) -> float | None:
    """What a pitch class costs at a stop, or None where it does not belong."""
    degree = (pitch - stop.chord.root_class) % 12
    if stop.first:
        return 0.0 if pitch % 12 == root else None
    if stop.into is not None:
        away = (pitch - stop.into) % 12
        if away == 0:
            return None
        leading = min(_APPROACH.get(away, 9.0), _APPROACH.get(12 - away, 9.0) if away > 9 else 9.0)
        if away in (1, 11):
            return leading
        if degree in stop.chord.tones or degree in stop.scale:
            return min(leading, 3.0)
        return None
    if degree in stop.chord.tones:
        return 0.0 if stop.strong or degree != 0 else 1.0
    if degree in stop.scale:
        return 4.0 if stop.strong else 0.5
    return None
