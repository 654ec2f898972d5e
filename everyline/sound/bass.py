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

LOWEST, HIGHEST, CENTRE = 28, 52, 40
"""Register in MIDI numbers: E1, the open low string, to E3."""

_LEAPS = {0: 12.0, 1: 0.0, 2: 0.0, 3: 1.0, 4: 1.0, 5: 1.5, 6: 5.0, 7: 2.0, 8: 5.0, 9: 5.0, 12: 3.0}
_TOO_FAR = 20.0
_ROCKING = 4.0
"""What it costs to come back to the note before the last."""
_APPROACH = {1: 0.0, 2: 0.5, 7: 1.5, 5: 1.5}
"""What a note costs that leads into a root so many semitones away: half step, whole step, fifth above or
below.
"""


@dataclass(frozen=True, slots=True)
class Stop:
    """A place where the bass plays: its chord, the chord's scale, and how it stands there.

    ``first`` is where the chord begins (or closes), ``opens`` its first note in a bar, ``strong`` a strong
    beat; ``into`` is the pitch class of the root that follows, when the next stop begins another chord.
    """

    chord: Chord
    scale: tuple[int, ...]
    first: bool
    opens: bool
    strong: bool
    into: int | None


def bass_class(chord: Chord) -> int:
    """Pitch class that the bass plays where a chord begins: the slash bass, else the root."""
    return parse_note_name(chord.bass) if chord.bass else chord.root_class


def fifth_class(chord: Chord) -> int:
    """Pitch class of the chord's fifth, as altered; of the plain fifth where the chord names none."""
    fifth = next((tone for tone in (7, 6, 8) if tone in chord.tones), 7)
    return (chord.root_class + fifth) % 12


def walk(stops: Sequence[Stop]) -> tuple[int, ...]:
    """A walking line over the stops, MIDI numbers: the cheapest path note to note, the lower of a tie.

    The search remembers two notes, since to rock between the same two is no walk.
    """
    best: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {(0, 0): (0.0, ())}
    for stop in stops:
        longer: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {}
        for (earlier, before), (total, path) in best.items():
            for pitch, cost in _candidates(stop):
                moved = total + cost + (_leap(before, pitch) if path else 0.0)
                if pitch == earlier and not stop.first:
                    moved += _ROCKING
                known = longer.get((before, pitch))
                if known is None or (moved, (*path, pitch)) < known:
                    longer[before, pitch] = (moved, (*path, pitch))
        best = longer
    return min(best.values())[1]


def two_feel(stops: Sequence[Stop]) -> tuple[int, ...]:
    """The root first in every bar, then the fifth; each the nearest to the note before, the lower one of a
    tie.
    """
    line: list[int] = []
    for stop in stops:
        wanted = bass_class(stop.chord) if stop.opens else fifth_class(stop.chord)
        near = line[-1] if line else CENTRE - 2
        options = [pitch for pitch in range(LOWEST, HIGHEST + 1) if pitch % 12 == wanted]
        line.append(min(options, key=lambda pitch: (abs(pitch - near) + abs(pitch - CENTRE) / 4, pitch)))
    return tuple(line)


def _leap(before: int, after: int) -> float:
    return _LEAPS.get(abs(after - before), _TOO_FAR)


@lru_cache(maxsize=4096)
def _candidates(stop: Stop) -> tuple[tuple[int, float], ...]:
    """The pitches that may be played at a stop, with what each costs."""
    return tuple(_priced(stop))


def _priced(stop: Stop) -> Iterator[tuple[int, float]]:
    root = bass_class(stop.chord)
    for pitch in range(LOWEST, HIGHEST + 1):
        cost = _cost(stop, root, pitch)
        if cost is not None:
            yield pitch, cost + abs(pitch - CENTRE) / 6


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
