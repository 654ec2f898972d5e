"""Every key of a rule file, in one table: what it takes, what stands for it when left out, one line of help.

``SECTIONS`` drives the reading of a file; ``SCHEMA`` is the same by dotted path (``entry.beats``), for
documents and forms. The keys of a limit are in ``everyline.rules.limits.LIMITS``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from everyline.corpora.counted import choice
from everyline.rules.meter import BEAT_VALUES, DOTTED_SUBDIVISIONS, SUBDIVISIONS
from everyline.rules.ranges import DEFAULT_SPAN, WIDEST_SPAN
from everyline.rules.schema import FileKey, KeyType

DEFAULT_RANGE = ("E3", "E5")
"""Lowest and highest pitch where a rule file states no range."""

DIRECTIONS = ("either", "up", "down")
HANDOFFS = ("nearest", "nearest-or-common", "step", "guide", "any")
PASSING_KINDS = ("scale", "chromatic")
PASSING_PLACES = ("off", "any")
MOST_COUNT = 99
WIDEST_REACH = 127


@dataclass(frozen=True, slots=True)
class Section:
    """A table of a rule file. ``name`` is empty for the top; ``many`` marks a table that may repeat."""

    name: str
    help: str
    keys: Mapping[str, FileKey]
    many: bool = False

    @property
    def title(self) -> str:
        """The table as the file spells it: ``[entry]``, ``[[figures]]``; nothing for the top."""
        if not self.name:
            return ""
        return f"[[{self.name}]]" if self.many else f"[{self.name}]"


def _section(name: str, help_text: str, *keys: FileKey, many: bool = False) -> Section:
    return Section(name, help_text, MappingProxyType({key.name: key for key in keys}), many)


_TOP = _section(
    "",
    "what the lines are over",
    FileKey("title", KeyType.TEXT, "what the set of lines is called", default=""),
    FileKey("changes", KeyType.CHANGES, "the chord changes", required=True),
    FileKey("key", KeyType.KEY, "the key: needed for roman numerals, else it only steers spelling"),
    FileKey("meter", KeyType.METER, "the meter", default="4/4"),
    FileKey(
        "beat",
        KeyType.CHOICE,
        "the note value of a beat, for eighths in threes: 4. makes 12/8 four beats of a dotted quarter",
        default_text="the meter's own",
        choices=BEAT_VALUES,
    ),
    FileKey(
        "subdivision",
        KeyType.NUMBER,
        "slots in a beat: 1 quarters, 2 eighths, 3 triplets, 4 sixteenths; in a dotted quarter 3 eighths, 6 "
        "sixteenths",
        default_text="2, or 3 in a dotted quarter",
        least=min(SUBDIVISIONS),
        most=max(SUBDIVISIONS + DOTTED_SUBDIVISIONS),
    ),
    FileKey("own_rules", KeyType.NAMES, "files or names of rules of your own, in Python"),
)

_RANGE = _section(
    "range",
    "which pitches may sound: lowest and highest, or an instrument or a position, which the two narrow",
    FileKey("lowest", KeyType.PITCH, "the lowest pitch", default_text=DEFAULT_RANGE[0]),
    FileKey("highest", KeyType.PITCH, "the highest pitch", default_text=DEFAULT_RANGE[1]),
    FileKey("instrument", KeyType.INSTRUMENT, "an instrument: its comfortable range"),
    FileKey("position", KeyType.NUMBER, "the lowest fret of a position, 0 with open strings", least=0),
    FileKey(
        "strings", KeyType.STRINGS, "the strings allowed, 1 the highest", default_text="all strings", least=1
    ),
    FileKey(
        "span",
        KeyType.NUMBER,
        "how many frets the position covers",
        default_text=str(DEFAULT_SPAN),
        least=1,
        most=WIDEST_SPAN,
    ),
)

_ENTRY = _section(
    "entry",
    "where and on what a line starts",
    FileKey("beats", KeyType.BEATS, "the beats of bar 1 on which it may start", default_text='["1"]'),
    FileKey(
        "pickup",
        KeyType.PICKUPS,
        "how many slots before bar 1 it may start; with rhythm cells, how many halves of a beat",
        least=1,
    ),
    FileKey("start", KeyType.PITCHES, "what the first note may be", default_text="anything"),
    FileKey(
        "degrees",
        KeyType.DEGREES,
        "which degree of the first chord the first note may be",
        default_text="any",
    ),
)

_ARPEGGIO = _section(
    "arpeggio",
    "how chord tones run",
    FileKey("direction", KeyType.CHOICE, "the direction of all runs", default="either", choices=DIRECTIONS),
    FileKey(
        "turns",
        KeyType.NUMBER,
        "changes of direction allowed inside one run",
        default=1,
        least=0,
        most=MOST_COUNT,
    ),
    FileKey(
        "skips",
        KeyType.NUMBER,
        "moves of one run that may pass over a chord tone",
        default=0,
        least=0,
        most=MOST_COUNT,
    ),
)

_PASSING = _section(
    "passing",
    "passing notes between two chord tones",
    FileKey(
        "kinds",
        KeyType.CHOICES,
        "what fills the way: tones of the scale, or semitones",
        default=[],
        choices=PASSING_KINDS,
    ),
    FileKey(
        "place",
        KeyType.CHOICE,
        "where passing notes begin: off the beat, or anywhere",
        default="off",
        choices=PASSING_PLACES,
    ),
    FileKey(
        "count",
        KeyType.COUNTS,
        "how many filled moves begin in each chord, the last entry serving for all later chords",
        default=[f"0-{MOST_COUNT}"],
        least=0,
        most=MOST_COUNT,
    ),
)

_RHYTHM = _section(
    "rhythm",
    "the rhythm of the body, in place of a note on every slot",
    FileKey("cells", KeyType.CELLS, "rhythms of whole beats, in note values, of which the line is made"),
)

_APPROACH = _section(
    "approach",
    "approach figures",
    FileKey(
        "figures",
        KeyType.FIGURES,
        "figures and families of figures",
        default_text="every figure of the catalogue that has both sides",
    ),
    FileKey(
        "count",
        KeyType.COUNTS,
        "how many figures start in each chord, the last entry serving for all later chords",
        default=["0-1"],
        least=0,
        most=MOST_COUNT,
    ),
    FileKey(
        "targets", KeyType.DEGREES, "degrees on which a figure may land", default_text="every chord tone"
    ),
    FileKey(
        "reach",
        KeyType.NUMBER,
        "semitones from the note before to a figure's first note",
        default=7,
        least=0,
        most=WIDEST_REACH,
    ),
    FileKey(
        "after",
        KeyType.NUMBER,
        "chord tones since the last figure, its target included, before another",
        default=1,
        least=0,
        most=MOST_COUNT,
    ),
)

_HANDOFF = _section(
    "handoff",
    "how a line crosses into a new chord",
    FileKey(
        "rule",
        KeyType.CHOICE,
        "which chord tone of the new chord follows",
        default="nearest",
        choices=HANDOFFS,
    ),
)

_ENDING = _section(
    "ending",
    "how a line ends",
    FileKey("use", KeyType.ENDINGS, "endings in use", default_text="plain and every ending that fits"),
    FileKey(
        "lead_in",
        KeyType.NUMBER,
        "semitones from the note before to the ending's first note",
        default=4,
        least=1,
        most=WIDEST_REACH,
    ),
)

_ENDINGS = _section(
    "endings",
    "an ending of this file's own",
    FileKey("name", KeyType.TEXT, "its name", required=True),
    FileKey("notes", KeyType.NOTES, "its notes in degrees, | where the last chord begins", required=True),
    FileKey("rhythm", KeyType.RHYTHM, "its rhythm in note values", default_text="all eighths"),
    FileKey(
        "over", KeyType.QUALITIES, "qualities of the chord before the last", default_text="the dominants"
    ),
    FileKey("colour", KeyType.FLAG, "whether it may rest on a colour tone of the last chord", default=False),
    FileKey("remark", KeyType.TEXT, "a word about it", default=""),
    many=True,
)

_FIGURES = _section(
    "figures",
    "an approach figure of this file's own",
    FileKey("name", KeyType.TEXT, "its name", required=True),
    FileKey("steps", KeyType.STEPS, "its steps from the target: +d -d +1 -1 +2 -2", required=True),
    FileKey("remark", KeyType.TEXT, "a word about it", default=""),
    many=True,
)


def _cost(name: str, default: int, what: str) -> FileKey:
    return FileKey(name, KeyType.NUMBER, f"what {what} costs", default=default, least=0, most=1000)


_ROUGHNESS = _section(
    "roughness",
    "what makes a line rough, for the order from smooth to rough",
    _cost("repeat", 2, "a repeated note"),
    _cost("step", 0, "a step of 1 or 2 semitones"),
    _cost("third", 1, "a third, 3 or 4 semitones"),
    _cost("fifth", 3, "a fourth to a fifth, 5 to 7 semitones"),
    _cost("octave", 6, "a sixth to an octave, 8 to 12 semitones"),
    _cost("wider", 10, "anything wider than an octave"),
    _cost("unfilled", 2, "a leap of 5 semitones or more, on top, unless the line then turns back by 1 to 4"),
)

_SCALES = Section(
    "scales", "chord scale for a chord symbol: its name, or a list of degrees", MappingProxyType({})
)
_LIMIT = Section(
    "limit", "what a teacher adds; each kind has keys of its own", MappingProxyType({}), many=True
)

SECTIONS: Mapping[str, Section] = MappingProxyType(
    {
        section.name: section
        for section in (
            *(_TOP, _SCALES, _RANGE, _ENTRY, _ARPEGGIO, _PASSING, _RHYTHM, _APPROACH, _HANDOFF, _ENDING),
            *(_ENDINGS, _FIGURES, _LIMIT, _ROUGHNESS),
        )
    }
)

SCALE_KEY = FileKey("scale", KeyType.SCALE, "a scale by name, or a list of degrees", required=True)
"""What stands behind each chord symbol in ``[scales]``."""

SCHEMA: Mapping[str, FileKey] = MappingProxyType(
    {
        f"{section.name}.{key.name}".lstrip("."): key
        for section in SECTIONS.values()
        for key in section.keys.values()
    }
)

OPTIONS: Mapping[str, str] = MappingProxyType(
    {
        path.rpartition(".")[2]: path
        for path in SCHEMA
        if not path.startswith(("passing.", "endings.", "figures.", "roughness."))
    }
    | {f"passing_{key}": f"passing.{key}" for key in ("place", "count")}
    | {"passing": "passing.kinds", "handoff": "handoff.rule", "endings": "ending.use"}
)
"""Option names for rules that are given without a file, and the key that each one stands for."""


def _homes() -> dict[str, str]:
    found: dict[str, list[str]] = {}
    for section, _, key in (path.rpartition(".") for path in OPTIONS.values()):
        found.setdefault(key, []).append(
            f"in [{section}]" if section else "at the top of the file, before the first table"
        )
    return {key: choice(places) for key, places in found.items()}


HOMES: Mapping[str, str] = MappingProxyType(_homes())
"""Where each key of a rule file belongs, for one that was written elsewhere."""
