"""Which accidentals are printed: those that the key and the bar so far ask for, and those that a reader may
doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from everyline.paper.bars import Bar
from everyline.paper.instrument_part import Pitch

NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
"""MusicXML's names of the accidentals, by semitones."""

_SHARPS = "FCGDAEB"


@dataclass(frozen=True, slots=True)
class Accidental:
    """A printed accidental; ``courtesy`` ones stand in brackets."""

    name: str
    courtesy: bool = False


def signature(fifths: int) -> dict[str, int]:
    """What a key signature makes of each letter, in semitones."""
    if fifths >= 0:
        return {letter: int(place < fifths) for place, letter in enumerate(_SHARPS)}
    return {letter: -int(place >= 7 + fifths) for place, letter in enumerate(_SHARPS)}


def accidentals(
    bars: Sequence[Bar],
    pitches: Sequence[Pitch],
    fifths: int,
    courtesy: bool,
    blanks: frozenset[int] = frozenset(),
) -> list[list[Accidental | None]]:
    """The accidental of each note and rest (always None) of each bar.

    An accidental holds for its own octave to the end of the bar. A courtesy accidental is given once a bar
    where the bar before, or another octave of this bar, had the same letter otherwise.
    """
    key = signature(fifths)
    result: list[list[Accidental | None]] = []
    before: dict[tuple[str, int], int] = {}
    for bar in bars:
        held: dict[tuple[str, int], int] = {}
        row: list[Accidental | None] = []
        for each in bar.written:
            if each.note is None or each.tie_in or each.note in blanks:
                row.append(None)
                continue
            pitch = pitches[each.note]
            place = (pitch.step, pitch.octave)
            row.append(_accidental(pitch, held, before, key[pitch.step], courtesy))
            held[place] = pitch.alter
        result.append(row)
        before = held
    return result


def _accidental(
    pitch: Pitch,
    held: dict[tuple[str, int], int],
    before: dict[tuple[str, int], int],
    usual: int,
    courtesy: bool,
) -> Accidental | None:
    place = (pitch.step, pitch.octave)
    if pitch.alter != held.get(place, usual):
        return Accidental(NAMES[pitch.alter])
    if not courtesy or place in held:
        return None
    doubts = [alter for (step, _), alter in held.items() if step == pitch.step]
    if place in before:
        doubts.append(before[place])
    if any(alter != pitch.alter for alter in doubts):
        return Accidental(NAMES[pitch.alter], courtesy=True)
    return None
