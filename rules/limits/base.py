"""What every limit shares: its row in the table, what it is bound to, and how it names a note."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from everyline.corpora.counted import form, plural
from everyline.corpora.errors import InputError
from everyline.rules.acceptor import Limit, Notes
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.degrees import parse_degree
from everyline.rules.line import Note
from everyline.rules.progression import Progression
from everyline.rules.roman import is_roman, roman_to_chord
from everyline.rules.schema import FileKey, Where, check_table, listed
from everyline.rules.spelling import spell

if TYPE_CHECKING:
    from everyline.corpora import Corpus, Instrument
    from everyline.rules.limits.target import MustTarget

SEMITONES = 12
_NO_NAMES: Mapping[Note, str] = {}
_NAMES: ContextVar[Mapping[Note, str]] = ContextVar(
    "names of the notes that are spoken of", default=_NO_NAMES
)

OWN_COST = 50
"""What a teacher's own rule costs: more than a limit that remembers little, less than one with much."""


class Loosened(NamedTuple):
    """How a number admits more: its step, 1 or -1, and how far that goes."""

    step: int
    end: int


@dataclass(frozen=True)
class Context:
    """What a limit is bound to: changes, corpus, the rule file's instrument, the place in the file."""

    progression: Progression
    corpus: Corpus | None = None
    instrument: Instrument | None = None
    where: Where = field(default_factory=lambda: Where("rule file"))

    @cached_property
    def fretted(self) -> Instrument:
        """The rule file's own instrument where it has strings and frets, else the corpus's guitar."""
        if self.instrument is not None and self.instrument.strings and self.instrument.frets:
            return self.instrument
        if self.corpus is None:
            raise InputError(
                f"{self.where}: a fretboard is needed; name a fretted instrument in [range] of the rule file."
            )
        return self.corpus.instruments["guitar"]


@dataclass(frozen=True, slots=True)
class ChordSet:
    """The occurrences of a chord in the changes: chord indices, and the symbol (None: every chord)."""

    indices: frozenset[int]
    symbol: str | None = None

    def __contains__(self, index: int) -> bool:
        return index in self.indices

    @property
    def over(self) -> str:
        """For a sentence: `` over G7``, or nothing where every chord is meant."""
        return f" over {self.symbol}" if self.symbol is not None else ""


@dataclass(frozen=True, slots=True)
class DegreeSet:
    """Degrees as written, with their semitones above the root."""

    names: tuple[str, ...]
    semitones: frozenset[int]

    @classmethod
    def of(cls, names: tuple[str, ...] | list[str]) -> DegreeSet:
        """Degrees from their names; two names of one tone (``#4`` and ``b5``) are kept as written."""
        return cls(tuple(names), frozenset(parse_degree(name) for name in names))

    def name(self, degree: int) -> str:
        """The degree as the rule file wrote it."""
        return next(name for name in self.names if parse_degree(name) == degree)


@dataclass(frozen=True, slots=True)
class Example:
    """A rule as a file writes it, with a line that meets it and one that breaks it.

    Lines are in the notation of the command line (``D4 F4 A4 C5``, eighths unless marked) and start on beat
    1 of bar 1 of ``changes``. For must-target they are lines whose figure does or does not land as asked.
    """

    rule: Mapping[str, Any]
    meets: str
    breaks: str
    changes: str = "Dm7 | G7 | Cmaj7"


@dataclass(frozen=True, slots=True)
class LimitKind:
    """One row of the table of limits: everything that a file, an error, a listing or a form needs to know.

    ``cost`` ranks how much a limit has to remember of a line: limits are joined from the lightest on, so
    that the first thin the lines for the others. ``loosened`` says of numbers how they admit more, ``freed``
    of keys that may be left out to that end what the limit then is, in words.
    """

    kind: str
    title: str
    summary: str
    keys: tuple[FileKey, ...]
    example: Example
    build: Callable[[Mapping[str, Any], Context], Limit | MustTarget]
    cost: int
    one_of: tuple[str, ...] = ()
    loosened: Mapping[str, Loosened] = field(default_factory=dict)
    freed: Mapping[str, str] = field(default_factory=dict)

    def bind(self, table: Mapping[str, Any], context: Context) -> Limit | MustTarget:
        """The limit for these changes, from a ``[[limit]]`` table.

        Raises InputError, with the place, the key, the value and what is allowed.
        """
        values = check_table(table, {key.name: key for key in self.keys}, context.where, also=("kind",))
        if self.one_of and all(values[name] is None for name in self.one_of):
            raise context.where.complaint(f"it needs {' or '.join(self.one_of)}, or both")
        least, most = values.get("least"), values.get("most")
        if least is not None and most is not None and least > most:
            raise context.where.error(
                "least", least, f"it is above most = {most}, so nothing is within; swap them"
            )
        return self.build(values, context)


def read_degrees(values: Mapping[str, Any], name: str, context: Context) -> DegreeSet:
    """The degrees under a key; raises InputError for one that does not exist."""
    written = values[name]
    try:
        return DegreeSet.of([written] if isinstance(written, str) else written)
    except InputError as error:
        raise context.where.error(name, written, str(error)) from None


def read_chord(values: Mapping[str, Any], context: Context) -> ChordSet:
    """Where the chord under ``chord`` occurs; every chord when none is named.

    A chord is itself however it is spelled (Dm7, D-7). With a key a roman numeral is read too. Raises
    InputError for a chord that does not occur in the changes, naming those that do.
    """
    written, chords = values["chord"], context.progression.chords
    if written is None:
        return ChordSet(frozenset(range(len(chords))))
    try:
        wanted = _chord(written, context)
    except InputError as error:
        raise context.where.error("chord", written, str(error)) from None
    indices = frozenset(index for index, chord in enumerate(chords) if chord.key == wanted.key)
    if not indices:
        there = listed(dict.fromkeys(chord.symbol for chord in chords))
        raise context.where.error("chord", written, f"this chord is not in the changes, which hold {there}")
    return ChordSet(indices, chords[min(indices)].symbol)


def _chord(written: str, context: Context) -> Chord:
    key = context.progression.key
    return roman_to_chord(written, key) if key is not None and is_roman(written) else parse_chord(written)


def read_beats(written: Any, name: str, context: Context) -> tuple[int, ...]:
    """Beats of a bar (text or number) as slots within the bar. Raises InputError for no such beat."""
    beats = written if isinstance(written, list) else [written]
    try:
        return tuple(sorted({context.progression.parse_beat(str(beat)) for beat in beats}))
    except InputError as error:
        raise context.where.error(name, written, str(error)) from None


def place(progression: Progression, onset: int) -> str:
    """Bar and beat of a tick, for a sentence: ``bar 2, beat 3&``; bar 0 is the pickup."""
    slot, rest = divmod(onset, progression.slot_ticks)
    words = progression.place(slot)
    return f"just after {words}" if rest else words


@contextmanager
def calling(notes: Notes, names: Sequence[str]) -> Iterator[None]:
    """Sentences made inside call the notes of a line by these names, as they are written on the staff."""
    token = _NAMES.set(dict(zip(notes, names, strict=True)))
    try:
        yield
    finally:
        _NAMES.reset(token)


def note_name(progression: Progression, note: Note) -> str:
    """A note's name in the line that is spoken of, else as it is spelled over its chord: ``Ab4``."""
    return _NAMES.get().get(note) or spell(note.pitch, progression.chords[note.chord], key=progression.key)


def named(progression: Progression, note: Note) -> str:
    """A note with its place, for a sentence: ``Ab4 (bar 2, beat 3&)``."""
    return f"{note_name(progression, note)} ({place(progression, note.onset)})"


def within(least: int | None, most: int | None, word: str) -> str:
    """A range of counts in words: ``at least 2 notes``, ``2 to 4 notes``, ``no note``."""
    if not least:
        if most is None:
            return f"any number of {word}s"
        return f"no {word}" if most == 0 else f"at most {plural(most, word)}"
    if most is None:
        return f"at least {plural(least, word)}"
    return f"exactly {plural(least, word)}" if least == most else f"{least} to {plural(most, word)}"


def times(least: int | None, most: int | None) -> str:
    """How often, in words: ``at most once``, ``2 to 4 times``, ``never``."""
    words = within(least, most, "time").replace("no time", "never")
    return words.replace("1 time", "once") if words.endswith("1 time") else words


def on_strings(strings: tuple[int, ...]) -> str:
    """Strings in words: ``string 2``, ``strings 1, 2 and 3``."""
    return f"{form(len(strings), 'string')} {listed(strings)}"
