"""When notes begin: how many notes a line has, and the rhythms of its beats."""

from __future__ import annotations

from everyline.corpora.note_lengths import counted_aloud
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold
from everyline.solver.packs import Packs
from everyline.solver.properties.base import Facet, NoteReader, Property, facet, tallied

Pattern = tuple[int, ...]
"""Ticks after the beat at which notes begin."""


def _notes(rules: Rules) -> NoteReader:
    return NoteReader(0, lambda state, note: state + 1, str, _by_notes)


def _by_notes(diagram: Diagram) -> dict[int, int]:
    return Fold.plain(diagram, [1] * len(diagram.events)).histogram()


def _rhythms(rules: Rules, diagram: Diagram) -> list[Facet]:
    onsets = [divmod(event.onset, TICKS_PER_BEAT) for event in diagram.events]
    lanes: dict[Pattern, int] = {}

    def step(beat: tuple[int, Pattern], label: int) -> tuple[tuple[int, Pattern], Pattern]:
        now, place = onsets[label]
        over = () if now == beat[0] else beat[1]
        return (now, (*beat[1], place) if now == beat[0] else (place,)), over

    nowhere: tuple[int, Pattern] = (-(10**9), ())
    fold: Fold[tuple[int, Pattern], Pattern] = Fold.of(diagram, nowhere, step)
    for _, pattern in fold.memories[1:]:
        lanes.setdefault(pattern, len(lanes))
    packs = Packs(len(lanes), diagram.count)
    every = (1 << len(lanes)) - 1
    # A lane counts the lines without its pattern: a beat that is over, or the last one, closes its own lane.
    kept = {pattern: packs.spread(every & ~(1 << lane)) for pattern, lane in lanes.items()}
    kept[()] = packs.spread(every)
    found = [0] * len(fold.nodes)
    for place in reversed(fold.order):
        total = packs.ones & kept[fold.memories[place][1]] if fold.ends[place] else 0
        found[place] = total + sum([found[below] & kept[over] for _, over, below in fold.arcs[place]])
    without = packs.unpack(found[fold.root])
    counts = {pattern: diagram.count - without[lane] for pattern, lane in lanes.items()}
    return [facet("rhythm", RHYTHM.says, ((_counted_aloud(each), counts[each]) for each in sorted(counts)))]


def _counted_aloud(pattern: Pattern) -> str:
    """The places of a pattern as on beat 1: ``1 &``, ``& a``."""
    names = map(counted_aloud, pattern)
    return " ".join(name or "1" for name in names)


RHYTHM = Property(
    "rhythm",
    "places in a beat at which notes begin, counted aloud as on beat 1, in any beat of the line",
    note_facet=_rhythms,
)
NUMBER_OF_NOTES = tallied("notes", "how many notes each line has", _notes, "notes")
