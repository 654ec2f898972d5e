"""What several addresses take: names of rules, line numbers, how lines are shown, how they sound."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from everyline.files.formats import FORMATS
from everyline.page.schemas import Schema, choice, text, whole

RULES_ID: Schema = text(24, pattern="^[0-9a-f]{24}$", example="0123456789abcdef01234567")
NUMBER: Schema = text(400, pattern="^[0-9]{1,400}$", example="17")
STAVES: Schema = choice("auto", "staff", "tab", "both", default="auto")
FRETBOARD: Schema = choice("none", "right", "left", default="none")
"""Whether the fretboard is drawn below a line, and for which hand, the one that plucks."""
WIDTH: Schema = whole(60, 400, default=160)

LONGEST_LINE = 10_000
"""Characters of a typed line."""
KEPT_NOTES: Schema = text(LONGEST_LINE, least=1)
"""The notes that a line was kept with: they say which line it is, whatever has become of its rules."""

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
"""What a key may begin on, by pitch class."""
OCTAVES = {"octave-up": 12, "octave-down": -12}
"""Semitones by which a line may be moved without its rules."""

BY_RULES: dict[str, Schema] = {"rules": RULES_ID}
BY_LINE: dict[str, Schema] = {"rules": RULES_ID, "number": NUMBER}

MEDIA_TYPES = {suffix[1:]: form.media_type for suffix, form in FORMATS.items()}
"""What lines can be taken away as, and its media type."""


SOUND: dict[str, Schema] = {
    "tempo": whole(30, 400, default=120),
    "swing": text(12, pattern="^(by-tempo|straight|[0-9.]{1,6}(:1)?)$", default="by-tempo", example="2:1"),
    "count_in": whole(0, 4, default=1),
    "repeats": whole(1, 16, default=1),
    "mute": {
        "type": "array",
        "items": choice("line", "chords", "bass", "drums", "click"),
        "maxItems": 5,
        "default": [],
    },
    "feel": choice("by-meter", "swing", "ballad", "waltz", "bossa", "eighths", "plain", default="by-meter"),
    "seed": whole(0, 2**31 - 1),
    "loop": {"type": "boolean", "default": False},
}
"""How a line sounds. A feel that does not go with a line's meter gives way to the usual one of the meter."""


def sound_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """How it sounds: what is given, and the usual for the rest."""
    return {name: given.get(name, schema.get("default")) for name, schema in SOUND.items()}
