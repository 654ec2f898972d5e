"""Tallies: how often each interval, degree and pitch is played over *all* lines of a space, and how many
lines have each roughness and each number of notes.

Exact at any size, and without listing a line: each is a fold over the diagram. What happens at one note is
counted by what passes along the arcs; what belongs to a whole line is counted backward, all values at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from everyline.rules.line import Event
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.rules.taste import UNIT, default_taste
from everyline.solver import line_tallies
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold
from everyline.solver.smooth import roughness_histogram
from everyline.solver.strange import strangeness_histogram

KINDS: dict[str, str] = {
    "interval": "semitones from each note to the next, up or down",
    "degree": "each note as a degree of the chord it sounds over",
    "pitch": "each note",
    "roughness": "how rough each line is; lower is smoother",
    "strangeness": "how strange each line is, in whole bits; lower is more in the style",
    "notes": "how many notes each line has",
    "largest-leap": "semitones of the widest interval of each line",
    "range": "semitones from the lowest note of each line to its highest",
    "direction-changes": "how often each line turns from up to down or back",
}
"""Every kind of tally, and what is counted."""

NOTES, STEPS, LINES = "notes", "intervals", "lines"


@dataclass(frozen=True, slots=True)
class TallyEntry:
    """One value, in words, as a number, and how often it was counted.

    ``number`` is semitones (signed for an interval, above the root for a degree), a MIDI pitch, a roughness
    or a number of notes.
    """

    label: str
    number: int
    count: int


@dataclass(frozen=True, slots=True)
class Tally:
    """Every value that occurs, in rising order. ``of`` says what was counted: NOTES, STEPS or LINES."""

    kind: str
    title: str
    of: str
    entries: tuple[TallyEntry, ...]

    @property
    def total(self) -> int:
        """How many notes, intervals or lines were counted in all."""
        return sum(entry.count for entry in self.entries)

    @property
    def mean(self) -> Fraction | None:
        """The exact mean; None for degrees, which have none, and where nothing was counted."""
        total = self.total
        if self.kind == "degree" or not total:
            return None
        return Fraction(sum(entry.number * entry.count for entry in self.entries), total)


def tallies(
    rules: Rules, diagram: Diagram | None = None, only: Iterable[str] | None = None
) -> tuple[Tally, ...]:
    """All tallies of the lines under ``rules``, or those of the kinds in ``only``, in the order of KINDS.

    ``diagram`` spares compiling again.
    """
    diagram = compile_rules(rules) if diagram is None else diagram
    wanted = frozenset(KINDS if only is None else only)
    return tuple(_OF[kind](rules, diagram) for kind in KINDS if kind in wanted)


def _tally(kind: str, of: str, found: Iterable[tuple[str, int, int]]) -> Tally:
    return Tally(kind, KINDS[kind], of, tuple(TallyEntry(*each) for each in found if each[2]))


# -- note by note --------------------------------------------------------------------------------------------


def _passed(diagram: Diagram) -> list[tuple[Event, int]]:
    """Each event and how many times it is played, over all lines."""
    passed = Fold.plain(diagram, range(len(diagram.events))).passed()
    return [(event, passed.get(label, 0)) for label, event in enumerate(diagram.events)]


def _degrees(rules: Rules, diagram: Diagram) -> Tally:
    found: dict[tuple[int, str], int] = {}
    for event, count in _passed(diagram):
        note = rules.note(event)
        name = rules.progression.chords[note.chord].degree_of(event.pitch)
        found[note.degree, name] = found.get((note.degree, name), 0) + count
    return _tally("degree", NOTES, ((name, tone, found[tone, name]) for tone, name in sorted(found)))


def _pitches(rules: Rules, diagram: Diagram) -> Tally:
    found: dict[int, int] = {}
    for event, count in _passed(diagram):
        found[event.pitch] = found.get(event.pitch, 0) + count
    chord, scale = rules.progression.chords[-1], rules.scales[-1]
    names = {pitch: spell(pitch, chord, scale, rules.key) for pitch in found}
    return _tally("pitch", NOTES, ((names[pitch], pitch, found[pitch]) for pitch in sorted(found)))


def _intervals(rules: Rules, diagram: Diagram) -> Tally:
    pitches = [event.pitch for event in diagram.events]

    def step(last: int | None, label: int) -> tuple[int, int | None]:
        pitch = pitches[label]
        return pitch, None if last is None else pitch - last

    found = Fold[int | None, int | None].of(diagram, None, step).passed()
    steps = sorted(step for step in found if step is not None)
    return _tally("interval", STEPS, ((f"{step:+d}" if step else "0", step, found[step]) for step in steps))


# -- line by line --------------------------------------------------------------------------------------------


def _by_line(
    kind: str, count: Callable[[Rules, Diagram], dict[int, int]]
) -> Callable[[Rules, Diagram], Tally]:
    def tally(rules: Rules, diagram: Diagram) -> Tally:
        found = count(rules, diagram) if diagram.count else {}
        return _tally(kind, LINES, ((str(value), value, lines) for value, lines in found.items()))

    return tally


def _bits(found: Mapping[int, int]) -> dict[int, int]:
    """Counts by sixteenths of a bit as counts by whole bits, rounded down."""
    bits: dict[int, int] = {}
    for strangeness, count in found.items():
        bits[strangeness // UNIT] = bits.get(strangeness // UNIT, 0) + count
    return dict(sorted(bits.items()))


_BY_LINE: dict[str, Callable[[Rules, Diagram], dict[int, int]]] = {
    "roughness": lambda rules, diagram: roughness_histogram(diagram, rules.weights),
    "strangeness": lambda rules, diagram: _bits(strangeness_histogram(rules, diagram, default_taste())),
    "notes": lambda rules, diagram: line_tallies.notes(diagram),
    "largest-leap": lambda rules, diagram: line_tallies.largest_leaps(diagram),
    "range": lambda rules, diagram: line_tallies.ranges(diagram),
    "direction-changes": lambda rules, diagram: line_tallies.direction_changes(diagram),
}

_OF: dict[str, Callable[[Rules, Diagram], Tally]] = {
    "interval": _intervals,
    "degree": _degrees,
    "pitch": _pitches,
    **{kind: _by_line(kind, count) for kind, count in _BY_LINE.items()},
}
