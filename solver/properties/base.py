"""What a property of lines is: one row, from which facets, tallies, traits and columns are made.

A property of the notes is read note by note with a small state, so that a whole diagram can be told apart by
it without listing a line. A property of the analyses comes from the graph of readings; as everywhere, a line
has such a value when one of its analyses has it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from everyline.rules.line import Note
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.figure_marks import Mark, ReadingGraph
from everyline.solver.fold import finals

State = Hashable


def _itself(state: Any) -> Any:
    return state


@dataclass(frozen=True, slots=True)
class NoteReader:
    """Reads a property off the notes of one line.

    ``start`` is the state before the first note, ``step`` gives the state after one more, ``value`` what the
    last state comes to, and ``label`` that in words. Values sort in the order in which they are shown.
    ``count`` answers how many lines of a diagram have each value, where there is a faster way than to follow
    every state; it may name values that no line has.
    """

    start: State
    step: Callable[[Any, Note], State]
    label: Callable[[Any], str]
    count: Callable[[Diagram], Mapping[Any, int]] | None = None
    value: Callable[[Any], Any] = _itself

    def words(self, state: State) -> str:
        """The value of a line that ends in this state, in words."""
        return self.label(self.value(state))

    def counted(self, rules: Rules, diagram: Diagram) -> dict[Any, int]:
        """Lines by their value, in rising order, the values that no line has left out."""
        if self.count is not None:
            found = self.count(diagram) if diagram.count else {}
        else:
            notes, found = [rules.note(event) for event in diagram.events], {}
            ends = finals(diagram, self.start, lambda state, label: self.step(state, notes[label]))
            for state, lines in ends.items():
                found[self.value(state)] = found.get(self.value(state), 0) + lines
        return {value: found[value] for value in sorted(found) if found[value]}


@dataclass(frozen=True, slots=True)
class MarkReader:
    """Reads a property off the marks of an analysis: their kind, each mark in words, and what a line has
    that lacks marks of the kind ``lacking``."""

    kind: str
    label: Callable[[Mark], str]
    without: str | None = None
    lacking: str = ""


@dataclass(frozen=True, slots=True)
class Analyses:
    """The analyses of all lines: the graph of their readings, and how many lines have each mark."""

    graph: ReadingGraph
    counts: Mapping[Mark, int]


@dataclass(frozen=True, slots=True)
class Value:
    """One choice, in words, and how many lines have it."""

    label: str
    count: int


@dataclass(frozen=True, slots=True)
class Facet:
    """One question about the lines and the count for every answer that some line has.

    Figures and endings that the rules name are there even where no line has them.

    ``kind`` is the property's name, ``title`` says what is counted (for a handoff, at which change), ``note``
    what one should know in reading the counts, or nothing.
    """

    kind: str
    title: str
    values: tuple[Value, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    """How often a value of a tally occurs: the value in words and as a number, which gives the order."""

    label: str
    number: int
    count: int


NoteFacet = Callable[[Rules, Diagram], list[Facet]]
MarkFacet = Callable[[Rules, Analyses], list[Facet]]
NOTES, STEPS, LINES = "notes", "intervals", "lines"


@dataclass(frozen=True, slots=True)
class Tallied:
    """A property in the tallies: ``of`` says what is counted (NOTES, STEPS or LINES), ``has_mean`` whether
    its numbers have a meaningful mean."""

    of: str
    count: Callable[[Rules, Diagram], Iterable[Count]]
    has_mean: bool = True


@dataclass(frozen=True, slots=True)
class Property:
    """One property of lines.

    ``says`` is what its values are. ``notes`` or ``marks`` reads the value of one line, which makes it a
    trait by which drill sets are balanced. ``note_facet`` or ``mark_facet`` counts the lines that remain for
    each value, ``tally`` how often each value occurs in all lines. ``column`` is its name in Parquet files.
    """

    name: str
    says: str
    notes: Callable[[Rules], NoteReader] | None = None
    marks: Callable[[Rules], MarkReader] | None = None
    note_facet: NoteFacet | None = None
    mark_facet: MarkFacet | None = None
    tally: Tallied | None = None
    column: str | None = None


def facet(
    kind: str, title: str, values: Iterable[tuple[str, int]], note: str = "", named: bool = False
) -> Facet:
    """A facet; values that no line has are kept only where the rules themselves name them."""
    return Facet(kind, title, tuple(Value(*each) for each in values if each[1] or named), note)


def faceted(
    name: str, says: str, read: Callable[[Rules], NoteReader], column: str, title: str = ""
) -> Property:
    """A property read off the notes that is a facet; its ``title`` may name {first}, the first chord."""

    def count(rules: Rules, diagram: Diagram) -> list[Facet]:
        reader = read(rules)
        found = reader.counted(rules, diagram)
        values = ((reader.label(value), lines) for value, lines in found.items())
        return [facet(name, (title or says).format(first=rules.progression.chords[0].symbol), values)]

    return Property(name, says, notes=read, note_facet=count, column=column)


def tallied(name: str, says: str, read: Callable[[Rules], NoteReader], column: str) -> Property:
    """A property read off the notes that is a tally of lines; its values are numbers."""

    def count(rules: Rules, diagram: Diagram) -> Iterable[Count]:
        reader = read(rules)
        return [Count(reader.label(n), n, lines) for n, lines in reader.counted(rules, diagram).items()]

    return Property(name, says, notes=read, tally=Tallied(LINES, count), column=column)
