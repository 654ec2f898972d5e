"""Every analysis of a given line, and the one to show.

A line is walked note by note under the moves of ``rules.moves``, one reading at a time; its last notes may be
a stock ending. Limits that read pitches alone are not asked here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import NamedTuple

from everyline.rules.front import FIGURE
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.moves.roles import ROLES, UNEXPLAINED, Role
from everyline.rules.own import meets_filters
from everyline.rules.readings import Taken
from everyline.rules.rhythm import Step, Stop
from everyline.rules.ruleset import Rules

ENTRY, ARPEGGIO, PASSING, APPROACH, TARGET, HANDOFF, ENDING = ROLES
PLAIN = "plain"
UNKNOWN_ENDING = "unknown"
"""The ending of a line that is not valid, where none is found."""


class PlacedFigure(NamedTuple):
    """An approach figure in a line: its name, the index of its first note and that of its target (from 0)."""

    name: str
    first: int
    target: int


@dataclass(frozen=True, slots=True)
class Analysis:
    """One analysis of a line: a role for each note, the figures in order, the ending or ``plain``."""

    roles: tuple[str, ...]
    figures: tuple[PlacedFigure, ...]
    ending: str


class _Path(NamedTuple):
    """A way to explain the first notes, as a chain, with what decides which way is shown."""

    approach: int
    targets: tuple[float, ...]
    order: tuple[int, ...]
    role: Role
    figures: tuple[tuple[int, PlacedFigure], ...]
    """Figures that begin on the last note, each with its place in the rule file."""
    before: _Path | None

    @property
    def rank(self) -> tuple[int, tuple[float, ...], tuple[int, ...]]:
        """Fewest approach notes, then earliest targets (none at all counts as latest), then the file's
        order."""
        return self.approach, (*self.targets, inf), self.order


class _Close(NamedTuple):
    """A way in which the line may end: the ending's name, its place in the file, notes before it."""

    name: str
    order: int
    body: int


Layers = list[dict[int, list[_Path]]]
"""After each number of notes, the readings with the ways that lead to them."""


class LineParser:
    """Parses one line under given rules."""

    def __init__(self, rules: Rules, events: Events) -> None:
        self.rules = rules
        self.events = events
        self.readings = rules.readings
        self.anatomy = self.readings.anatomy
        self._order = {figure.name: place for place, figure in enumerate(rules.approach.figures)}

    # -- whole lines -----------------------------------------------------------------------------------------

    def analyses(self) -> Iterator[Analysis]:
        """Every analysis of the line; none when its anatomy is not valid."""
        layers = self._layers(all_ways=True)
        for close in self._closes:
            for reading, paths in layers[close.body].items():
                if self._ends(close, reading):
                    for path in paths:
                        yield from self._written_out(path, close.name)

    def best(self) -> Analysis | None:
        """The analysis to show: fewest approach notes, then earliest targets; None for an invalid line."""
        layers = self._layers(all_ways=False)
        found = [
            (path.rank, close.order, close.name, path)
            for close in self._closes
            for reading, paths in layers[close.body].items()
            if self._ends(close, reading)
            for path in paths
        ]
        if not found:
            return None
        _, _, name, path = min(found, key=lambda each: each[:2])
        return next(self._written_out(path, name))

    def _layers(self, all_ways: bool) -> Layers:
        """All readings of the first notes, note by note: every way to each of them, or the one that ranks
        first."""
        layers: Layers = [{} for _ in range(len(self.events) + 1)]
        if not self._closes:
            return layers
        longest = max(close.body for close in self._closes)
        for place, step in enumerate(self._steps[:longest]):
            pitch = self.events[place].pitch
            if place == 0:
                for taken in self.readings.begin(step).get(pitch, ()):
                    self._note(layers[1], taken, None, 0, all_ways)
                continue
            moment = self.anatomy.moment(step)
            for reading, paths in layers[place].items():
                for taken in self.readings.after(moment, reading).get(pitch, ()):
                    for path in paths:
                        self._note(layers[place + 1], taken, path, place, all_ways)
        return layers

    def _note(
        self, layer: dict[int, list[_Path]], taken: Taken, path: _Path | None, place: int, all_ways: bool
    ) -> None:
        """Note one way to take the note at ``place`` after a path."""
        approach, targets, order = (path.approach, path.targets, path.order) if path else (0, (), ())
        figures: tuple[tuple[int, PlacedFigure], ...] = ()
        if taken.opens and taken.kind == FIGURE:
            target = place + len(taken.opens) - 1
            if target >= len(self.events):
                return
            names = self.rules.figures_with(self.rules.note(self.events[target]).chord, taken.opens)
            if not names:
                return  # the note at its place is over another chord, so it cannot land there
            figures = tuple(
                (self._order[figure.name], PlacedFigure(figure.name, place, target)) for figure in names
            )
            approach += len(taken.opens) - 1
            targets = (*targets, self.events[target].onset)
            order = (*order, figures[0][0])
        longer = _Path(approach, targets, order, taken.role, figures, path)
        known = layer.get(taken.reading)
        if known is None:
            layer[taken.reading] = [longer]
        elif all_ways:
            known.append(longer)
        elif longer.rank < known[0].rank:
            known[0] = longer

    def _written_out(self, path: _Path, ending: str) -> Iterator[Analysis]:
        """The analyses that a path stands for: figures with the same notes are told apart by name."""
        roles: list[Role] = []
        choices: list[tuple[PlacedFigure, ...]] = [()]
        link: _Path | None = path
        while link is not None:
            roles.append(link.role)
            if link.figures:
                choices = [(figure, *rest) for rest in choices for _, figure in link.figures]
            link = link.before
        roles.reverse()
        roles += [Role.ENDING] * (len(self.events) - len(roles))
        for figures in choices:
            yield Analysis(tuple(roles), figures, ending)

    # -- endings ---------------------------------------------------------------------------------------------

    @cached_property
    def _steps(self) -> list[Step]:
        return list(self.readings.steps(self.events))

    @cached_property
    def _closes(self) -> list[_Close]:
        """The ways in which the line may end, as far as onsets, lengths, range and lead-in go."""
        rules, events = self.rules, self.events
        if not events or any(event.pitch not in rules.pitches for event in events):
            return []
        found = []
        last = events[-1]
        whole = len(self._steps) == len(events)
        if rules.plain and whole and last.onset == rules.resolution_tick and last.length == TICKS_PER_BEAT:
            found.append(_Close(PLAIN, 0, len(events)))
        for ending in rules.endings_like(events):
            body = len(events) - len(ending.notes)
            if 1 <= body <= len(self._steps) and events[body:] == ending.after(events[body - 1].pitch):
                found.append(_Close(ending.name, 1 + rules.endings.index(ending), body))
        return found

    def _ends(self, close: _Close, reading: int) -> bool:
        """Whether a reading of the notes before an ending is a finished body."""
        front = self.readings.fronts[reading]
        if close.name == PLAIN:
            return front.done
        stop = self._stop(close)
        return stop is not None and any(
            ending.name == close.name for ending in self.anatomy.endings_led_into(stop, front)
        )

    def _stop(self, close: _Close) -> Stop | None:
        """The stop of the rhythm at which an ending begins."""
        node = self.anatomy.rhythm.nodes[self._steps[close.body - 1].node]
        return next((stop for stop in node.stops if stop.tick == self.events[close.body].onset), None)


def analyses(rules: Rules, events: Events) -> Iterator[Analysis]:
    """Every analysis of a line under these rules (limits aside)."""
    return LineParser(rules, events).analyses()


def best_analysis(rules: Rules, events: Events) -> Analysis | None:
    """The analysis to show, or None when the line is not valid (limits aside)."""
    return LineParser(rules, events).best()


def holds(rules: Rules, events: Events) -> bool:
    """Whether a line is valid: its anatomy and every limit, each limit asked by its plain definition."""
    notes = rules.notes(events)
    if not all(limit.holds(notes) for limit in rules.limits) or best_analysis(rules, events) is None:
        return False
    return meets_filters(rules, events)


__all__ = [
    "APPROACH",
    "ARPEGGIO",
    "ENDING",
    "ENTRY",
    "HANDOFF",
    "PASSING",
    "PLAIN",
    "ROLES",
    "TARGET",
    "UNEXPLAINED",
    "UNKNOWN_ENDING",
    "Analysis",
    "LineParser",
    "PlacedFigure",
    "Role",
    "analyses",
    "best_analysis",
    "holds",
]
