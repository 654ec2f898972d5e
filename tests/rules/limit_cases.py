"""What the tests of limits share: lines, contexts, and random keys drawn from the table's own key types."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from hypothesis import strategies as st

from everyline import corpora
from everyline.rules.acceptor import Limit, Notes
from everyline.rules.degrees import DEGREES
from everyline.rules.limits import LIMITS, Context, LimitKind, MustTarget, bind_limit
from everyline.rules.line import Event
from everyline.rules.line_text import parse_line
from everyline.rules.progression import Progression, parse_progression
from everyline.rules.ruleset import Rules
from everyline.rules.schema import FileKey, KeyType

CHANGES = (
    ("Dm7 | G7 | Cmaj7", "4/4", 2),
    ("Fm7 Bb7 | Ebmaj7", "4/4", 2),
    ("Dm7 / / G7 | Dm7 G7 | C6", "4/4", 3),
    ("Bm7b5 | E7b9 | Am6", "3/4", 4),
    ("Gm7 | %", "6/8", 2),
)
PATTERNS = ("8", "8 8", "4", "r8 8", "8 r8", "r4 4", "4 r4", "8 r8 8 r8", "4. 8", "8t 8t 8t", "16 16 8", "2")
PITCH_LIMITS = tuple(kind for kind in LIMITS if kind != "must-target")


@cache
def corpus() -> corpora.Corpus:
    return corpora.load()


@cache
def progression(text: str = CHANGES[0][0], meter: str = "4/4", subdivision: int = 2) -> Progression:
    return parse_progression(text, meter, subdivision)


def rules_over(changes: Progression) -> Rules:
    return Rules("", changes, (), frozenset())


def bind(rule: dict[str, Any], changes: Progression) -> Limit:
    """A limit that reads pitches alone."""
    limit = bind_limit(rule, Context(changes, corpus()))
    assert not isinstance(limit, MustTarget)
    return limit


def line(text: str, changes: Progression) -> Notes:
    """A typed line; it starts on beat 1 unless it says otherwise (``@-3``, ``@2&``)."""
    rules = rules_over(changes)
    (events,) = parse_line(text, rules)
    return rules.notes(events)


def accepts(limit: Limit, notes: Notes) -> bool:
    """Whether the acceptor takes the line, read note by note."""
    state = limit.start()
    assert state is not None
    for note in notes:
        after = limit.step(state, note)
        if after is None:
            return False
        hash(after)
        state = after
    return limit.content(state)


_NUMBERS = {
    "semitones": (0, 15),
    "notes": (2, 6),
    "fret": (0, 12),
    "span": (1, 6),
    "least": (0, 6),
    "most": (0, 8),
}


def values(key: FileKey, changes: Progression) -> st.SearchStrategy[Any]:
    """Values that a key may have over these changes; a key of a new type has no strategy and fails here."""
    beats = st.sampled_from([changes.beat_name(slot) for slot in range(changes.slots_per_bar)])
    degrees = st.sampled_from(sorted(DEGREES))
    strategies: dict[KeyType, Callable[[], st.SearchStrategy[Any]]] = {
        KeyType.NUMBER: lambda: st.integers(*_NUMBERS[key.name]),
        KeyType.DEGREE: lambda: degrees,
        KeyType.DEGREES: lambda: st.lists(degrees, min_size=1, max_size=4, unique=True),
        KeyType.CHORD: lambda: st.sampled_from(sorted({chord.symbol for chord in changes.chords})),
        KeyType.BEAT: lambda: beats,
        KeyType.BEATS: lambda: st.lists(beats, min_size=1, max_size=3, unique=True),
        KeyType.INTERVALS: lambda: st.lists(st.integers(-2, 2), min_size=1, max_size=4),
        KeyType.PATTERN: lambda: st.sampled_from(PATTERNS),
        KeyType.STRINGS: lambda: st.lists(st.integers(1, 6), min_size=1, max_size=6, unique=True),
    }
    return strategies[key.type]()


@st.composite
def rule_tables(draw: st.DrawFn, row: LimitKind, changes: Progression) -> dict[str, Any]:
    """A random ``[[limit]]`` of one kind, optional keys now and then left out."""
    table: dict[str, Any] = {"kind": row.kind}
    for key in row.keys:
        if key.required or draw(st.booleans()):
            table[key.name] = draw(values(key, changes))
    if row.one_of and not set(row.one_of) & set(table):
        table[row.one_of[0]] = draw(st.integers(0, 6))
    if table.get("least", 0) > table.get("most", 99):
        table["least"], table["most"] = table["most"], table["least"]
    return table


@st.composite
def melodies(draw: st.DrawFn, changes: Progression) -> tuple[Event, ...]:
    """Any notes in order of time, none overlapping: steps, leaps, long notes, rests, notes between slots."""
    ticks = changes.slot_ticks
    onset = draw(st.integers(1 - changes.slots_per_bar, changes.slots_per_bar)) * ticks
    pitch = draw(st.integers(52, 76))
    events: list[Event] = []
    steps = st.one_of(st.integers(-2, 2), st.integers(-9, 9))
    lengths = st.sampled_from((ticks, ticks, ticks, 2 * ticks, 5 * ticks, 160, 80))
    for _ in range(draw(st.integers(0, 14))):
        length = draw(lengths)
        events.append(Event(onset, pitch, length))
        onset += length + draw(st.sampled_from((0, 0, 0, 0, ticks)))
        pitch += draw(steps)
    return tuple(events)
