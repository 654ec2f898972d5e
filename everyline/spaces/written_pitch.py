"""Rules as a transposing instrument reads them: chords and pitches as they are on its part."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from everyline.corpora import Instrument
from everyline.corpora.errors import InputError
from everyline.paper.instrument_part import interval_words, moved_pitch, part_for
from everyline.rules.pitch import is_pitch
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.rules.transpose import KeyChange, home_key, transpose_tables


def is_transposing(instrument: Instrument | None) -> bool:
    """Whether an instrument's part is in another key than its sound."""
    return instrument is not None and instrument.transposition % 12 != 0


def interval(instrument: Instrument) -> str:
    """How far the part is from the sound: ``a major sixth above its sound``."""
    up = instrument.transposition
    return f"{interval_words(abs(up))} {'above' if up > 0 else 'below'} its sound"


def written_tables(tables: Mapping[str, Any], rules: Rules) -> dict[str, Any]:
    """The tables of a rule file moved to written pitch, for the rules that they state at sounding pitch.

    All lines move by the instrument's transposition, so that their numbers stay. Raises InputError where the
    rules have no instrument whose part is in another key.
    """
    instrument = rules.instrument
    if instrument is None or not is_transposing(instrument):
        whose = "the rules name no instrument" if instrument is None else f"the {instrument.name} is not one"
        raise InputError(
            f"--written is for an instrument that transposes, and {whose}; name one, such as instrument = "
            f'"alto-saxophone".'
        )
    key = rules.key or home_key(tables)
    part = part_for(instrument, rules.pitches)
    steps = part.steps(key)
    to = part.written_key(key, steps)
    moved = transpose_tables({**tables, "key": key}, to, keep_range=True)
    chord = rules.progression.chords[0]
    low, high = (
        moved_pitch(spell(pitch, chord), instrument.transposition, steps).name
        for pitch in (min(rules.pitches), max(rules.pitches))
    )
    moved["range"] = {"lowest": low, "highest": high}
    octaves, left = divmod(instrument.transposition - KeyChange.between(key, to).semitones, 12)
    assert not left, "a key moves by the transposition but for octaves"
    entry = moved.get("entry")
    if isinstance(entry, Mapping) and isinstance(entry.get("start"), list):
        moved["entry"] = {**entry, "start": [_higher(name, octaves) for name in entry["start"]]}
    return moved


def _higher(name: str, octaves: int) -> str:
    """A pitch so many octaves higher; a note name as it is."""
    return re.sub(r"-?\d+$", lambda octave: str(int(octave[0]) + octaves), name) if is_pitch(name) else name
