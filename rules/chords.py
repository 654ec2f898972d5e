"""Chord symbols: what was written, and the tones that it names."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.chord_table import ADDITIONS, FIFTHS, QUALITIES, STACK, SUSPENSIONS
from everyline.rules.degrees import DEGREES, degree_number
from everyline.rules.pitch import parse_note_name
from everyline.rules.scales import default_scale_degrees

EXAMPLES = "Dm7, G7, Cmaj7, Bm7b5, Bdim7, F#m(maj7), C6/9, G7b9, G13, G7alt, Gsus4, Am7/G"

_CHORD = re.compile(r"([A-G])(bb|##|b|#|)(.*?)(?:/([A-G](?:bb|##|b|#|)))?", re.DOTALL)
_SIGNS = {
    "♭": "b",
    "♯": "#",
    "𝄫": "bb",
    "𝄪": "##",
    "°": "o",
    "º": "o",
    "Ø": "ø",
    "∅": "ø",
    "△": "Δ",
    "∆": "Δ",
    "−": "-",
    "–": "-",
}
_BASES = {spelling: quality for quality in QUALITIES for spelling in quality.spellings}
_BASES_LONGEST_FIRST = sorted(_BASES, key=len, reverse=True)
_CHANGES_LONGEST_FIRST = sorted((*ADDITIONS, *FIFTHS, *SUSPENSIONS), key=len, reverse=True)
# 7alt has the tones of 7#5 and another chord scale, so only the word "alt" itself gives it.
_NAMING_ORDER = sorted((q for q in QUALITIES if q.name != "7alt"), key=lambda q: -len(q.degrees))


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord symbol and its tones. Two symbols are the same chord when their ``key`` is equal."""

    symbol: str
    """As written, stripped."""
    root: str
    """Spelled root in ASCII, ``Bb``."""
    root_class: int
    """Pitch class of the root, 0..11."""
    quality: str
    """Canonical quality, ``m7``, whatever the spelling was."""
    bass: str | None
    """Spelled slash bass, which adds no chord tone."""
    tones: tuple[int, ...]
    """Semitones above the root, 0..11, in stack order (1 3 5 7, then extensions)."""
    degrees: tuple[str, ...]
    """Degree names of the tones, in the same order."""
    tone_classes: frozenset[int] = field(init=False, repr=False, compare=False)
    """Pitch classes of the chord tones."""

    def __post_init__(self) -> None:
        """Derive the pitch classes once."""
        classes = frozenset((self.root_class + tone) % 12 for tone in self.tones)
        object.__setattr__(self, "tone_classes", classes)

    @property
    def key(self) -> tuple[str, str, str | None]:
        """What makes it the same chord: root as spelled, quality, bass. Dm7 and D-7 share it."""
        return (self.root, self.quality, self.bass)

    @property
    def name(self) -> str:
        """The symbol in its canonical spelling: D-7 gives ``Dm7``."""
        return self.root + self.quality + (f"/{self.bass}" if self.bass else "")

    def degree_of(self, pitch: int) -> str:
        """Degree name of any pitch (MIDI number) over this chord.

        A chord tone has the chord's own name for it; a tone of the chord scale the scale's; any other the
        usual name of the chromatic tone (b9, #9, #11, b13 over a dominant).
        """
        return _degree_names(self)[(pitch - self.root_class) % 12]


@lru_cache(maxsize=1024)
def _degree_names(chord: Chord) -> tuple[str, ...]:
    """Degree names of the twelve semitones above the root of a chord."""
    third = "3" in chord.degrees
    seventh = any(degree_number(name) == 7 for name in chord.degrees)
    names = ["1", "b9", "9", "#9" if third else "b3", "3", "11", "#11", "5", "b13", "13", "b7", "7"]
    for name in default_scale_degrees(chord.quality, chord.degrees):
        names[DEGREES[name]] = {"2": "9", "b2": "b9", "#2": "#9", "4": "11", "#4": "#11"}.get(name, name)
        if degree_number(name) == 6:
            names[DEGREES[name]] = name.replace("6", "13")
    if not seventh:
        # A sixth is called a thirteenth only over a chord that has a seventh.
        names[8], names[9] = "b6", "6"
    for name in chord.degrees:
        names[DEGREES[name]] = name
    return tuple(names)


@lru_cache(maxsize=4096)
def parse_chord(text: str) -> Chord:
    """Read a chord symbol in any usual spelling. Raises InputError for text that is not one."""
    symbol = text.strip()
    plain = _plain(symbol)
    found = _CHORD.fullmatch(plain)
    if found is None:
        capital = symbol[:1].upper() + symbol[1:]
        near = did_you_mean(symbol, [capital] if _is_chord(capital) else ())
        raise InputError(
            f'"{symbol}" is not a chord symbol: it must begin with its root, a capital letter A to G. '
            f"Write for example {EXAMPLES}.{near}"
        )
    root, bass = found[1] + found[2], found[4]
    quality, degrees = _read_quality(symbol, root, found[3])
    tones = tuple(DEGREES[name] for name in degrees)
    return Chord(symbol, root, parse_note_name(root), quality, bass, tones, degrees)


def _plain(symbol: str) -> str:
    """The symbol with accidentals and signs in one spelling each."""
    for sign, plain in _SIGNS.items():
        symbol = symbol.replace(sign, plain)
    return symbol


def _read_quality(symbol: str, root: str, written: str) -> tuple[str, tuple[str, ...]]:
    """Canonical quality and degrees of what follows the root."""
    text = re.sub(r"[()\[\],\s]", "", written)
    splits = [(base, *_changes(text[len(base) :])) for base in _BASES_LONGEST_FIRST if text.startswith(base)]
    # The longest base, unless only a shorter one explains the whole symbol: "madd11" is m and add11, not ma.
    base, changes, rest = next((split for split in splits if not split[2]), splits[0])
    if rest:
        raise _not_understood(symbol, root, text, rest)
    quality = _BASES[base]
    if not changes:
        return quality.name, quality.degrees
    degrees = set(quality.degrees)
    for change in changes:
        _apply(symbol, degrees, change)
    stack = tuple(name for name in STACK if name in degrees)
    if len({DEGREES[name] for name in stack}) < len(stack):
        raise InputError(
            f'"{symbol}" names the same tone twice ({" ".join(stack)}); leave one of the two out.'
        )
    if quality.name == "7alt":
        suspended = {} if "3" in stack else {tone: words for words, tone in reversed(SUSPENSIONS.items())}
        return "7alt" + "".join(suspended.get(n, n) for n in stack if n not in quality.degrees), stack
    return _canonical(stack), stack


def _changes(text: str) -> tuple[list[str], str]:
    """The alterations that a text is made of, and the rest that is none."""
    found: list[str] = []
    while text:
        change = next((s for s in _CHANGES_LONGEST_FIRST if text.startswith(s)), None)
        if change is None:
            break
        found.append(change)
        text = text[len(change) :]
    return found, text


def _apply(symbol: str, degrees: set[str], change: str) -> None:
    """Carry out one alteration on a set of degree names."""
    if change in FIFTHS:
        degrees.discard("5")
        degrees.add(FIFTHS[change])
    elif change in SUSPENSIONS:
        if not degrees & {"3", "b3"} or "bb7" in degrees:
            raise InputError(
                f'"{symbol}" cannot be suspended; write a suspended chord such as G7sus4 or Gsus2.'
            )
        degrees -= {"3", "b3"}
        degrees.add(SUSPENSIONS[change])
    else:
        seventh = degrees & {"bb7", "b7", "7"}
        if change in ("9", "11", "13") and not seventh | degrees & {"6"}:
            raise InputError(
                f'"{symbol}" leaves open whether it has a seventh: write add{change} after a triad that has '
                f"none, or name the seventh, such as dim7(9)."
            )
        # Over a seventh the sixth is called the thirteenth.
        degrees.add("13" if ADDITIONS[change] == "6" and seventh else ADDITIONS[change])


def _canonical(degrees: tuple[str, ...]) -> str:
    """Canonical quality of any set of degrees: the largest quality inside it, and what is added."""
    for quality in _NAMING_ORDER:
        if set(quality.degrees) <= set(degrees):
            extra = [name for name in degrees if name not in quality.degrees]
            words = "".join(name if name[0] in "b#" else f"add{name}" for name in extra)
            return f"({words})" if words and not quality.name else quality.name + words
    if "b5" in degrees:
        without = tuple("5" if name == "b5" else name for name in degrees)
    else:
        without = tuple("5" if name == "#5" else name for name in degrees)
    altered = next(name for name in degrees if name in ("b5", "#5"))
    base = _canonical(without)
    return f"{base}{altered}" if base else f"({altered})"


_LOOSE = (
    (re.compile(r"^(?:maj|Maj|MAJ|ma|Ma|MA|M)(?![a-z])"), "maj"),
    (re.compile(r"^(?:min|Min|MIN|mi|Mi|MI|-)(?![a-z])"), "m"),
    (re.compile(r"-(?=\d)"), "b"),
    (re.compile(r"\+(?=\d)"), "#"),
)
"""Other spellings of a quality's parts; what a slip stands nearest to is found in one spelling of them."""


def _is_chord(symbol: str) -> bool:
    found = _CHORD.fullmatch(_plain(symbol))
    if found is None:
        return False
    try:
        _read_quality(symbol, found[1] + found[2], found[3])
    except InputError:
        return False
    return True


def _not_understood(symbol: str, root: str, text: str, rest: str) -> InputError:
    """The error for a symbol of which only a part was understood."""
    known = [*(q.name for q in QUALITIES), "7b9", "7#9", "7#11", "7b13", "maj7#11"]
    plain = text
    for loose, spelled in _LOOSE:
        plain = loose.sub(spelled, plain)
    near = did_you_mean(root + plain, [root + name for name in known if name != plain])
    understood = symbol if not text else root + text[: len(text) - len(rest)]
    return InputError(
        f'"{symbol}" is not a chord symbol: "{understood}" is understood, "{rest}" is not. '
        f"Write for example {EXAMPLES}.{near}"
    )
