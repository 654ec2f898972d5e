"""Scales, and the chord scale of each chord quality, which gives the diatonic neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.degrees import DEGREES

if TYPE_CHECKING:
    from everyline.rules.chords import Chord

SCALE_DEGREES: dict[str, tuple[str, ...]] = {
    name: tuple(degrees.split())
    for name, degrees in {
        "ionian": "1 2 3 4 5 6 7",
        "dorian": "1 2 b3 4 5 6 b7",
        "phrygian": "1 b2 b3 4 5 b6 b7",
        "lydian": "1 2 3 #4 5 6 7",
        "mixolydian": "1 2 3 4 5 6 b7",
        "aeolian": "1 2 b3 4 5 b6 b7",
        "locrian": "1 b2 b3 4 b5 b6 b7",
        "melodic minor": "1 2 b3 4 5 6 7",
        "dorian b2": "1 b2 b3 4 5 6 b7",
        "lydian augmented": "1 2 3 #4 #5 6 7",
        "lydian dominant": "1 2 3 #4 5 6 b7",
        "mixolydian b13": "1 2 3 4 5 b6 b7",
        "locrian natural 2": "1 2 b3 4 b5 b6 b7",
        "altered": "1 b9 #9 3 b5 #5 b7",
        "harmonic minor": "1 2 b3 4 5 b6 7",
        "harmonic major": "1 2 3 4 5 b6 7",
        "fifth mode of harmonic minor": "1 b2 3 4 5 b6 b7",
        "whole tone": "1 2 3 #4 #5 b7",
        "whole-half diminished": "1 2 b3 4 b5 b6 6 7",
        "half-whole diminished": "1 b9 #9 3 #4 5 6 b7",
        "chromatic": "1 b2 2 b3 3 4 #4 5 b6 6 b7 7",
        "major pentatonic": "1 2 3 5 6",
        "minor pentatonic": "1 b3 4 5 b7",
        "blues": "1 b3 4 b5 5 b7",
        "major blues": "1 2 b3 3 5 6",
        "bebop dominant": "1 2 3 4 5 6 b7 7",
        "bebop major": "1 2 3 4 5 b6 6 7",
        "bebop dorian": "1 2 b3 3 4 5 6 b7",
        "bebop melodic minor": "1 2 b3 4 5 b6 6 7",
    }.items()
}
"""Every scale by its name in the trade, as degrees above its root."""

SCALES: dict[str, tuple[int, ...]] = {
    name: tuple(DEGREES[degree] for degree in degrees) for name, degrees in SCALE_DEGREES.items()
}
"""The same scales in semitones above the root (0..11), rising."""

ALIASES: dict[str, str] = {
    "major": "ionian",
    "minor": "aeolian",
    "natural minor": "aeolian",
    "jazz minor": "melodic minor",
    "phrygian dominant": "fifth mode of harmonic minor",
    "mixolydian b9 b13": "fifth mode of harmonic minor",
    "superlocrian": "altered",
    "super locrian": "altered",
    "diminished whole tone": "altered",
    "seventh mode of melodic minor": "altered",
    "fourth mode of melodic minor": "lydian dominant",
    "lydian b7": "lydian dominant",
    "mixolydian #11": "lydian dominant",
    "fifth mode of melodic minor": "mixolydian b13",
    "mixolydian b6": "mixolydian b13",
    "third mode of melodic minor": "lydian augmented",
    "second mode of melodic minor": "dorian b2",
    "phrygian natural 6": "dorian b2",
    "sixth mode of melodic minor": "locrian natural 2",
    "locrian #2": "locrian natural 2",
    "aeolian b5": "locrian natural 2",
    "diminished": "whole-half diminished",
    "dominant diminished": "half-whole diminished",
    "minor blues": "blues",
    "bebop mixolydian": "bebop dominant",
    "bebop minor": "bebop dorian",
}
"""Other names of the trade for the same scales."""

# Chord scales: the first row whose degrees the chord names, and whose scale holds every chord tone, decides.
# Common practice of jazz teaching. `7alt` is decided by its name, before this table.
CHORD_SCALES: tuple[tuple[str, str], ...] = (
    ("3 b7 b9 b5", "altered"),
    ("3 b7 b9 #5", "altered"),
    ("3 b7 #9 b5", "altered"),
    ("3 b7 #9 #5", "altered"),
    ("3 b7 b13 b9", "fifth mode of harmonic minor"),
    ("3 b7 b13 #9", "fifth mode of harmonic minor"),
    ("3 b7 b9 13", "half-whole diminished"),
    ("3 b7 b9 #11", "half-whole diminished"),
    ("3 b7 b9", "fifth mode of harmonic minor"),
    ("3 b7 #9", "half-whole diminished"),
    ("3 b7 b13", "mixolydian b13"),
    ("3 b7 #11", "lydian dominant"),
    ("3 b7 b5 13", "lydian dominant"),
    ("3 b7 b5", "whole tone"),
    ("3 b7 #5", "whole tone"),
    ("3 b7", "mixolydian"),
    ("4 b7 b9 13", "dorian b2"),
    ("4 b7 b9", "phrygian"),
    ("2 b7", "mixolydian"),
    ("4 b7", "mixolydian"),
    ("4 7", "ionian"),
    ("2 7", "ionian"),
    ("3 7 #5", "lydian augmented"),
    ("3 7 #11", "lydian"),
    ("3 7 b5", "lydian"),
    ("3 7 b13", "harmonic major"),
    ("3 7", "ionian"),
    ("3 #11", "lydian"),
    ("3 #5", "whole tone"),
    ("3 b5", "lydian"),
    ("3 b13", "harmonic major"),
    ("3", "ionian"),
    ("b3 b5 bb7", "whole-half diminished"),
    ("b3 b5 7", "whole-half diminished"),
    ("b3 b5 b7 9", "locrian natural 2"),
    ("b3 b5 b7", "locrian"),
    ("b3 b5", "whole-half diminished"),
    ("b3 7 b13", "harmonic minor"),
    ("b3 7", "melodic minor"),
    ("b3 6", "melodic minor"),
    ("b3 b7 b9 13", "dorian b2"),
    ("b3 b9", "phrygian"),
    ("b3 b13", "aeolian"),
    ("b3 #5", "aeolian"),
    ("b3", "dorian"),
    ("2", "mixolydian"),
    ("4", "mixolydian"),
)


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale: its name, its degree names and the same in semitones above the root (0..11), rising."""

    name: str
    degree_names: tuple[str, ...]
    degrees: tuple[int, ...]


def _fold(name: str) -> str:
    text = name.strip().casefold().replace("♭", "b").replace("♯", "#")
    return " ".join(text.replace("-", " ").replace("_", " ").split()).removesuffix(" scale")


_FOLDED = {_fold(name): name for name in SCALES} | {_fold(name): to for name, to in ALIASES.items()}


def parse_scale(name: str) -> Scale:
    """The scale of that name; case, hyphens and a closing "scale" do not matter. Raises InputError."""
    found = _FOLDED.get(_fold(name))
    if found is None:
        near = did_you_mean(_fold(name), (*SCALES, *ALIASES))
        raise InputError(f'"{name}" is not a scale. Use one of: {", ".join(SCALES)}.{near}')
    return Scale(found, SCALE_DEGREES[found], SCALES[found])


def default_scale(chord: Chord) -> tuple[int, ...]:
    """The chord scale in semitones above the chord's root (0..11), rising; it holds every chord tone."""
    return tuple(DEGREES[name] for name in default_scale_degrees(chord.quality, chord.degrees))


def default_scales(chords: Sequence[Chord]) -> list[tuple[int, ...]]:
    """The chord scale of each chord of a progression.

    A plain 7 a fifth above a minor chord that follows takes the fifth mode of harmonic minor: it is that
    key's dominant (common practice). Minor is a minor third and a perfect fifth, so that m7b5 is not.
    """
    scales = [default_scale(chord) for chord in chords]
    for index, (chord, after) in enumerate(pairwise(chords)):
        minor = {"b3", "5"} <= set(after.degrees)
        if chord.quality == "7" and minor and (chord.root_class - after.root_class) % 12 == DEGREES["5"]:
            scales[index] = SCALES["fifth mode of harmonic minor"]
    return scales


def default_scale_name(chord: Chord) -> str:
    """Name of the scale that the chord scale is taken from."""
    return _chord_scale(chord.quality, chord.degrees)


@lru_cache(maxsize=1024)
def default_scale_degrees(quality: str, degrees: tuple[str, ...]) -> tuple[str, ...]:
    """Degree names of the chord scale, rising.

    A chord tone that no scale in the table holds with the others is added to the first scale that fits.
    """
    scale = SCALE_DEGREES[_chord_scale(quality, degrees)]
    held = {DEGREES[name] for name in scale}
    added = tuple(name for name in degrees if DEGREES[name] not in held)
    return tuple(sorted((*scale, *added), key=DEGREES.__getitem__))


@lru_cache(maxsize=1024)
def _chord_scale(quality: str, degrees: tuple[str, ...]) -> str:
    if quality.startswith("7alt"):
        return "altered"
    tones = {DEGREES[name] for name in degrees}
    fitting = [scale for needed, scale in CHORD_SCALES if set(needed.split()) <= set(degrees)]
    return next((scale for scale in fitting if tones <= set(SCALES[scale])), fitting[0])
