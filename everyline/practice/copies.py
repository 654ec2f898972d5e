"""When two lines are copies of each other, for a student who is to have none twice.

A copy by octave or key has the same rhythm at the same place in the changes, the same intervals from note
to note, and every note as many semitones above the root of its chord. So a line an octave higher is a copy,
and so is the line over the same changes in another key; what the chords are called besides (``Cmaj7``,
``C6``) does not matter. A line that begins elsewhere in the changes, turns elsewhere or is held longer is
another line.
"""

from __future__ import annotations

import hashlib
import json
from itertools import pairwise

from everyline.rules.line import Events
from everyline.rules.ruleset import Rules

MARK = 16
"""Hexadecimal digits of a mark: 64 bits, in which no two of millions of lines meet by chance."""


def tune(rules: Rules, events: Events) -> str:
    """The mark that a line has in common with its copies, and with no other line."""
    notes = rules.notes(events)
    heard = {
        "rhythm": [[note.onset, note.length] for note in notes],
        "intervals": [after.pitch - before.pitch for before, after in pairwise(notes)],
        "above the root": [note.degree for note in notes],
    }
    return mark(json.dumps(heard, sort_keys=True))


def mark(text: str) -> str:
    """A short name for a text: the beginning of its SHA-256 in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:MARK]


def line_id(fingerprint: str, notes: str) -> str:
    """What names a line in every copy of a folder: equal notes under equal rules have one id."""
    return mark(f"{fingerprint}\n{notes}")
