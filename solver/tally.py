"""Tallies: how often each interval, degree and pitch is played over *all* lines of a space, and how many
lines have each roughness and each number of notes.

Exact at any size, and without listing a line. What stands at one note is counted by the edges of the diagram:
as many lines pass along an edge as there are ways to it times lines beyond it. What belongs to a whole line
is counted backward, all values at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction

from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver import line_tallies
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.smooth import roughness_histogram

KINDS: dict[str, str] = {
    "interval": "semitones from each note to the next, up or down",
    "degree": "each note as a degree of the chord it sounds over",
    "pitch": "each note",
    "roughness": "how rough each line is; lower is smoother",
    "notes": "how many notes each line has",
    "largest-leap": "semitones of the widest interval of each line",
    "range": "semitones from the lowest note of each line to its highest",
    "direction-changes": "how often each line turns from up to down or back",
}
"""Every kind of tally, and what is counted."""

NOTES, STEPS, LINES = "notes", "intervals", "lines"


@dataclass(frozen=True, slots=True)
class Entry:
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
    entries: tuple[Entry, ...]

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
    return Tally(kind, KINDS[kind], of, tuple(Entry(*each) for each in found if each[2]))


# -- note by note --------------------------------------------------------------------------------------------


def _passed(diagram: Diagram) -> list[int]:
    """How many times each label is played, over all lines."""
    ways = [0] * len(diagram.labels)
    ways[diagram.root] = 1
    found = [0] * len(diagram.events)
    totals = diagram.totals
    for node in range(diagram.root, -1, -1):
        here, ways[node] = ways[node], 0
        for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
            found[label] += here * totals[child]
            ways[child] += here
    return found


def _degrees(rules: Rules, diagram: Diagram) -> Tally:
    found: dict[tuple[int, str], int] = {}
    for event, count in zip(diagram.events, _passed(diagram), strict=True):
        note = rules.note(event)
        name = rules.progression.chords[note.chord].degree_of(event.pitch)
        found[note.degree, name] = found.get((note.degree, name), 0) + count
    return _tally("degree", NOTES, ((name, tone, found[tone, name]) for tone, name in sorted(found)))


def _pitches(rules: Rules, diagram: Diagram) -> Tally:
    found: dict[int, int] = {}
    for event, count in zip(diagram.events, _passed(diagram), strict=True):
        found[event.pitch] = found.get(event.pitch, 0) + count
    chord, scale = rules.progression.chords[-1], rules.scales[-1]
    names = {pitch: spell(pitch, chord, scale, rules.key) for pitch in found}
    return _tally("pitch", NOTES, ((names[pitch], pitch, found[pitch]) for pitch in sorted(found)))


def _intervals(rules: Rules, diagram: Diagram) -> Tally:
    found: dict[int, int] = {}
    pitches = [event.pitch for event in diagram.events]
    # For each node the ways to it, by the pitch of the last note.
    ways: list[dict[int, int]] = [{} for _ in diagram.labels]
    for node in range(diagram.root, -1, -1):
        here = ways[node]
        ways[node] = {}
        every = sum(here.values()) if node != diagram.root else 1
        for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
            pitch, beyond = pitches[label], diagram.totals[child]
            for before, number in here.items():
                found[pitch - before] = found.get(pitch - before, 0) + number * beyond
            ways[child][pitch] = ways[child].get(pitch, 0) + every
    return _tally(
        "interval", STEPS, ((f"{step:+d}" if step else "0", step, found[step]) for step in sorted(found))
    )


# -- line by line --------------------------------------------------------------------------------------------


def _by_line(
    kind: str, count: Callable[[Rules, Diagram], dict[int, int]]
) -> Callable[[Rules, Diagram], Tally]:
    def tally(rules: Rules, diagram: Diagram) -> Tally:
        found = count(rules, diagram) if diagram.count else {}
        return _tally(kind, LINES, ((str(value), value, lines) for value, lines in found.items()))

    return tally


_BY_LINE: dict[str, Callable[[Rules, Diagram], dict[int, int]]] = {
    "roughness": lambda rules, diagram: roughness_histogram(diagram, rules.weights),
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
