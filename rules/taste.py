"""Taste: which moves a style prefers, as whole-number costs. The strangeness of a line is their sum.

Costs are in sixteenths of a bit (log base 2): a move of cost 32 is thought a quarter as likely as one of
cost 0. Each note from the second on costs what its interval costs after what came before it (melody), and
what its degree costs over its chord (harmony); where a rule file has rhythm cells, each beat costs what its
places of onset cost after those of the beat before (rhythm).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from everyline.corpora.corpus import OWN_FOLDER, TASTES, Corpus
from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.tastes import (
    FAMILIES,
    MOST_COST,
    PLACES_PER_BEAT,
    SUFFIX,
    WIDEST,
    BeatCosts,
    Melody,
    Places,
    Row,
    Statistics,
    TasteEntry,
    read_taste,
)
from everyline.rules.chords import Chord
from everyline.rules.line import TICKS_PER_BEAT, Events

if TYPE_CHECKING:
    from everyline.rules.ruleset import Rules

DEFAULT = "solos"
"""The taste of the corpora that counts unless another is named."""

UNIT = 16
"""Parts of a bit in which costs are counted."""

_TICKS_PER_PLACE = TICKS_PER_BEAT // PLACES_PER_BEAT


@dataclass(frozen=True, eq=False)
class Taste:
    """Costs in sixteenths of a bit, none below 0; and the statistics that they were learned from, if any.

    ``offset`` is taken off what each note costs, for a taste that was fitted: whatever has become cheaper, it
    then prefers no number of notes.

    ``melody`` has, from the most special context to the plainest, the rows of ``Melody`` with all four
    parts, rows with ``before`` and ``on`` alone, and in ``plain_melody`` one row for each of ``on``;
    ``harmony`` a row for each (on, family). A taste without ``rhythm`` charges nothing for it.
    """

    name: str
    melody: Mapping[Melody, Row]
    plain_melody: Mapping[bool, Row]
    harmony: Mapping[tuple[bool, str], Row]
    rhythm: BeatCosts | None = None
    statistics: Statistics | None = None
    offset: int = 0
    title: str = ""
    source: str = ""
    licence: str = ""
    _rows: dict[Melody, Row] = field(default_factory=dict, init=False, repr=False)

    @classmethod
    def of(cls, entry: TasteEntry) -> Taste:
        """The taste that a file holds."""
        return cls(**{each.name: getattr(entry, each.name) for each in fields(entry)})

    @property
    def entry(self) -> TasteEntry:
        """The taste as a file holds it."""
        return TasteEntry(**{each.name: getattr(self, each.name) for each in fields(TasteEntry)})

    def melody_row(self, before: int | None, on: bool, family: str, degree: int) -> Row:
        """The costs of all intervals (clipped, from -12 up) in the most special context that there is."""
        key = Melody(before, on, family, degree)
        found = self._rows.get(key)
        if found is None:
            found = self.melody.get(key) or self.melody.get(Melody(before, on)) or self.plain_melody[on]
            self._rows[key] = found
        return found

    def move_cost(self, move: HeardMove) -> int:
        """What one note costs, from the second on: melody and harmony together."""
        row = self.melody_row(move.before, move.on, move.family_before, move.degree_before)
        return row[move.interval + WIDEST] + self.harmony[move.on, move.family][move.degree] - self.offset

    def beat_cost(self, before: Places | None, places: Places) -> int:
        """What a beat costs after the beat before it (None at the line's first); 0 without a rhythm."""
        return 0 if self.rhythm is None else self.rhythm.cost(before, places)


def load_taste(name: str | Path, corpus: Corpus) -> Taste:
    """A taste by its name in the corpora, or from a file whose name ends in ``.json``. Raises InputError."""
    path = Path(name)
    if path.suffix == SUFFIX or len(path.parts) > 1:
        return Taste.of(read_taste(path))
    if name not in corpus.tastes:
        raise InputError(
            f'there is no taste "{name}"; the corpora have {", ".join(corpus.tastes)}, and a file of your '
            f"own ends in {SUFFIX}.{did_you_mean(str(name), corpus.tastes)}"
        )
    return Taste.of(read_taste(corpus.tastes[str(name)]))


@lru_cache(maxsize=1)
def default_taste() -> Taste:
    """The taste that counts unless another is named. Raises InputError where its file cannot be read."""
    return Taste.of(read_taste(OWN_FOLDER / TASTES / f"{DEFAULT}{SUFFIX}"))


class HeardTone(NamedTuple):
    """What a taste hears of one note: degree (0 to 11) and family of its chord, and whether it is on a
    beat."""

    degree: int
    family: str
    on: bool


class HeardMove(NamedTuple):
    """What a taste hears of a note from the second on. Intervals are signed semitones, clipped.

    ``before`` is the interval before, None for the second note; ``degree_before`` and ``family_before`` are
    those of the note before, the others those of the note itself.
    """

    before: int | None
    interval: int
    on: bool
    family_before: str
    degree_before: int
    family: str
    degree: int


def clipped(interval: int) -> int:
    """An interval (signed semitones), an octave where it is wider."""
    return max(-WIDEST, min(WIDEST, interval))


@lru_cache(maxsize=1024)
def family(chord: Chord) -> str:
    """The family of a chord, by the tones that it names.

    A major third with a minor seventh is dominant, any other major third major. A minor third with a
    diminished fifth is half-diminished where a minor seventh is named, else diminished; any other minor
    third is minor. A chord without a third is dominant, as suspended chords are used, unless it has a major
    seventh.
    """
    names = set(chord.degrees)
    if "3" in names:
        return "dominant" if "b7" in names else "major"
    if "b3" in names:
        if "b5" not in names:
            return "minor"
        return "half-diminished" if "b7" in names else "diminished"
    return "major" if "7" in names else "dominant"


def tone(rules: Rules, event: tuple[int, int, int]) -> HeardTone:
    """What a taste hears of one event of a line."""
    note = rules.note(event)
    return HeardTone(
        note.degree, family(rules.progression.chords[note.chord]), note.onset % TICKS_PER_BEAT == 0
    )


def moves(rules: Rules, events: Events) -> Iterator[HeardMove]:
    """What a taste hears of each note of a line, from the second on."""
    before = None
    tones = [tone(rules, event) for event in events]
    for place in range(1, len(events)):
        last, here = tones[place - 1], tones[place]
        interval = clipped(events[place].pitch - events[place - 1].pitch)
        yield HeardMove(before, interval, here.on, last.family, last.degree, here.family, here.degree)
        before = interval


def beats(rules: Rules, onsets: Sequence[int]) -> Iterator[tuple[Places | None, Places]]:
    """Places of onset of each beat with those of the beat before (None at the first), from the beat that
    holds the entry to the last before the resolution slot. ``onsets`` are a line's, in ticks."""
    before: Places | None = None
    for beat in range(onsets[0] // TICKS_PER_BEAT, -(-rules.resolution_tick // TICKS_PER_BEAT)):
        places = tuple(
            (onset - beat * TICKS_PER_BEAT) // _TICKS_PER_PLACE
            for onset in onsets
            if onset // TICKS_PER_BEAT == beat
        )
        yield before, places
        before = places


def rhythm_cost(rules: Rules, onsets: Sequence[int], taste: Taste) -> int:
    """What the onsets of a line cost; nothing where the rules have no rhythm."""
    if not rules.cells:
        return 0
    return sum(taste.beat_cost(before, places) for before, places in beats(rules, onsets))


def strangeness(rules: Rules, events: Events, taste: Taste) -> int:
    """Strangeness of a line, in sixteenths of a bit: the plain sum of what each move and each beat costs."""
    cost = sum(taste.move_cost(move) for move in moves(rules, events))
    return cost + rhythm_cost(rules, [event.onset for event in events], taste)


__all__ = [
    "DEFAULT",
    "FAMILIES",
    "MOST_COST",
    "PLACES_PER_BEAT",
    "UNIT",
    "WIDEST",
    "BeatCosts",
    "HeardMove",
    "HeardTone",
    "Melody",
    "Places",
    "Row",
    "Statistics",
    "Taste",
    "beats",
    "clipped",
    "default_taste",
    "family",
    "load_taste",
    "moves",
    "rhythm_cost",
    "strangeness",
    "tone",
]
