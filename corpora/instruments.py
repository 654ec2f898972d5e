"""Instruments: sounding range, transposition, clef, and strings and frets where there are any."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from everyline.corpora.errors import InputError
from everyline.corpora.loader import TableKey, read_entries

CLEFS = ("treble", "bass", "alto", "tenor")
"""Clefs that a part may be written in."""

FAMILIES = ("plucked strings", "bowed strings", "woodwind", "brass", "keyboard", "voice")
MOST_FRETS = 36
_PITCH = re.compile(r"[A-G](#|b)?-?\d")

_KEYS = {
    "name": TableKey("name"),
    "title": TableKey("text"),
    "family": TableKey("text", allowed=FAMILIES),
    "lowest": TableKey("text"),
    "highest": TableKey("text"),
    "comfortable": TableKey("texts", ()),
    "transposition": TableKey("integer", 0),
    "clef": TableKey("text", "treble", CLEFS),
    "strings": TableKey("texts", ()),
    "frets": TableKey("integer", 0),
    "program": TableKey("integer"),
    "remark": TableKey("text", ""),
}


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument. Pitches are sounding, in scientific notation (C4 = MIDI 60).

    ``transposition`` is in semitones from the sounding to the written pitch (guitar +12). ``strings`` runs
    from the string of the highest number to string 1, which for most instruments is low to high; it is
    empty, and ``frets`` 0, where there is no fretboard. ``comfortable`` is the lowest and the highest pitch
    that are played without special effort; a file that leaves it out means all from ``lowest`` to
    ``highest``. ``program`` is the General MIDI program, 1 to 128.
    """

    name: str
    title: str
    family: str
    lowest: str
    highest: str
    comfortable: tuple[str, str]
    transposition: int = 0
    clef: str = "treble"
    strings: tuple[str, ...] = ()
    frets: int = 0
    program: int = 1
    remark: str = ""

    @property
    def fretted(self) -> bool:
        """Whether positions and string sets make sense on it."""
        return self.frets > 0


def _build(table: dict[str, Any]) -> Instrument:
    for key in ("lowest", "highest"):
        _check_pitch(key, table[key])
    table["comfortable"] = table["comfortable"] or (table["lowest"], table["highest"])
    if len(table["comfortable"]) != 2:
        raise InputError(
            f"comfortable = {list(table['comfortable'])}; it holds two pitches, the lowest and the highest."
        )
    for pitch in table["comfortable"]:
        _check_pitch("comfortable", pitch)
    for string in table["strings"]:
        _check_pitch("strings", string)
    if not 0 <= table["frets"] <= MOST_FRETS:
        raise InputError(f"frets = {table['frets']}; allowed are 0 (no frets) to {MOST_FRETS}.")
    if table["frets"] and not table["strings"]:
        raise InputError(f"frets = {table['frets']} but no strings: name them as pitches, lowest first.")
    if not 1 <= table["program"] <= 128:
        raise InputError(f"program = {table['program']}; allowed are the General MIDI programs 1 to 128.")
    if not -48 <= table["transposition"] <= 48:
        raise InputError(f"transposition = {table['transposition']}; allowed are -48 to 48 semitones.")
    return Instrument(**table)


def _check_pitch(key: str, text: str) -> None:
    if _PITCH.fullmatch(text) is None:
        raise InputError(
            f'{key} = "{text}" is not a pitch; write a letter, # or b, and an octave, as in Bb3.'
        )


def read_instruments(path: Path) -> list[Instrument]:
    """Read an instruments file. Raises InputError."""
    return read_entries(path, "instrument", _KEYS, _build)
