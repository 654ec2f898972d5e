"""Conditions on where a line starts and which pitches may sound: entry, range, position on the neck."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from everyline.corpora.counted import plural
from everyline.rules.ranges import WIDEST_SPAN, Fretboard, span
from everyline.rules.ruleset import Entry, Position, Rules
from everyline.rules.schema import listed
from everyline.rules.spelling import spell
from everyline.solver.condition import MOST_STEPS, Condition, Loosening, OtherValue

OCTAVE = 12
"""Dropping the range gives an octave more on either side; wider than that no teacher means it."""
SHIFTS = (-1, 1, -2, 2, -3, 3)
"""How many frets further up the neck another position is looked for."""
WIDER = (1, 2)
"""How many frets more the hand may span."""
_NO_PLACE = {"range.instrument": None, "range.position": None, "range.strings": None, "range.span": None}


def or_listed(names: Iterable[str]) -> str:
    """Names as one English list of alternatives."""
    return " or".join(listed(names).rsplit(" and", 1))


def _entered(rules: Rules, **values: Any) -> Rules:
    return replace(rules, entry=replace(rules.entry, **values))


def entry_conditions(rules: Rules) -> Iterator[Condition]:
    """Beats, first notes and their degrees."""
    entry, progression = rules.entry, rules.progression
    chord = progression.chords[0]
    # A file names beats of bar 1.
    beats = range(min(progression.starts[1], progression.slots_per_bar))
    open_slots = tuple(sorted({*entry.slots, *beats}))
    here = [progression.beat_name(slot) for slot in entry.slots if slot in beats]
    if open_slots != entry.slots:
        yield Condition(
            "entry.beats",
            f"the line starts on {listed(_entry_beat(rules, slot) for slot in entry.slots)}",
            partial(_entered, slots=open_slots),
            {"entry.beats": [progression.beat_name(slot) for slot in beats]},
            default=entry.slots == Entry().slots,
            choices=tuple(
                OtherValue(
                    f"also start on {_entry_beat(rules, slot)}",
                    partial(_entered, slots=tuple(sorted((*entry.slots, slot)))),
                    {"entry.beats": [*here, progression.beat_name(slot)]},
                )
                for slot in open_slots
                if slot not in entry.slots
            ),
        )
    if entry.pitches is not None:
        names = [spell(pitch, chord, rules.scales[0], rules.key) for pitch in sorted(entry.pitches)]
        words = f"the first note is {or_listed(names)}"
        yield Condition("entry.start", words, partial(_entered, pitches=None), {"entry.start": None})
    if entry.degrees is not None:
        degrees = [chord.degree_of(chord.root_class + degree) for degree in sorted(entry.degrees)]
        words = f"the first note is the {or_listed(degrees)} of {chord.symbol}"
        yield Condition("entry.degrees", words, partial(_entered, degrees=None), {"entry.degrees": None})


def _entry_beat(rules: Rules, slot: int) -> str:
    if slot < 0:
        return f"a pickup of {plural(-slot, 'slot')}"
    return f"beat {rules.progression.beat_name(slot)}"


def range_conditions(rules: Rules) -> Iterator[Condition]:
    """The range as a whole; it gives way by semitones or, on the neck, by frets."""
    low, high = min(rules.pitches), max(rules.pitches)
    lowest, highest = max(0, low - OCTAVE), min(127, high + OCTAVE)

    def with_pitches(changed: Rules, low: int, high: int) -> Rules:
        return replace(changed, pitches=frozenset(range(low, high + 1)))

    def written(low: int, high: int) -> dict[str, Any]:
        return {**_NO_PLACE, "range.lowest": named(low), "range.highest": named(high)}

    def named(pitch: int) -> str:
        return spell(pitch, rules.progression.chords[-1], rules.scales[-1], rules.key)

    yield Condition(
        "range",
        f"every note is in the range {rules.range_text or f'{named(low)} to {named(high)}'}",
        partial(with_pitches, low=lowest, high=highest),
        written(lowest, highest),
        moves=(
            Loosening(
                lambda n: f"the range {plural(n, 'semitone')} lower, {named(low - n)} to {named(high)}",
                lambda changed, n: with_pitches(changed, low - n, high),
                min(MOST_STEPS, low),
                lambda n: written(low - n, high),
            ),
            Loosening(
                lambda n: f"the range {plural(n, 'semitone')} higher, {named(low)} to {named(high + n)}",
                lambda changed, n: with_pitches(changed, low, high + n),
                min(MOST_STEPS, 127 - high),
                lambda n: written(low, high + n),
            ),
        ),
        choices=tuple(_on_the_neck(rules)),
    )


def _on_the_neck(rules: Rules) -> Iterator[OtherValue]:
    """Other positions, and a wider hand."""
    place = rules.position
    board = Fretboard.of(rules.instrument) if rules.instrument is not None else None
    if place is None or place.fret is None or board is None:
        return

    def pitches(other: Position) -> frozenset[int]:
        return board.pitches(other) & span(*rules.range_ends)

    def held(changed: Rules, other: Position) -> Rules:
        return replace(changed, pitches=pitches(other), position=other)

    for more in WIDER:
        if place.span + more <= WIDEST_SPAN:
            other = replace(place, span=place.span + more)
            words = f"a hand that spans {other.span} frets"
            yield OtherValue(words, partial(held, other=other), {"range.span": other.span})
    for shift in SHIFTS:
        if 0 <= place.fret + shift <= board.frets - place.span + 1:
            other = replace(place, fret=place.fret + shift)
            if not pitches(other) or not _has_first_notes(rules, pitches(other)):
                continue
            words = f"position {other.fret} ({board.frets_text(place.fret + shift, place.span)})"
            yield OtherValue(words, partial(held, other=other), {"range.position": other.fret})


def _has_first_notes(rules: Rules, pitches: frozenset[int]) -> bool:
    """Whether every first note that a rule file names is among these pitches: else it cannot be read."""
    classes = {pitch % 12 for pitch in pitches}
    return rules.entry.with_octave <= pitches and rules.entry.any_octave <= classes
