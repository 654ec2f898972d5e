"""Words for print: accidentals of note names, chords and degrees as musical signs."""

from __future__ import annotations

import re

from everyline.paper.kinds import music_signs

# A note, alone, with an octave or as the root of a chord symbol; a degree with an accidental before it.
_NOTE = re.compile(r"(?<![A-Za-z0-9#♯♭])([A-G])(bb|##|b|#)(?=[^a-z]|m|maj|dim|aug|sus|alt|add|$)")
_DEGREE = re.compile(r"(?<![A-Za-z])(bb|b|#)(?=\d)")
_SIGNS = {"b": "♭", "#": "♯"}


def readable(text: str) -> str:
    """The text with printed accidentals where a note name, a chord or a degree is meant.

    >>> readable("Bb4 is the b7 of C7b9, a half step above A4")
    'B♭4 is the ♭7 of C7♭9, a half step above A4'
    """
    text = _NOTE.sub(lambda found: found[1] + "".join(_SIGNS[sign] for sign in found[2]), text)
    text = _DEGREE.sub(lambda found: "".join(_SIGNS[sign] for sign in found[1]), text)
    return re.sub(r"[A-G][♭♯]?[^\s,;]*\d[^\s,;]*", lambda found: music_signs(found[0]), text)
