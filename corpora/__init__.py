"""Vocabulary as text that a teacher can edit, and the loader that reads and checks it.

Approach figures, endings, progressions, instruments and rule files are TOML files in this folder; ``load``
gives them as immutable values, with those of the user's own folder added.
"""

from everyline.corpora.corpus import FOLDER_VARIABLE, Corpus, load
from everyline.corpora.endings import (
    DEFAULT_OVER,
    DEGREE_NAMES,
    PLAIN,
    Ending,
    EndingEvent,
    EndingNote,
    make_ending,
    parse_notes,
)
from everyline.corpora.errors import EverylineError, InputError, did_you_mean
from everyline.corpora.figures import STEPS, Family, Figure, parse_steps
from everyline.corpora.instruments import Instrument
from everyline.corpora.loader import parse_toml, read_toml
from everyline.corpora.note_lengths import (
    Beat,
    Rhythm,
    format_rhythm,
    format_value,
    parse_rhythm,
    parse_value,
)
from everyline.corpora.progressions import ProgressionEntry
from everyline.corpora.rulefiles import RuleFileEntry

__all__ = [
    "DEFAULT_OVER",
    "DEGREE_NAMES",
    "FOLDER_VARIABLE",
    "PLAIN",
    "STEPS",
    "Beat",
    "Corpus",
    "Ending",
    "EndingEvent",
    "EndingNote",
    "EverylineError",
    "Family",
    "Figure",
    "InputError",
    "Instrument",
    "ProgressionEntry",
    "Rhythm",
    "RuleFileEntry",
    "did_you_mean",
    "format_rhythm",
    "format_value",
    "load",
    "make_ending",
    "parse_notes",
    "parse_rhythm",
    "parse_steps",
    "parse_toml",
    "parse_value",
    "read_toml",
]
