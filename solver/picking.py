"""Choosing a few lines to hand out: the least strange that are unlike each other.

Two lines are *near* when one is an octave copy of the other, when they have the same first bar, when they
are the same in all but the ending, or when more than half of their notes are the same; octaves do not count
in any of these. Lines that stand still, or that arrive on most new chords without their third or seventh,
are taken only where there are too few others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice, pairwise
from typing import TYPE_CHECKING

from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.ruleset import Rules

if TYPE_CHECKING:
    from everyline.solver.strange import Strange

MOST_PICKED = 8
"""How many lines are chosen unless another number is asked for."""

POOL = 400
"""How many lines are drawn to choose from, unless more are asked for."""

FOR_EACH = 4
"""How many lines are drawn for each that is asked for, at least."""

MOST_DRAWN = 4000
"""How many lines are drawn at most before a choice makes do with what there is."""

STILL_NOTES, STILL_SEMITONES = 8, 4
"""A line stands still where so many notes in a row lie within so many semitones."""


@dataclass(frozen=True)
class Look:
    """A line as it is compared with others: pitch classes at onsets."""

    rules: Rules
    line: Strange

    @cached_property
    def notes(self) -> dict[int, int]:
        """The pitch class at each onset."""
        return {onset: pitch % 12 for onset, pitch, _ in self.line.events}

    @cached_property
    def first_bar(self) -> tuple[tuple[int, int], ...]:
        """Onsets and pitch classes of the first whole bar in which a note begins; a pickup is left out."""
        bar = self.rules.progression.beats_per_bar * TICKS_PER_BEAT
        first = next((onset // bar for onset in self.notes if onset >= 0), -1)
        return tuple((onset, pitch) for onset, pitch in self.notes.items() if onset // bar == first)

    @cached_property
    def body_ends(self) -> int:
        """The tick at which the ending begins; where the last notes are like several, the longest of them."""
        events = self.line.events
        longest = max((len(ending.notes) for ending in self.rules.endings_like(events)), default=1)
        return events[-longest].onset

    @cached_property
    def ending(self) -> tuple[tuple[int, int], ...]:
        """Onsets and pitch classes of the ending."""
        return tuple(each for each in self.notes.items() if each[0] >= self.body_ends)

    @cached_property
    def is_good(self) -> bool:
        """Whether it moves on, and meets half of the new chords on their third or seventh."""
        events = self.line.events
        met, of = guide_arrivals(self.rules, events)
        return not stands_still(events) and 2 * met >= of

    def is_near(self, other: Look) -> bool:
        """Whether the two are too much alike for one choice."""
        if self.is_copy(other):
            return True
        same = sum(other.notes.get(onset) == pitch for onset, pitch in self.notes.items())
        return 2 * same > len(self.notes.keys() | other.notes.keys())

    def is_copy(self, other: Look) -> bool:
        """Whether they are the same in the first bar, or in all but the ending; an octave copy is both."""
        if self.first_bar == other.first_bar:
            return True
        beyond = min(self.body_ends, other.body_ends)
        body, its = (
            {onset: pitch for onset, pitch in look.notes.items() if onset < beyond} for look in (self, other)
        )
        return bool(body) and body == its


@dataclass(frozen=True, slots=True)
class Pick:
    """Lines chosen, the least strange first, and how many were drawn to choose from; ``whole`` says that
    these were all there are."""

    lines: tuple[Strange, ...]
    drawn: int
    whole: bool


def pick(
    rules: Rules,
    drawn: Iterable[Strange],
    most: int,
    pool: int | None = None,
    before: Iterable[Strange] = (),
) -> Pick:
    """The ``most`` least strange lines that are unlike each other, out of lines drawn by taste.

    ``drawn`` gives distinct lines in the order in which they are drawn; ``pool`` are taken (POOL, or
    FOR_EACH for each line asked for), and more, up to MOST_DRAWN, while there are too few good ones among
    them. Fewer than ``most`` are chosen where the pool has no more that are no copies of each other. Lines
    that were handed out ``before`` count as chosen already, but for their endings.
    """
    handed_out = [Look(rules, line) for line in before]
    source = iter(drawn)
    size = max(POOL, FOR_EACH * most) if pool is None else pool
    looks = [Look(rules, line) for line in islice(source, size)]
    whole = len(looks) < size
    while not whole and pool is None and len(looks) < MOST_DRAWN and _good(looks, most, handed_out) < most:
        more = [Look(rules, line) for line in islice(source, len(looks))]
        whole = len(more) < len(looks)
        looks += more
    return Pick(tuple(sorted(look.line for look in _chosen(looks, most, handed_out))), len(looks), whole)


def in_turn(rules: Rules, drawn: Iterable[Strange]) -> Iterator[Strange]:
    """All lines of a pool: first those that are unlike each other, then those that are no copies of them,
    then the rest, each time the least strange first."""
    looks = [Look(rules, line) for line in drawn]
    found = [look.line for look in _chosen(looks, len(looks))]
    yield from found
    yield from sorted({look.line for look in looks} - set(found))


def _chosen(looks: Sequence[Look], most: int, before: Sequence[Look] = ()) -> list[Look]:
    """Lines one after another, the least strange first: good ones of which no two are near or end alike, then
    any that are not near, then any that are no copies, and last those that are less good."""
    good = [look for look in looks if look.is_good]
    found = list(before)
    most += len(found)
    endings: set[tuple[tuple[int, int], ...]] = set()
    for look in sorted(good, key=lambda look: look.line):
        if len(found) < most and look.ending not in endings and not _any_near(look, found):
            found.append(look)
            if len(look.ending) > 1:
                endings.add(look.ending)
    _fill(found, good, most, _any_near)
    _fill(found, good, most, _any_copy)
    _fill(found, looks, most, _any_copy)
    return found[len(before) :]


def _fill(
    found: list[Look], looks: Sequence[Look], most: int, alike: Callable[[Look, Sequence[Look]], bool]
) -> None:
    for look in sorted(looks, key=lambda look: look.line):
        if len(found) >= most:
            return
        if not alike(look, found):
            found.append(look)


def _any_near(look: Look, others: Sequence[Look]) -> bool:
    return any(look.is_near(other) for other in others)


def _any_copy(look: Look, others: Sequence[Look]) -> bool:
    return any(look.is_copy(other) for other in others)


def _good(looks: Sequence[Look], most: int, before: Sequence[Look]) -> int:
    """How many good lines, up to ``most``, are near neither each other nor those before."""
    found = list(before)
    _fill(found, [look for look in looks if look.is_good], most + len(before), _any_near)
    return len(found) - len(before)


def stands_still(events: Events, notes: int = STILL_NOTES, semitones: int = STILL_SEMITONES) -> bool:
    """Whether some notes in a row lie within some semitones."""
    pitches = [event.pitch for event in events]
    return any(max(part) - min(part) <= semitones for part in _windows(pitches, notes))


def _windows(pitches: Sequence[int], size: int) -> Iterator[Sequence[int]]:
    return (pitches[first : first + size] for first in range(len(pitches) - size + 1))


def guide_arrivals(rules: Rules, events: Events) -> tuple[int, int]:
    """(how many new chords a line meets on their third or seventh, how many it meets)."""
    met = of = 0
    notes = rules.notes(events)
    for before, note in pairwise(notes):
        if note.chord != before.chord:
            chord = rules.progression.chords[note.chord]
            names = dict(zip(chord.tones, chord.degrees, strict=True))
            met += names.get(note.degree, "")[-1:] in ("3", "7")
            of += 1
    return met, of
