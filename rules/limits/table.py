"""The table of limits, one row a kind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.acceptor import Limit
from everyline.rules.cells import read_parts
from everyline.rules.limits.base import (
    Context,
    Example,
    LimitKind,
    Loosened,
    read_beats,
    read_chord,
    read_degrees,
)
from everyline.rules.limits.fretboard import Playable
from everyline.rules.limits.harmony import (
    AvoidDegrees,
    Landing,
    LastDegree,
    OutsideNotes,
    RequireDegrees,
    StrongBeats,
)
from everyline.rules.limits.melody import (
    Ambitus,
    DirectionChanges,
    ForbidIntervals,
    LargestLeap,
    NoReturn,
    RequireIntervals,
    SinglePeak,
    Standing,
)
from everyline.rules.limits.rhythm import NoteCount, Rests, RhythmPattern
from everyline.rules.limits.target import MustTarget
from everyline.rules.ranges import DEFAULT_SPAN, WIDEST_SPAN, Fretboard
from everyline.rules.schema import FileKey, KeyType

Values = Mapping[str, Any]

WIDEST_INTERVAL = 127
MOST_NOTES = 64

_LEAST = FileKey("least", KeyType.NUMBER, "the fewest allowed", least=0)
_MOST = FileKey("most", KeyType.NUMBER, "the most allowed", least=0)
_CHORD = FileKey("chord", KeyType.CHORD, "the chord meant, wherever it occurs", default_text="every chord")
_INTERVALS = FileKey(
    "intervals",
    KeyType.INTERVALS,
    "intervals in semitones, one after the other; down with a minus",
    required=True,
    least=-WIDEST_INTERVAL,
    most=WIDEST_INTERVAL,
)

_WIDER = Loosened(1, WIDEST_INTERVAL)
_COUNTED = {"most": Loosened(1, 999), "least": Loosened(-1, 0)}


def _semitones(help_text: str) -> FileKey:
    return FileKey("semitones", KeyType.NUMBER, help_text, required=True, least=0, most=WIDEST_INTERVAL)


def _degrees(help_text: str) -> FileKey:
    return FileKey("degrees", KeyType.DEGREES, help_text, required=True)


def _strong_beats(values: Values, context: Context) -> Limit:
    slots = read_beats(values["beats"], "beats", context)
    return StrongBeats(slots, tuple(map(context.progression.beat_name, slots)), context.progression)


def _must_target(values: Values, context: Context) -> MustTarget:
    degree = read_degrees(values, "degree", context)
    beat = None if values["beat"] is None else read_beats(values["beat"], "beat", context)[0]
    (semitones,) = degree.semitones
    return MustTarget(semitones, degree.names[0], read_chord(values, context), beat, context.progression)


def _rhythm(values: Values, context: Context) -> Limit:
    text = " ".join(values["pattern"].split())
    try:
        parts, ticks = read_parts(text, context.progression.meter)
    except InputError as error:
        raise context.where.error("pattern", values["pattern"], str(error)) from None
    sounds = tuple((part.offset, part.length) for part in parts if not part.rest)
    if not sounds:
        raise context.where.error(
            "pattern", values["pattern"], "it has only rests; a rhythm has a note at least"
        )
    return RhythmPattern(text, sounds, ticks, values["least"], values["most"], context.progression)


def _playable(values: Values, context: Context) -> Limit:
    fretboard = Fretboard.of(context.fretted)
    assert fretboard is not None  # Context.fretted is an instrument with strings and frets
    strings = values["strings"] or list(fretboard.strings)
    for string in strings:
        if string not in fretboard.strings:
            raise context.where.error(
                "strings",
                strings,
                f"the {fretboard.name} has strings 1 (the highest) to {len(fretboard.open)}",
            )
    fret = values["fret"]
    if fret is not None and fret > fretboard.frets:
        raise context.where.error("fret", fret, f"the {fretboard.name} has {plural(fretboard.frets, 'fret')}")
    return Playable(fretboard, tuple(sorted(set(strings))), fret, values["span"], context.progression)


ROWS: tuple[LimitKind, ...] = (
    LimitKind(
        "largest-leap",
        "Largest leap",
        "No two neighbouring notes are further apart than this.",
        (_semitones("the widest interval allowed, in semitones"),),
        Example({"kind": "largest-leap", "semitones": 5}, "D4 F4 A4 C5 B4:4", "D4 F4 A4 F5 B4:4"),
        lambda values, context: LargestLeap(values["semitones"], context.progression),
        cost=5,
        loosened={"semitones": _WIDER},
    ),
    LimitKind(
        "ambitus",
        "Ambitus",
        "From the lowest to the highest note is at most this far.",
        (_semitones("the widest compass allowed, in semitones"),),
        Example({"kind": "ambitus", "semitones": 12}, "D4 F4 A4 C5 D5:4", "D4 F4 A4 C5 E5:4"),
        lambda values, context: Ambitus(values["semitones"], context.progression),
        cost=100,
        loosened={"semitones": _WIDER},
    ),
    LimitKind(
        "direction-changes",
        "Changes of direction",
        "The melody turns from up to down or back this many times; a repeated note is no turn.",
        (_LEAST, _MOST),
        Example({"kind": "direction-changes", "most": 1}, "D4 F4 F4 A4 F4 D4", "D4 F4 D4 F4 A4 C5"),
        lambda values, context: DirectionChanges(values["least"], values["most"], context.progression),
        cost=130,
        one_of=("least", "most"),
        loosened=_COUNTED,
    ),
    LimitKind(
        "outside-notes",
        "Outside notes",
        "This many notes are not chord tones of the chord that they sound over.",
        (_LEAST, _MOST),
        Example({"kind": "outside-notes", "most": 1}, "D4 E4 F4 A4 C5 A4", "D4 E4 G4 A4 C5 A4"),
        lambda values, context: OutsideNotes(values["least"], values["most"], context.progression),
        cost=110,
        one_of=("least", "most"),
        loosened=_COUNTED,
    ),
    LimitKind(
        "strong-beats",
        "Chord tones on strong beats",
        "On these beats of every bar the note that sounds is a chord tone.",
        (FileKey("beats", KeyType.BEATS, "the beats meant", required=True),),
        Example({"kind": "strong-beats", "beats": ["1", "3"]}, "D4 E4 F4 G4 A4 F4", "D4 E4 F4 E4 G4 F4"),
        _strong_beats,
        cost=4,
    ),
    LimitKind(
        "avoid-degrees",
        "Avoid degrees",
        "None of these degrees is heard over that chord.",
        (_degrees("the degrees to avoid"), _CHORD),
        Example({"kind": "avoid-degrees", "degrees": ["6"], "chord": "Dm7"}, "D4 F4 A4 C5", "D4 F4 A4 B4"),
        lambda values, context: AvoidDegrees(
            read_degrees(values, "degrees", context), read_chord(values, context), context.progression
        ),
        cost=2,
    ),
    LimitKind(
        "require-degrees",
        "Require degrees",
        "Each of these degrees is heard at least once over that chord.",
        (_degrees("the degrees that must be heard"), _CHORD),
        Example(
            {"kind": "require-degrees", "degrees": ["b3", "b7"], "chord": "Dm7"}, "D4 F4 A4 C5", "D4 F4 A4 D5"
        ),
        lambda values, context: RequireDegrees(
            read_degrees(values, "degrees", context), read_chord(values, context), context.progression
        ),
        cost=7,
    ),
    LimitKind(
        "single-peak",
        "Single peak",
        "The highest pitch is heard only once.",
        (),
        Example({"kind": "single-peak"}, "D4 F4 A4 C5 A4 F4", "D4 C5 A4 C5 A4 F4"),
        lambda _values, context: SinglePeak(context.progression),
        cost=120,
    ),
    LimitKind(
        "no-return",
        "No return",
        "No pitch comes back within this many successive notes.",
        (
            FileKey(
                "notes", KeyType.NUMBER, "how many successive notes", required=True, least=2, most=MOST_NOTES
            ),
        ),
        Example({"kind": "no-return", "notes": 3}, "D4 F4 A4 D4 F4 A4", "D4 F4 D4 A4 C5 A4"),
        lambda values, context: NoReturn(values["notes"], context.progression),
        cost=9,
        loosened={"notes": Loosened(-1, 1)},
    ),
    LimitKind(
        "forbid-intervals",
        "Forbid intervals",
        "This sequence of intervals never occurs in a row.",
        (_INTERVALS,),
        Example({"kind": "forbid-intervals", "intervals": [3, 4, 3]}, "D4 F4 A4 D5", "D4 F4 A4 C5"),
        lambda values, context: ForbidIntervals(tuple(values["intervals"]), context.progression),
        cost=6,
    ),
    LimitKind(
        "require-intervals",
        "Require intervals",
        "This sequence of intervals occurs in a row at least once.",
        (_INTERVALS,),
        Example({"kind": "require-intervals", "intervals": [-1, -1]}, "D4 C5 B4 Bb4", "D4 C5 B4 A4"),
        lambda values, context: RequireIntervals(tuple(values["intervals"]), context.progression),
        cost=8,
    ),
    LimitKind(
        "last-degree",
        "Last degree",
        "The last note is one of these degrees of the last chord.",
        (_degrees("the degrees on which the line may end"),),
        Example(
            {"kind": "last-degree", "degrees": ["3", "5"]},
            "D4 F4 A4 C5 B4 G4 F4 D4 E4:4",
            "D4 F4 A4 C5 B4 G4 F4 D4 C4:4",
            "Dm7 G7 | Cmaj7",
        ),
        lambda values, context: LastDegree(read_degrees(values, "degrees", context), context.progression),
        cost=1,
    ),
    LimitKind(
        "landing",
        "Landing",
        "The first note over each chord, or over that chord, is one of these degrees of it.",
        (_degrees("the degrees on which a chord is entered"), _CHORD),
        Example(
            {"kind": "landing", "degrees": ["3", "7"], "chord": "G7"},
            "D4 F4 A4 C5 B4 G4",
            "D4 F4 A4 C5 D5 B4",
            "Dm7 G7 | Cmaj7",
        ),
        lambda values, context: Landing(
            read_degrees(values, "degrees", context), read_chord(values, context), context.progression
        ),
        cost=3,
    ),
    LimitKind(
        "rhythm",
        "Rhythm",
        "From this many beats on, exactly this rhythm of notes and rests is heard.",
        (
            FileKey("pattern", KeyType.PATTERN, "the rhythm in note values, r for a rest", required=True),
            _LEAST,
            _MOST,
        ),
        Example(
            {"kind": "rhythm", "pattern": "r8 8 4", "least": 1},
            "D4 F4 r8 A4 C5:4",
            "D4 F4 A4:4 C5:4",
        ),
        _rhythm,
        cost=150,
        one_of=("least", "most"),
        loosened=_COUNTED,
    ),
    LimitKind(
        "notes",
        "Number of notes",
        "The line has this many notes.",
        (_LEAST, _MOST),
        Example({"kind": "notes", "most": 5}, "D4 F4 A4 C5 A4", "D4 F4 A4 C5 A4 F4"),
        lambda values, context: NoteCount(values["least"], values["most"], context.progression),
        cost=105,
        one_of=("least", "most"),
        loosened=_COUNTED,
    ),
    LimitKind(
        "rests",
        "Number of rests",
        "There is silence between two notes this many times.",
        (_LEAST, _MOST),
        Example({"kind": "rests", "least": 1}, "D4 F4 r8 C5", "D4 F4 A4 C5"),
        lambda values, context: Rests(values["least"], values["most"], context.progression),
        cost=140,
        one_of=("least", "most"),
        loosened=_COUNTED,
    ),
    LimitKind(
        "standing",
        "No standing still",
        "So many notes in a row always reach over this distance at least.",
        (
            FileKey(
                "notes", KeyType.NUMBER, "how many successive notes", required=True, least=2, most=MOST_NOTES
            ),
            _semitones("the least distance from their lowest to their highest, in semitones"),
        ),
        Example({"kind": "standing", "notes": 4, "semitones": 5}, "D4 F4 A4 F4 D4", "D4 F4 D4 E4 D4"),
        lambda values, context: Standing(values["notes"], values["semitones"], context.progression),
        cost=10,
        loosened={"semitones": Loosened(-1, 0), "notes": Loosened(1, MOST_NOTES)},
    ),
    LimitKind(
        "must-target",
        "Must target",
        "Some approach figure lands on this degree over that chord, on that beat if one is named.",
        (
            FileKey("degree", KeyType.DEGREE, "the degree on which the figure lands", required=True),
            _CHORD,
            FileKey("beat", KeyType.BEAT, "the beat on which it lands", default_text="any beat"),
        ),
        Example(
            {"kind": "must-target", "degree": "5", "chord": "Dm7", "beat": "3"},
            "F4 A4 Bb4 G#4 A4 F4 D4 C4 B3:4",
            "F3 A3 C4 D4 F4 A4 C5 D5 B4:4",
            "Dm7 | G7",
        ),
        _must_target,
        cost=0,
    ),
    LimitKind(
        "playable",
        "Playable in one position",
        "There is one position of the hand in which every note can be fretted.",
        (
            FileKey(
                "strings",
                KeyType.STRINGS,
                "the strings allowed, 1 the highest",
                default_text="all strings",
                least=1,
            ),
            FileKey(
                "fret",
                KeyType.NUMBER,
                "the lowest fret of the position, 0 with open strings",
                default_text="any",
                least=0,
            ),
            FileKey(
                "span",
                KeyType.NUMBER,
                "how many frets the hand covers",
                default=DEFAULT_SPAN,
                least=1,
                most=WIDEST_SPAN,
            ),
        ),
        Example({"kind": "playable", "fret": 5, "span": 4}, "A3 C4 E4 G4 C5", "A3 C4 E4 G4 D5"),
        _playable,
        cost=11,
        loosened={"span": Loosened(1, WIDEST_SPAN)},
        freed={"fret": "playable in any position"},
    ),
)
