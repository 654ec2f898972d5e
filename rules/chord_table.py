"""The one table of chord qualities: canonical name, chord tones in stack order, usual spellings.

The chord tones are the tones that the symbol names: a named extension adds its own tone and no other
(C13 is 1 3 5 b7 13, Cm11 is 1 b3 5 b7 11). Spellings are written after the root, with brackets, commas and
spaces left out, ``o`` for the degree sign and ``Δ`` for any triangle.
"""

from __future__ import annotations

from dataclasses import dataclass

MAJOR_WORDS = ("maj", "ma", "M", "Maj", "Ma", "MAJ", "MA")
MINOR = ("m", "-", "min", "mi", "Min", "Mi", "MIN", "MI")
MAJOR = (*MAJOR_WORDS, "Δ", "j")
AUGMENTED = ("aug", "+", "Aug")
DIMINISHED = ("dim", "o", "Dim")


def _each(firsts: tuple[str, ...], *rests: str) -> tuple[str, ...]:
    return tuple(first + rest for first in firsts for rest in rests)


@dataclass(frozen=True, slots=True)
class Quality:
    """One chord quality: canonical name, degree names in stack order, spellings."""

    name: str
    degrees: tuple[str, ...]
    spellings: tuple[str, ...]


def _row(name: str, degrees: str, *spellings: str) -> Quality:
    return Quality(name, tuple(degrees.split()), spellings)


_MINOR_MAJOR = _each(MINOR, *_each(MAJOR, "7", "")) + _each(MINOR, "+7", "#7")

# Order matters: where two qualities of the same size fit inside an altered chord, the earlier names it.
QUALITIES: tuple[Quality, ...] = (
    _row("", "1 3 5", "", *MAJOR_WORDS),
    _row("m", "1 b3 5", *MINOR),
    _row("dim", "1 b3 b5", *DIMINISHED, *_each(MINOR, "b5")),
    _row("aug", "1 3 #5", *AUGMENTED),
    _row("sus4", "1 4 5", "sus4", "sus"),
    _row("sus2", "1 2 5", "sus2"),
    _row("maj7", "1 3 5 7", *_each(MAJOR, "7"), "Δ", "j"),
    _row("7", "1 3 5 b7", "7", "dom7", "dom"),
    _row("m7", "1 b3 5 b7", *_each(MINOR, "7")),
    _row("m7b5", "1 b3 b5 b7", "ø7", "ø", *_each(MINOR, "7b5", "7-5")),
    _row("dim7", "1 b3 b5 bb7", *_each(DIMINISHED, "7")),
    _row("m(maj7)", "1 b3 5 7", *(s for s in _MINOR_MAJOR if s not in _each(MINOR, *MAJOR_WORDS))),
    _row("dim(maj7)", "1 b3 b5 7", *_each(DIMINISHED, *_each(MAJOR, "7"), "Δ")),
    _row("6", "1 3 5 6", "6", "maj6", "ma6", "M6", "add6"),
    _row("m6", "1 b3 5 6", *_each(MINOR, "6", "add6")),
    _row("7sus4", "1 4 5 b7", "7sus4", "7sus", "sus7"),
    _row("7sus2", "1 2 5 b7", "7sus2"),
    _row("7#5", "1 3 #5 b7", "7#5", "7+5", "7aug", *_each(AUGMENTED, "7")),
    _row("7b5", "1 3 b5 b7", "7b5", "7-5"),
    _row("7alt", "1 3 #5 b7", "7alt", "alt", "7altered"),
    _row("maj7#5", "1 3 #5 7", *_each(MAJOR, "7#5", "7+5"), *_each(AUGMENTED, *_each(MAJOR, "7"))),
    _row("maj7sus4", "1 4 5 7", *_each(MAJOR, "7sus4", "7sus")),
    _row("maj7sus2", "1 2 5 7", *_each(MAJOR, "7sus2")),
    _row("add9", "1 3 5 9", "add9", "add2", "2"),
    _row("madd9", "1 b3 5 9", *_each(MINOR, "add9", "add2", "2")),
    _row("6/9", "1 3 5 6 9", "6/9", "69", "maj6/9", "maj69", "M69"),
    _row("m6/9", "1 b3 5 6 9", *_each(MINOR, "6/9", "69")),
    _row("9#5", "1 3 #5 b7 9", "9#5", "9+5", *_each(AUGMENTED, "9")),
    _row("9b5", "1 3 b5 b7 9", "9b5", "9-5"),
    _row("13", "1 3 5 b7 13", "13"),
    _row("9", "1 3 5 b7 9", "9"),
    _row("11", "1 3 5 b7 11", "11"),
    _row("13sus4", "1 4 5 b7 13", "13sus4", "13sus", "sus13"),
    _row("9sus4", "1 4 5 b7 9", "9sus4", "9sus", "sus9"),
    _row("maj13", "1 3 5 7 13", *_each(MAJOR, "13")),
    _row("maj11", "1 3 5 7 11", *_each(MAJOR, "11")),
    _row("maj9", "1 3 5 7 9", *_each(MAJOR, "9")),
    _row("m13", "1 b3 5 b7 13", *_each(MINOR, "13")),
    _row("m11", "1 b3 5 b7 11", *_each(MINOR, "11")),
    _row("m9", "1 b3 5 b7 9", *_each(MINOR, "9")),
    _row("m(maj9)", "1 b3 5 7 9", *_each(MINOR, *_each(MAJOR, "9"))),
)

ADDITIONS: dict[str, str] = {
    "b9": "b9",
    "-9": "b9",
    "#9": "#9",
    "+9": "#9",
    "#11": "#11",
    "+11": "#11",
    "#4": "#11",
    "b13": "b13",
    "-13": "b13",
    "add6": "6",
    "9": "9",
    "11": "11",
    "13": "13",
    "add9": "9",
    "add2": "9",
    "add11": "11",
    "add4": "11",
    "add13": "13",
    "addb9": "b9",
    "add#9": "#9",
    "add#11": "#11",
    "addb13": "b13",
}
"""Spelling after the base quality, and the tone that it adds."""

FIFTHS: dict[str, str] = {"b5": "b5", "-5": "b5", "#5": "#5", "+5": "#5", "+": "#5"}
"""Spelling after the base quality, and the tone that takes the place of the fifth."""

SUSPENSIONS: dict[str, str] = {"sus4": "4", "sus": "4", "sus2": "2"}
"""Spelling after the base quality, and the tone that takes the place of the third."""

# fmt: off
STACK: tuple[str, ...] = (
    "1", "2", "b3", "3", "4", "b5", "5", "#5", "6", "bb7", "b7", "7",
    "b9", "9", "#9", "11", "#11", "b13", "13",
)
# fmt: on
"""Stack order of chord tones: root, third (or what stands for it), fifth, seventh, extensions."""
