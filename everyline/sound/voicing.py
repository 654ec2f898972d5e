"""Shell voicings with voice leading: what the chord instrument plays.

A shell is the third and the seventh (or what stands for them), with every tone that tells the chord apart
from the plain one of its kind: an altered fifth, a named extension. The bass has the root. All common
practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise, product

from everyline.rules.chords import Chord
from everyline.rules.degrees import DEGREES, degree_number

LOWEST, HIGHEST, CENTRE, MUDDY = 48, 72, 60, 52
"""Register in MIDI numbers: C3 to C5, and best from E3 on, below which thirds and sevenths grow muddy."""
OVER = 7
"""Semitones by which the register lies further up over a low line."""
CROSSING, RUB = 9, 14
"""What a voice costs on the line's side or in unison, and one a semitone from it."""
WIDEST = 16
"""Semitones from the lowest to the highest voice at most."""
MOST_VOICES = 4

Voicing = tuple[int, ...]


def shell_degrees(chord: Chord) -> tuple[str, ...]:
    """The degrees that a shell sounds, in the chord's order: ``3 b7`` of a 7, ``b3 b5 b7`` of an m7b5.

    A triad has no seventh: its fifth takes that place. A sixth does too. A root is sounded only where fewer
    than two tones are left.
    """
    rest = [name for name in chord.degrees if name != "1"]
    seventh = any(degree_number(name) in (6, 7) for name in rest)
    shell = tuple(name for name in rest if not (seventh and name == "5"))
    return shell[:MOST_VOICES] if len(shell) > 1 else ("1", *shell)


def shell_classes(chord: Chord) -> tuple[int, ...]:
    """The pitch classes of the shell."""
    return tuple((chord.root_class + DEGREES[name]) % 12 for name in shell_degrees(chord))


@lru_cache(maxsize=1024)
def voicings(chord: Chord, up: int = 0) -> tuple[Voicing, ...]:
    """Every voicing of the shell in the register, each tone once, from low to high; the register may lie so
    many semitones further up.
    """
    keys = range(LOWEST + up, HIGHEST + up + 1)
    options = [[p for p in keys if p % 12 == each] for each in shell_classes(chord)]
    found = {tuple(sorted(chosen)) for chosen in product(*options)}
    return tuple(sorted(each for each in found if each[-1] - each[0] <= WIDEST))


@lru_cache(maxsize=1 << 16)
def movement(before: Voicing, after: Voicing) -> int:
    """Semitones that the voices move, each to the nearest tone, seen from either chord."""
    there = sum(min(abs(p - q) for q in after) for p in before)
    back = sum(min(abs(p - q) for q in before) for p in after)
    return there + back


def lead(
    chords: Sequence[Chord], line: Sequence[Sequence[int]] = (), over: bool = False
) -> tuple[Voicing, ...]:
    """The voicings of a row of chords that move least, near the middle of the register and out of the line's
    way; one for each chord.

    ``line`` has, for each chord, the pitches that sound when it is struck: the voices stay below them, or,
    ``over`` a low line, above. A shortest path over all voicings; the lowest voicings win a tie.
    """
    if not chords:
        return ()
    heard = line or [()] * len(chords)
    up = OVER if over else 0
    best: dict[Voicing, tuple[float, tuple[Voicing, ...]]] = {
        each: (_strain(each, heard[0], over), (each,)) for each in voicings(chords[0], up)
    }
    for chord, pitches in zip(chords[1:], heard[1:], strict=True):
        best = {
            each: min(
                (cost + movement(path[-1], each) + _strain(each, pitches, over), (*path, each))
                for cost, path in best.values()
            )
            for each in voicings(chord, up)
        }
    return min(best.values())[1]


def _strain(voicing: Voicing, line: Sequence[int], over: bool = False) -> float:
    """What a voicing costs by itself: away from the middle, with a semitone between neighbours, in the way of
    the line."""
    up = OVER if over else 0
    middle = sum(voicing) / len(voicing)
    rubs = sum(high - low == 1 for low, high in pairwise(voicing))
    cost = abs(middle - CENTRE - up) / 2 + 3 * rubs + sum(max(0, MUDDY + up - voice) for voice in voicing)
    for pitch in line:
        cost += CROSSING * sum(voice <= pitch if over else voice >= pitch for voice in voicing)
        cost += RUB * sum(abs(voice - pitch) == 1 for voice in voicing)
    return cost
