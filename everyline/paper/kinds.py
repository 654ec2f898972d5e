"""Chord symbols as MusicXML writes them: a kind of the standard, and the degrees that it lacks.

The kinds are the ``kind-value`` enumeration of MusicXML 4.0 (W3C). A degree that is added is counted from a
dominant chord (minor seventh, major ninth, perfect eleventh, major thirteenth), one that is altered from the
kind's own tone: https://www.w3.org/2021/06/musicxml40/musicxml-reference/elements/degree-alter/
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from everyline.rules.chords import Chord
from everyline.rules.degrees import DEGREES

KINDS: dict[str, str] = {
    "major": "1 3 5",
    "minor": "1 b3 5",
    "augmented": "1 3 #5",
    "diminished": "1 b3 b5",
    "dominant": "1 3 5 b7",
    "major-seventh": "1 3 5 7",
    "minor-seventh": "1 b3 5 b7",
    "diminished-seventh": "1 b3 b5 bb7",
    "augmented-seventh": "1 3 #5 b7",
    "half-diminished": "1 b3 b5 b7",
    "major-minor": "1 b3 5 7",
    "major-sixth": "1 3 5 6",
    "minor-sixth": "1 b3 5 6",
    "dominant-ninth": "1 3 5 b7 9",
    "major-ninth": "1 3 5 7 9",
    "minor-ninth": "1 b3 5 b7 9",
    "dominant-11th": "1 3 5 b7 9 11",
    "minor-11th": "1 b3 5 b7 9 11",
    "dominant-13th": "1 3 5 b7 9 11 13",
    "major-13th": "1 3 5 7 9 11 13",
    "minor-13th": "1 b3 5 b7 9 11 13",
    "suspended-second": "1 2 5",
    "suspended-fourth": "1 4 5",
}
"""The kinds in use and their tones, as the standard describes them."""

_TACIT = frozenset({"11th", "13th"})
# Degrees 2 to 7, 9, 11, 13 of the dominant chord from which added degrees are counted, in semitones.
_COUNTED = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 2, 11: 5, 13: 9}


@dataclass(frozen=True, slots=True)
class KindDegree:
    """One degree beside the kind: its number, chromatic alteration in semitones, and ``add`` or ``alter``."""

    value: int
    alter: int
    type: str


@dataclass(frozen=True, slots=True)
class ChordKind:
    """A chord symbol for MusicXML: the kind, what to print after the root, the degrees it lacks."""

    value: str
    text: str
    degrees: tuple[KindDegree, ...]


@lru_cache(maxsize=1024)
def kind_of(chord: Chord) -> ChordKind:
    """The kind and degrees with the fewest degrees beside the kind. The text is what the teacher wrote.

    A thirteenth or eleventh chord keeps its usual kind, though its symbol does not ask for the ninth.
    """
    best: ChordKind | None = None
    # An altered dominant has the tones of an augmented seventh, yet it is another chord with its own kind.
    kinds = {"dominant": KINDS["dominant"]} if chord.quality.startswith("7alt") else KINDS
    for value, tones in kinds.items():
        degrees = _beside(frozenset(tones.split()), frozenset(chord.degrees), value[-4:] in _TACIT)
        if degrees is not None and (best is None or len(degrees) < len(best.degrees)):
            best = ChordKind(value, written_quality(chord), degrees)
    assert best is not None, f"no kind lies inside {chord.degrees}"
    return best


def _beside(kind: frozenset[str], wanted: frozenset[str], tacit: bool) -> tuple[KindDegree, ...] | None:
    """The degrees that turn a kind into the wanted tones; None when a tone of the kind would have to go."""
    found: list[KindDegree] = []
    missing = set(wanted - kind)
    for tone in sorted(kind - wanted, key=_number):
        number = _number(tone)
        other = next((name for name in missing if _number(name) == number), None)
        if other is not None and number in (5, 9, 11, 13):
            missing.discard(other)
            found.append(KindDegree(number, DEGREES[other] - DEGREES[tone], "alter"))
        elif not (tacit and number in (9, 11)):
            return None
    for name in missing:
        number = _number(name)
        found.append(KindDegree(number, (DEGREES[name] - _COUNTED[number] + 6) % 12 - 6, "add"))
    return tuple(sorted(found, key=lambda degree: (degree.value, degree.alter)))


def _number(name: str) -> int:
    return int(name.lstrip("b#"))


def written_quality(chord: Chord) -> str:
    """What stands after the root in the symbol as written, without the bass: ``m7b5`` of ``Bm7b5``."""
    symbol = chord.symbol.strip()
    quality = symbol[1:].lstrip("b#♭♯𝄫𝄪") if len(chord.root) > 1 else symbol[1:]
    if chord.bass is not None:
        quality = quality.rpartition("/")[0]
    return quality


def music_signs(text: str) -> str:
    """A chord symbol's text with printed accidentals: ``m7b5`` gives ``m7♭5``, ``7#9`` gives ``7♯9``.

    >>> music_signs("7b9#11")
    '7♭9♯11'
    """
    signs = []
    for place, letter in enumerate(text):
        after = text[place + 1 : place + 2]
        if letter in "b#" and (after.isdigit() or after in "b#"):
            letter = "♭" if letter == "b" else "♯"
        signs.append(letter)
    return "".join(signs)
