"""A rule file in another key: chords, scales, limits and first notes move along, rhythm and figures stay.

What moves is the text of the file, so that the result is a rule file like any other, with a fingerprint of
its own. Roman numerals stay as they are under another ``key``. The range moves with the key, up by at most
five semitones or down by at most six, so that there are as many lines as before; an instrument or a position
keeps its range.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.chords import parse_chord
from everyline.rules.limits import LIMITS
from everyline.rules.meter import parse_meter
from everyline.rules.pitch import (
    LETTERS,
    is_note_name,
    is_pitch,
    letter_above,
    letter_steps,
    parse_note_name,
    parse_pitch,
    split_note_name,
)
from everyline.rules.progression import Progression, parse_progression
from everyline.rules.roman import is_roman
from everyline.rules.schema import KeyType
from everyline.rules.spelling import PLAIN_NAMES, Key, parse_key, plain_name, with_octave

CYCLE = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
"""The twelve major keys in the cycle of fourths, as they are usually practised (common practice)."""

CHROMATIC = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
"""The twelve major keys, rising by semitones."""

LEVEL_SIGNS = {1: 0, 2: 1, 3: 3, 4: 4, 5: 6}
"""Most accidentals in the signature of the keys of a level; level 5 has all twelve keys."""

_MINOR = {"Db": "C#", "Gb": "F#", "Ab": "G#"}
_TOKEN = re.compile(r"(?:\([^()|]*\)|[^\s|()])+")
_ROOT = re.compile(r"[A-G](?:bb|##|b|#|♭|♯|𝄫|𝄪|)")


def keys_in_order(order: tuple[str, ...], minor: bool) -> tuple[str, ...]:
    """Major keys, or the minor keys on the same notes (``Cm``), spelled with seven accidentals at most."""
    return tuple(_MINOR.get(tonic, tonic) + "m" for tonic in order) if minor else order


def keys_of_level(level: int, minor: bool) -> tuple[str, ...]:
    """The keys of a level (1 to 5), fewest accidentals first. Raises InputError."""
    if level not in LEVEL_SIGNS:
        raise InputError(f"level {level}: the levels of keys are 1 to {max(LEVEL_SIGNS)}.")
    keys = [key for key in keys_in_order(CYCLE, minor) if abs(parse_key(key).fifths) <= LEVEL_SIGNS[level]]
    return tuple(sorted(keys, key=lambda key: (abs(parse_key(key).fifths), parse_key(key).fifths)))


def home_key(tables: Mapping[str, Any]) -> str:
    """The key of a rule file: the one it names, else that of its last chord (common practice: a progression
    comes home at its end). Raises InputError for changes that cannot be read."""
    if isinstance(tables.get("key"), str):
        return str(tables["key"])
    meter = parse_meter(str(tables.get("meter", "4/4")), tables.get("beat"))
    return key_at_end(parse_progression(str(tables.get("changes", "")), meter, tables.get("subdivision")))


def key_at_end(progression: Progression) -> str:
    """The key of a progression's last chord, spelled as keys are."""
    chord = progression.chords[-1]
    minor = "b3" in chord.degrees
    tonic = chord.root
    if minor:
        tonic = _MINOR.get(tonic, tonic)
    return tonic + ("m" if minor else "")


@dataclass(frozen=True, slots=True)
class KeyChange:
    """From one key to another: ``steps`` on the staff, ``semitones`` in pitch, within -6 to 5."""

    home: Key
    to: Key
    steps: int
    semitones: int

    @classmethod
    def between(cls, home: str, to: str) -> KeyChange:
        """The move from key to key. Raises InputError where one is major and the other minor."""
        one, other = parse_key(home), parse_key(to)
        if one.minor != other.minor:
            modes = {True: "minor", False: "major"}
            raise InputError(
                f"the rules are in {home}, which is {modes[one.minor]}, and cannot move to {to}, which is "
                f"{modes[other.minor]}; give {modes[one.minor]} keys."
            )
        semitones = (parse_note_name(other.tonic) - parse_note_name(one.tonic) + 6) % 12 - 6
        steps = letter_steps(one.tonic, other.tonic)
        return cls(one, other, steps, semitones)

    def note(self, name: str) -> str:
        """A note name, moved and spelled by its place: the third of C is E, that of Eb is G. Never a double
        accidental, and Cb, Fb, E# or B# only where the signature has it."""
        parts = split_note_name(name)
        if parts is None:
            raise InputError(f'"{name}" is not a note name.')
        letter = letter_above(parts[0], self.steps)
        wanted = parse_note_name(name) + self.semitones
        found = plain_name(letter, (wanted - LETTERS[letter] + 6) % 12 - 6)
        plain = PLAIN_NAMES.get(found, found)
        return found if found in self.to.names else plain

    def chord(self, symbol: str) -> str:
        """A chord symbol, moved: what follows the root stays as it is written."""
        chord = parse_chord(symbol)
        text = symbol.strip()
        root = _ROOT.match(text)
        if root is None:
            raise InputError(f'"{symbol}" is not a chord symbol.')
        rest = text[root.end() :]
        if chord.bass is not None:
            rest = rest[: rest.rindex("/")] + "/" + self.note(chord.bass)
        return self.note(chord.root) + rest

    def symbol(self, text: str) -> str:
        """A chord symbol moved; a roman numeral as it is."""
        return text if is_roman(text) else self.chord(text)

    def changes(self, text: str) -> str:
        """A whole progression; bar lines and signs of repetition stay."""
        return with_symbols(text, self.chord)

    def pitch(self, name: str, semitones: int | None = None) -> str:
        """A pitch with its octave, moved."""
        number = parse_pitch(name) + (self.semitones if semitones is None else semitones)
        if not 0 <= number <= 127:
            raise InputError(f"{name} moved to {self.to.tonic} is out of reach; choose a smaller range.")
        return with_octave(self.note(re.sub(r"-?\d+$", "", name.strip())), number)


def with_symbols(changes: str, move: Callable[[str], str]) -> str:
    """The text of a progression with its chord symbols moved; roman numerals, bar lines and signs of
    repetition stay."""

    def moved(found: re.Match[str]) -> str:
        word = found[0]
        return word if set(word) <= {"/", "%"} or is_roman(word) else move(word)

    return _TOKEN.sub(moved, changes)


def transpose_tables(tables: Mapping[str, Any], to: str, keep_range: bool | None = None) -> dict[str, Any]:
    """The tables of a rule file in the key ``to``.

    ``keep_range`` True leaves the range where it is, False moves it; None moves a range of two pitches (also
    the one that holds where none is stated) and leaves an instrument's or a position's. Raises InputError.
    """
    move = KeyChange.between(home_key(tables), to)
    moved = dict(tables) | {"key": to, "changes": move.changes(str(tables.get("changes", "")))}
    if isinstance(tables.get("scales"), Mapping):
        moved["scales"] = {move.symbol(name): scale for name, scale in tables["scales"].items()}
    if isinstance(tables.get("limit"), list):
        moved["limit"] = [_limit(limit, move) for limit in tables["limit"]]
    place = dict(tables.get("range") or {})
    fretted = not place.keys() <= {"lowest", "highest"}
    if keep_range is False and fretted:
        raise InputError("an instrument or a position has its own range, which does not move with the key.")
    if not fretted and not keep_range:
        from everyline.rules.keys import DEFAULT_RANGE

        low, high = (str(place.get(k, d)) for k, d in zip(("lowest", "highest"), DEFAULT_RANGE, strict=True))
        moved["range"] = {"lowest": move.pitch(low), "highest": move.pitch(high)}
    entry = tables.get("entry")
    if isinstance(entry, Mapping) and isinstance(entry.get("start"), list):
        moved["entry"] = {**entry, "start": [_start(str(name), move) for name in entry["start"]]}
    return moved


def _limit(limit: Any, move: KeyChange) -> Any:
    if not isinstance(limit, Mapping) or str(limit.get("kind")) not in LIMITS:
        return limit
    chords = [key.name for key in LIMITS[str(limit["kind"])].keys if key.type is KeyType.CHORD]
    return {
        name: move.symbol(value) if name in chords and isinstance(value, str) else value
        for name, value in limit.items()
    }


def _start(name: str, move: KeyChange) -> str:
    if is_pitch(name):
        return move.pitch(name)
    if is_note_name(name):
        return move.note(name)
    raise InputError(f'"{name}" is not a pitch or a note name.{did_you_mean(name, LETTERS)}')
