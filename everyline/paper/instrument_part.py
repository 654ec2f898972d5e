"""The part that a player reads: clef, transposition, written pitches and keys, tuning.

Everything inside the program sounds; this is the one place where sounding pitches become written ones.
Intervals run from the sounding to the written pitch: ``steps`` along the staff, ``semitones`` in pitch.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from everyline.corpora import Instrument
from everyline.rules.chords import Chord
from everyline.rules.pitch import ACCIDENTALS, LETTERS, letter_above, letter_steps, parse_pitch
from everyline.rules.spelling import Key, parse_key, plain_name, with_octave

CLEFS: dict[str, tuple[str, int]] = {
    "treble": ("G", 2),
    "bass": ("F", 4),
    "alto": ("C", 3),
    "tenor": ("C", 4),
}
"""Sign and staff line of each clef."""

_LINE = "FCGDAEB"
# Staff steps of an interval in semitones within one octave: a semitone is a second, a tritone a fourth.
_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_BASS_BELOW = 55
_INTERVALS = (
    "unison", "minor second", "major second", "minor third", "major third", "fourth", "augmented fourth",
    "fifth", "minor sixth", "major sixth", "minor seventh", "major seventh",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pitch:
    """A pitch on the staff: letter, alteration in semitones, octave (C4 is middle C)."""

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """MIDI number of the pitch as written."""
        return 12 * (self.octave + 1) + LETTERS[self.step] + self.alter

    @property
    def name(self) -> str:
        """The pitch by name, ``Bb4``."""
        return f"{self.step}{_sign(self.alter)}{self.octave}"


@dataclass(frozen=True, slots=True)
class Part:
    """One player's part. ``octaves`` is the octave sign at the clef (-1 sounds an octave lower than a plain
    clef).

    ``semitones`` from sounding to written pitch leave out the clef's octaves: a guitar has 0 and ``octaves``
    -1, a B flat trumpet 2. ``tuning`` holds MIDI numbers of the open strings, string 1 first; empty without.
    """

    name: str
    clef: str
    octaves: int
    semitones: int
    tuning: tuple[int, ...]
    frets: int
    program: int

    def steps(self, key: str | None, chords: Iterable[Chord] = ()) -> int:
        """Staff steps of the transposition, respelled where the written key has fewer accidentals so.

        Without a key the roots of the chords decide in its place: the nearer to C on the line of fifths, the
        better.
        """
        octave, rest = divmod(self.semitones, 12)
        usual = 7 * octave + _STEPS[rest]
        if self.semitones == 0:
            return 0
        roots = [chord.root for chord in chords]

        def cost(steps: int) -> tuple[int, int]:
            if key is not None:
                accidentals = abs(_fifths_moved(parse_key(key), steps, self.semitones))
            else:
                accidentals = sum(abs(_fifths(_moved(f"{root}4", steps, self.semitones))) for root in roots)
            return accidentals, abs(steps - usual)

        return min((usual, usual + 1, usual - 1), key=cost)

    def written(self, name: str, steps: int) -> Pitch:
        """The written pitch of a sounding one given by name: ``Bb3`` on a trumpet is C4. No double
        accidentals.
        """
        return moved_pitch(name, self.semitones, steps)

    def written_root(self, root: str, steps: int) -> str:
        """The written name of a chord's root or bass: ``Bb`` on a trumpet is C."""
        return moved_name(root, self.semitones, steps)

    def written_fifths(self, key: str, steps: int) -> int:
        """The written key signature in fifths, sharps positive."""
        return _fifths_moved(parse_key(key), steps, self.semitones)

    def written_key(self, key: str, steps: int) -> str:
        """The written key by name: ``Bb`` on a trumpet is ``C``; a minor key keeps its ``m``."""
        found = parse_key(key)
        return self.written_root(found.tonic, steps) + ("m" if found.minor else "")

    @property
    def remark(self) -> str:
        """What the written pitch is, in words; empty where it is the sounding one."""
        total = self.semitones - 12 * self.octaves
        if total == 0:
            return ""
        return f"written {interval_words(abs(total))} {'above' if total > 0 else 'below'} its sound"


def moved_pitch(name: str, semitones: int, steps: int) -> Pitch:
    """The pitch so many semitones higher, so many steps up the staff, without double accidentals."""
    pitch = _moved(name, steps, semitones)
    if abs(pitch.alter) < 2:
        return pitch
    return _read(with_octave(plain_name(pitch.step, pitch.alter), pitch.midi))


def moved_name(name: str, semitones: int, steps: int) -> str:
    """The same for a name without an octave: ``Bb`` a major second (1 step) higher is ``C``."""
    rest = semitones % 12
    octave_steps = steps % 7
    # A letter may lie just across the octave from its pitch: B# sounds as C.
    up = min((octave_steps - 7, octave_steps, octave_steps + 7), key=lambda each: abs(each * 12 - rest * 7))
    pitch = moved_pitch(f"{name}4", rest, up)
    return pitch.step + _sign(pitch.alter)


def interval_words(semitones: int) -> str:
    """An interval in words: ``a major second``, ``an octave and a major second``."""
    octaves, rest = divmod(semitones, 12)
    parts = []
    if octaves:
        parts.append("an octave" if octaves == 1 else f"{octaves} octaves")
    if rest or not octaves:
        parts.append(("an " if _INTERVALS[rest][0] in "aeiou" else "a ") + _INTERVALS[rest])
    return " and ".join(parts)


def part_for(instrument: Instrument | None, pitches: Iterable[int], concert: bool = False) -> Part:
    """The part of an instrument, or a part at concert pitch without one.

    ``pitches`` are the MIDI numbers that it will hold: a concert part whose middle lies below G3 gets the
    bass clef, any other the treble clef. Instruments at the octave keep their own clef.
    """
    if instrument is None:
        return Part("Line", _concert_clef(pitches), 0, 0, (), 0, 1)
    tuning = tuple(parse_pitch(text) for text in reversed(instrument.strings)) if instrument.fretted else ()
    transposition = instrument.transposition
    if transposition % 12 == 0:
        clef, octaves, semitones = instrument.clef, -transposition // 12, 0
    elif concert:
        clef, octaves, semitones = _concert_clef(pitches), 0, 0
    else:
        clef, octaves, semitones = instrument.clef, 0, transposition
    return Part(instrument.title, clef, octaves, semitones, tuning, instrument.frets, instrument.program)


def _concert_clef(pitches: Iterable[int]) -> str:
    found = list(pitches)
    return "bass" if found and min(found) + max(found) < 2 * _BASS_BELOW else "treble"


def _read(name: str) -> Pitch:
    """A pitch name in its parts; the program's own names are always right."""
    sign = name[1:].rstrip("-0123456789")
    return Pitch(name[0], ACCIDENTALS[sign], int(name[1 + len(sign) :]))


def _moved(name: str, steps: int, semitones: int) -> Pitch:
    pitch = _read(name)
    octave = pitch.octave + (letter_steps("C", pitch.step) + steps) // 7
    letter = letter_above(pitch.step, steps)
    return Pitch(letter, pitch.midi + semitones - 12 * (octave + 1) - LETTERS[letter], octave)


def _fifths(pitch: Pitch) -> int:
    """Where a name stands on the line of fifths, C at 0, sharps positive."""
    return _LINE.index(pitch.step) - 1 + 7 * pitch.alter


def _fifths_moved(key: Key, steps: int, semitones: int) -> int:
    """Signature after moving: an interval of s semitones over d steps is 7s - 12d fifths along the cycle."""
    return key.fifths + 7 * semitones - 12 * steps


def _sign(alter: int) -> str:
    return {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}[alter]
