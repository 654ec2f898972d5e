"""Facets: how many lines remain for each choice of start note, figure, target, ending and so on.

Exact, and without listing a line: every count is a sum over the diagram. A line that has a property in any
of its analyses counts for it, so the counts of one facet may add up to more than there are lines.

All values of a facet are counted in one fold (``fold``, ``packs``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from everyline.corpora.note_lengths import counted_aloud
from everyline.rules.analysis import PLAIN
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.figure_marks import ENDING, FIGURE, HANDOFF, PASSING, TARGET, Mark, ReadingGraph, trace
from everyline.solver.fold import Fold, finals
from everyline.solver.packs import Packs
from everyline.solver.readingsums import count_each, count_without
from everyline.solver.traits import entry_beat, every_position, hand_positions, position_masks

KINDS: dict[str, str] = {
    "start-note": "first note",
    "start-degree": "first note as a degree of the first chord",
    "entry-beat": "beat on which the line starts",
    "figure": "approach figure, anywhere in the line",
    "target": "degree and beat on which a figure lands, anywhere in the line",
    "passing": "passing notes, anywhere in the line",
    "handoff": "note on which a new chord is entered, for each change",
    "landing": "degree of the first note in each chord",
    "rhythm": "places in a beat at which notes begin, counted aloud as on beat 1, in any beat of the line",
    "ending": "how the line ends",
    "highest-note": "highest note of the line",
    "outside-notes": "notes that are not chord tones of the chord they sound over",
    "position": "fretboard position in which the whole line can be played",
}
"""Every kind of facet, and what its values are."""

ANALYSIS_KINDS = frozenset({FIGURE, TARGET, PASSING, HANDOFF, ENDING})
"""Kinds whose values depend on how a line is analysed."""


@dataclass(frozen=True, slots=True)
class Value:
    """One choice, in words, and how many lines have it."""

    label: str
    count: int


@dataclass(frozen=True, slots=True)
class Facet:
    """One question about the lines and the count for every answer that some line has.

    Figures and endings that the rules name are there even where no line has them.

    ``kind`` is one of KINDS, ``title`` says what is counted (for a handoff, at which change), ``note`` what
    one should know in reading the counts, or nothing.
    """

    kind: str
    title: str
    values: tuple[Value, ...]
    note: str = ""


def facets(
    rules: Rules, diagram: Diagram | None = None, only: Iterable[str] | None = None
) -> tuple[Facet, ...]:
    """All facets of the lines under ``rules``, or those of the kinds in ``only``, in the order of KINDS.

    ``diagram`` spares compiling again. A handoff facet comes once for every change of chord. Positions are
    those of the rules' own instrument where it is fretted, else of a guitar.
    """
    diagram = compile_rules(rules) if diagram is None else diagram
    wanted = frozenset(KINDS if only is None else only)
    graph = trace(rules, diagram) if wanted & ANALYSIS_KINDS else None
    counts = {} if graph is None else dict(zip(graph.marks, count_each(graph, diagram.count), strict=True))
    found: list[Facet] = []
    for kind in KINDS:
        if kind not in wanted:
            continue
        if graph is not None and kind in ANALYSIS_KINDS:
            found += _BY_ANALYSIS[kind](rules, graph, counts)
        else:
            made = _BY_NOTES[kind](rules, diagram)
            found += [made] if isinstance(made, Facet) else made
    return tuple(found)


def _facet(
    kind: str, values: Iterable[tuple[str, int]], title: str = "", note: str = "", named: bool = False
) -> Facet:
    """A facet; values that no line has are kept only where the rules themselves name them."""
    kept = tuple(Value(label, count) for label, count in values if count or named)
    return Facet(kind, title or KINDS[kind], kept, note)


# -- what the notes alone decide -----------------------------------------------------------------------------


def _by_first(diagram: Diagram, key: Callable[[int], Any]) -> dict[Any, int]:
    """Lines for each value of ``key`` of the first event's label, in order of the values."""
    found: dict[Any, int] = {}
    for label, child in zip(diagram.labels[diagram.root], diagram.children[diagram.root], strict=True):
        value = key(label)
        found[value] = found.get(value, 0) + diagram.totals[child]
    return dict(sorted(found.items()))


def _start_notes(rules: Rules, diagram: Diagram) -> Facet:
    found = _by_first(diagram, lambda label: diagram.events[label].pitch)
    chord = rules.progression.chords[0]
    names = {pitch: spell(pitch, chord, rules.scales[0], rules.key) for pitch in found}
    return _facet("start-note", ((names[pitch], count) for pitch, count in found.items()))


def _start_degrees(rules: Rules, diagram: Diagram) -> Facet:
    chord = rules.progression.chords[0]
    found = _by_first(diagram, lambda label: (diagram.events[label].pitch - chord.root_class) % 12)
    return _facet(
        "start-degree",
        ((f"{chord.degree_of(chord.root_class + degree)}", count) for degree, count in found.items()),
        title=f"first note as a degree of {chord.symbol}",
    )


def _entry_beats(rules: Rules, diagram: Diagram) -> Facet:
    found = _by_first(diagram, lambda label: diagram.events[label].onset // rules.slot_ticks)

    return _facet("entry-beat", ((entry_beat(rules, slot), count) for slot, count in found.items()))


def _highest_notes(rules: Rules, diagram: Diagram) -> Facet:
    pitches = sorted({event.pitch for event in diagram.events})
    packs = Packs(len(pitches), diagram.count)
    # A lane counts the lines that stay at or below its pitch; neighbours then differ by those that reach it.
    keep = {
        pitch: packs.spread(sum(1 << lane for lane in range(place, len(pitches))))
        for place, pitch in enumerate(pitches)
    }
    mask = [keep[event.pitch] for event in diagram.events]
    below = packs.unpack(packs.kept(Fold.plain(diagram, mask)))
    counts = [high - low for low, high in zip([0, *below], below, strict=False)]
    chord, scale = rules.progression.chords[-1], rules.scales[-1]
    names = [spell(pitch, chord, scale, rules.key) for pitch in pitches]
    return _facet("highest-note", zip(names, counts, strict=True))


def _outside_notes(rules: Rules, diagram: Diagram) -> Facet:
    outside = [int(not rules.note(event).chord_tone) for event in diagram.events]
    found = Fold.plain(diagram, outside).histogram()
    return _facet("outside-notes", ((str(number), count) for number, count in found.items()))


def _landings(rules: Rules, diagram: Diagram) -> list[Facet]:
    """The first note in each chord after the first, whatever an analysis makes of it."""
    notes = [rules.note(event) for event in diagram.events]

    def step(chord: int, label: int) -> tuple[int, tuple[int, int] | None]:
        note = notes[label]
        return note.chord, (note.chord, note.degree) if note.chord != chord else None

    passed = Fold.of(diagram, -1, step).passed()
    found = []
    for index, chord in enumerate(rules.progression.chords[1:], 1):
        names = (chord.degree_of(chord.root_class + degree) for degree in range(12))
        values = [(name, passed.get((index, degree), 0)) for degree, name in enumerate(names)]
        values.append(("none", diagram.count - sum(count for _, count in values)))
        where = rules.progression.place(rules.progression.starts[index])
        found.append(
            _facet("landing", values, title=f"degree of the first note over {chord.symbol}, {where}")
        )
    return found


Pattern = tuple[int, ...]
"""Ticks after the beat at which notes begin."""


def _rhythms(rules: Rules, diagram: Diagram) -> Facet:
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
    return _facet("rhythm", ((_counted_aloud(each), counts[each]) for each in sorted(counts)))


def _counted_aloud(pattern: Pattern) -> str:
    """The places of a pattern as on beat 1: ``1 &``, ``& a``."""
    names = map(counted_aloud, pattern)
    return " ".join(name or "1" for name in names)


def _positions(rules: Rules, diagram: Diagram) -> Facet:
    fretboard, strings, span = hand_positions(rules)
    masks = position_masks(fretboard, strings, span)
    every = every_position(fretboard, span)
    lowest = range(every.bit_length())
    bits = [masks.get(event.pitch, 0) for event in diagram.events]
    packs = Packs(len(lowest), diagram.count)
    counts = packs.unpack(packs.kept(Fold.plain(diagram, [packs.spread(each) for each in bits])))
    values = [(fretboard.frets_text(fret, span), counts[fret]) for fret in lowest]
    held = finals(diagram, every, lambda left, label: left & bits[label] or None)
    values.append(("no position", diagram.count - sum(held.values())))
    note = "A line that lies in several positions counts for each."
    if len(strings) < len(fretboard.strings):
        note += f" Strings: {', '.join(map(str, strings))}."
    return _facet(
        "position", values, title=f"position on the {fretboard.name} that holds the line", note=note
    )


_BY_NOTES: dict[str, Callable[[Rules, Diagram], Facet | list[Facet]]] = {
    "start-note": _start_notes,
    "start-degree": _start_degrees,
    "entry-beat": _entry_beats,
    "landing": _landings,
    "rhythm": _rhythms,
    "highest-note": _highest_notes,
    "outside-notes": _outside_notes,
    "position": _positions,
}

# -- what an analysis decides --------------------------------------------------------------------------------

Counts = dict[Mark, int]
_ANY = "A line that can be read in several ways counts for each of them."


def _figures(rules: Rules, graph: ReadingGraph, counts: Counts) -> list[Facet]:
    found = [(figure.name, counts.get(Mark(FIGURE, 0, figure.name), 0)) for figure in rules.approach.figures]
    found.append(("no figure", count_without(graph, FIGURE)))
    return [_facet("figure", found, note=_ANY, named=True)]


def _passing(rules: Rules, graph: ReadingGraph, counts: Counts) -> list[Facet]:
    found = [(kind, counts.get(Mark(PASSING, 0, kind), 0)) for kind in rules.passing.kinds]
    found.append(("none", count_without(graph, PASSING)))
    return [_facet("passing", found, note=_ANY if rules.passing.kinds else "", named=True)]


def _targets(rules: Rules, graph: ReadingGraph, counts: Counts) -> list[Facet]:
    progression = rules.progression
    semitones = {name: place for chord in progression.chords for name, place in _degrees(chord)}
    values: list[Any] = [mark.value for mark in counts if mark.kind == TARGET]
    values.sort(key=lambda value: (semitones[value[0]], value[0], value[1]))
    found = [
        (f"{degree} on beat {progression.beat_name(slot)}", counts[Mark(TARGET, 0, (degree, slot))])
        for degree, slot in values
    ]
    found.append(("no target", count_without(graph, FIGURE)))
    return [_facet("target", found, note=_ANY)]


def _degrees(chord: Any) -> Iterable[tuple[str, int]]:
    return ((chord.degree_of(chord.root_class + tone), tone) for tone in range(12))


def _handoffs(rules: Rules, graph: ReadingGraph, counts: Counts) -> list[Facet]:
    progression = rules.progression
    found = []
    for index, chord in enumerate(progression.chords[1:], 1):
        pitches = sorted(
            mark.value
            for mark in counts
            if mark.kind == HANDOFF and mark.chord == index and mark.value is not None
        )
        values = [
            (
                spell(pitch, chord, rules.scales[index], rules.key),
                counts[Mark(HANDOFF, index, pitch)],
            )
            for pitch in pitches
        ]
        values.append(("inside the ending", counts.get(Mark(HANDOFF, index, None), 0)))
        title = f"note that enters {chord.symbol}, {progression.place(progression.starts[index])}"
        found.append(_facet("handoff", values, title=title))
    return found


def _endings(rules: Rules, graph: ReadingGraph, counts: Counts) -> list[Facet]:
    names = [PLAIN, *(ending.name for ending in rules.endings)]
    return [
        _facet(
            "ending", ((name, counts.get(Mark(ENDING, 0, name), 0)) for name in names), note=_ANY, named=True
        )
    ]


_BY_ANALYSIS: dict[str, Callable[[Rules, ReadingGraph, Counts], list[Facet]]] = {
    FIGURE: _figures,
    TARGET: _targets,
    PASSING: _passing,
    HANDOFF: _handoffs,
    ENDING: _endings,
}
