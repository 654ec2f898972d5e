"""A complete, resolved set of rules: everything that a set of lines depends on, as one immutable value."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from everyline.corpora import Figure, Instrument
from everyline.rules.acceptor import Limit, Notes
from everyline.rules.ladder import figure_pitches
from everyline.rules.line import TICKS_PER_BEAT, Event, Events, Note
from everyline.rules.pitch import HIGHEST, LOWEST
from everyline.rules.progression import Progression
from everyline.rules.spelling import spell

if TYPE_CHECKING:
    from everyline.rules.endings import PlacedEnding
    from everyline.rules.limits.target import MustTarget
    from everyline.rules.own import WholeLineRule
    from everyline.rules.readings import Readings

Sounds = tuple[tuple[int, int, int], ...]
"""Of some notes: onset, length, pitch class."""


@dataclass(frozen=True, slots=True)
class Position:
    """A fretboard position: the lowest fret, the strings (1 is the highest) and how many frets the hand
    spans."""

    fret: int | None
    strings: tuple[int, ...]
    span: int = 5


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a line may start: slots (negative for a pickup), first pitches, degrees of the first chord.

    ``any_octave`` are the pitch classes of first notes named without an octave: in the range of the rules
    they are among the ``pitches``, in a wider one there are more of them. ``with_octave`` are the pitches
    named with one.
    """

    slots: tuple[int, ...] = (0,)
    pitches: frozenset[int] | None = None
    degrees: frozenset[int] | None = None
    any_octave: frozenset[int] = frozenset()
    with_octave: frozenset[int] = frozenset()

    def allows(self, pitch: int, root_class: int) -> bool:
        """Whether a line may begin with this pitch over a first chord on this root."""
        if self.pitches is not None and pitch not in self.pitches and pitch % 12 not in self.any_octave:
            return False
        return self.degrees is None or (pitch - root_class) % 12 in self.degrees


@dataclass(frozen=True, slots=True)
class Arpeggio:
    """How chord tones run: ``direction`` is up, down or either; in one run there may be ``turns`` changes of
    direction and ``skips`` moves that pass over one rung."""

    direction: str = "either"
    turns: int = 1
    skips: int = 0

    @property
    def directions(self) -> tuple[int, ...]:
        """The directions in which a run may move: 1 up, -1 down."""
        return {"up": (1,), "down": (-1,), "either": (1, -1)}[self.direction]


@dataclass(frozen=True, slots=True)
class Approach:
    """Approach figures: which, how many may start in each chord, on what they land, how they begin.

    ``count`` holds (least, most) per chord, the last pair serving for all later chords; ``targets`` degrees
    in semitones above the target's chord, or None for every chord tone; ``reach`` semitones; ``after``
    chord tones.
    """

    figures: tuple[Figure, ...] = ()
    count: tuple[tuple[int, int], ...] = ((0, 1),)
    targets: frozenset[int] | None = None
    reach: int = 7
    after: int = 1

    def bounds(self, chord: int) -> tuple[int, int]:
        """The least and the most figures that may start in a chord."""
        return self.count[min(chord, len(self.count) - 1)]


@dataclass(frozen=True, slots=True)
class Passing:
    """Moves filled with passing notes.

    ``kinds`` are ``scale`` and ``chromatic``; ``place`` is ``off`` (no passing note begins on a beat) or
    ``any``; ``count`` holds (least, most) filled moves that may begin in each chord, the last pair serving
    for all later chords.
    """

    kinds: tuple[str, ...] = ()
    place: str = "off"
    count: tuple[tuple[int, int], ...] = ((0, 99),)

    def bounds(self, chord: int) -> tuple[int, int]:
        """The least and the most filled moves that may begin in a chord."""
        return self.count[min(chord, len(self.count) - 1)]


class CellPart(NamedTuple):
    """One note or rest of a rhythm cell: ticks from the cell's beginning, length in ticks."""

    offset: int
    length: int
    rest: bool


@dataclass(frozen=True, slots=True)
class Cell:
    """A rhythm of whole beats, with a note at least. ``text`` is its notation, ``ticks`` its length."""

    text: str
    ticks: int
    parts: tuple[CellPart, ...]


@dataclass(frozen=True, slots=True)
class Weights:
    """What roughness charges: per size of interval, and for a leap that is not filled.

    ``bands`` are (largest interval in semitones, cost), in rising order; wider intervals cost ``beyond``.
    An interval of ``leap`` or more costs ``unfilled`` on top unless the next moves 1 to ``fill`` semitones
    the other way.
    """

    bands: tuple[tuple[int, int], ...] = ((0, 2), (2, 0), (4, 1), (7, 3), (12, 6))
    beyond: int = 10
    leap: int = 5
    unfilled: int = 2
    fill: int = 4


@dataclass(frozen=True)
class Rules:
    """Everything that a set of lines depends on. Pitches are sounding MIDI numbers.

    ``cells`` are the rhythm of the body; none of them means a note on every slot.
    ``scales`` gives, for each chord of the progression, its chord scale in semitones above the root.
    ``pitches`` is the range: every pitch that may sound; ``range_ends`` are the pitches that narrow it where
    it is an instrument's or a position's. ``endings`` are the stock endings in use, already
    placed on these changes; ``plain`` says whether the ending without a stock figure is in use. ``limits``
    are the acceptors that read pitches and slots alone; ``must_targets`` are met within one single
    analysis; ``filters`` are whole-line rules in Python, asked of every line by itself. ``source`` is the
    rule file's text in canonical form, whose fingerprint names the set of lines.
    """

    title: str
    progression: Progression
    scales: tuple[tuple[int, ...], ...]
    pitches: frozenset[int]
    entry: Entry = field(default_factory=Entry)
    arpeggio: Arpeggio = field(default_factory=Arpeggio)
    approach: Approach = field(default_factory=Approach)
    passing: Passing = field(default_factory=Passing)
    cells: tuple[Cell, ...] = ()
    handoff: str = "nearest"
    endings: tuple[PlacedEnding, ...] = ()
    plain: bool = True
    lead_in: int = 4
    limits: tuple[Limit, ...] = ()
    must_targets: tuple[MustTarget, ...] = ()
    filters: tuple[WholeLineRule, ...] = ()
    weights: Weights = field(default_factory=Weights)
    key: str | None = None
    range_text: str = ""
    range_ends: tuple[int, int] = (LOWEST, HIGHEST)
    instrument: Instrument | None = None
    position: Position | None = None
    source: str = ""

    @property
    def slot_ticks(self) -> int:
        """Ticks in one slot."""
        return TICKS_PER_BEAT // self.progression.subdivision

    @property
    def resolution_tick(self) -> int:
        """The tick of the resolution slot."""
        return self.progression.resolution * self.slot_ticks

    @cached_property
    def readings(self) -> Readings:
        """What the anatomy allows, reading by reading; worked out as lines are looked at."""
        from everyline.rules.anatomy import Anatomy  # the anatomy is made from these rules
        from everyline.rules.readings import Readings

        return Readings(Anatomy(self))

    def __getstate__(self) -> dict[str, Any]:
        """The rules alone: what was worked out from them is worked out again where they arrive."""
        return {each.name: getattr(self, each.name) for each in fields(self)}

    @cached_property
    def _figures_with(self) -> dict[tuple[int, tuple[int, ...]], tuple[Figure, ...]]:
        return {}

    def figures_with(self, chord: int, notes: tuple[int, ...]) -> tuple[Figure, ...]:
        """The approach figures in use that have these notes, the last of them their target over a chord (by
        index), in the order of the file."""
        found = self._figures_with.get((chord, notes))
        if found is None:
            *played, target = notes
            root, scale = self.progression.chords[chord].root_class, self.scales[chord]
            found = self._figures_with[chord, notes] = tuple(
                figure
                for figure in self.approach.figures
                if len(figure.steps) == len(played)
                and figure_pitches(figure.steps, target, root, scale) == tuple(played)
            )
        return found

    @cached_property
    def _ending_sounds(self) -> dict[int, dict[Sounds, tuple[PlacedEnding, ...]]]:
        found: dict[int, dict[Sounds, tuple[PlacedEnding, ...]]] = {}
        for ending in self.endings:
            sounds = tuple([(note.onset, note.length, note.pitch_class) for note in ending.notes])
            alike = found.setdefault(len(sounds), {})
            alike[sounds] = (*alike.get(sounds, ()), ending)
        return found

    def endings_like(self, events: Events) -> list[PlacedEnding]:
        """The stock endings, in their order, that the last notes of a line are like but for octaves."""
        sounds = tuple([(onset, length, pitch % 12) for onset, pitch, length in events])
        found: list[PlacedEnding] = []
        for length, alike in self._ending_sounds.items():
            found.extend(alike.get(sounds[-length:], ()))
        return found if len(found) < 2 else [ending for ending in self.endings if ending in found]

    @cached_property
    def _called(self) -> dict[tuple[int, int], tuple[str, str]]:
        return {}

    def called(self, note: Note) -> tuple[str, str]:
        """What a note is called by the chord that holds at it: (spelled pitch, degree)."""
        key = (note.chord, note.pitch)
        found = self._called.get(key)
        if found is None:
            chord, scale = self.progression.chords[note.chord], self.scales[note.chord]
            found = (spell(note.pitch, chord, scale, self.key), chord.degree_of(note.pitch))
            self._called[key] = found
        return found

    @cached_property
    def _notes(self) -> dict[tuple[int, int, int], Note]:
        return {}

    def note(self, event: tuple[int, int, int]) -> Note:
        """The event with the slot, chord and degree it falls on (one shared value for equal events)."""
        known = self._notes.get(event)
        if known is None:
            onset, pitch, length = event
            slot = onset // self.slot_ticks
            index = self.progression.chord_index(slot)
            chord = self.progression.chords[index]
            degree = (pitch - chord.root_class) % 12
            known = Note(onset, pitch, length, slot, index, degree, degree in chord.tones)
            self._notes[event] = known
        return known

    def notes(self, events: tuple[Event, ...] | tuple[tuple[int, int, int], ...]) -> Notes:
        """A whole line, each event with its place in the progression."""
        return tuple(self.note(event) for event in events)
