"""Vocabulary as text that a teacher can edit, and the loader that reads and checks it.

Approach figures, endings, progressions, instruments and rule files are TOML files in this folder; ``load``
gives them as immutable values, with those of the user's own folder added.
"""

from corpora.corpus import FOLDER_VARIABLE, Corpus, ending_from_table, figure_from_table, load
from corpora.endings import (
    DEFAULT_OVER,
    DEGREE_NAMES,
    PLAIN,
    Ending,
    EndingEvent,
    Note,
    make_ending,
    parse_notes,
)
from corpora.errors import EverylineError, InputError, did_you_mean
from corpora.figures import STEPS, Figure, parse_steps
from corpora.instruments import Instrument
from corpora.loader import REQUIRED, Key, check_table, parse_toml, read_toml, shown
from corpora.progressions import ProgressionEntry
from corpora.rhythm import Beat, Rhythm, format_rhythm, format_value, parse_rhythm, parse_value
from corpora.rulefiles import RuleFileEntry

__all__ = [
    "DEFAULT_OVER",
    "DEGREE_NAMES",
    "FOLDER_VARIABLE",
    "PLAIN",
    "REQUIRED",
    "STEPS",
    "Beat",
    "Corpus",
    "Ending",
    "EndingEvent",
    "EverylineError",
    "Figure",
    "InputError",
    "Instrument",
    "Key",
    "Note",
    "ProgressionEntry",
    "Rhythm",
    "RuleFileEntry",
    "check_table",
    "did_you_mean",
    "ending_from_table",
    "figure_from_table",
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
    "shown",
]
