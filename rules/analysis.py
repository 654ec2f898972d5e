"""The plain parser: every analysis of a given line, and the one to show.

This is the reader's definition of a valid line, beside the acceptor in ``anatomy``: it walks over finished
notes and explains each by one of the trade's moves. It knows nothing of sets of readings, and the tests
hold one against the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import NamedTuple

from everyline.rules.acceptor import Notes
from everyline.rules.ladder import handoffs, rung
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.own import meets_filters
from everyline.rules.ruleset import Rules

ENTRY, ARPEGGIO, APPROACH, TARGET, HANDOFF, ENDING = (
    "entry",
    "arpeggio",
    "approach",
    "target",
    "handoff",
    "ending",
)
ROLES = (ENTRY, ARPEGGIO, APPROACH, TARGET, HANDOFF, ENDING)
UNEXPLAINED = "unexplained"
"""The role of a note in a line that is not valid, where no move explains it; no analysis has it."""
PLAIN = "plain"


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

    @property
    def approach_notes(self) -> int:
        """How many notes belong to approach figures."""
        return self.roles.count(APPROACH)


class _State(NamedTuple):
    """What the rules remember between two chord tones of a line."""

    run: int
    turns: int
    figures: int
    since: int
    met: int


class _Step(NamedTuple):
    """One move of the parse: the notes before ``next`` are explained, with these roles for the new ones."""

    next: int
    state: _State
    roles: tuple[str, ...]
    figure: PlacedFigure | None


class _Path(NamedTuple):
    """A way to explain the first notes, as a chain, with what decides which way is shown."""

    approach: int
    targets: tuple[float, ...]
    figures: tuple[int, ...]
    step: _Step | None
    before: _Path | None

    @property
    def rank(self) -> tuple[int, tuple[float, ...], tuple[int, ...]]:
        """Fewest approach notes, then earliest targets (none at all counts as latest), then the file's
        order."""
        return self.approach, (*self.targets, inf), self.figures


class Parser:
    """Parses one line under given rules. Limits that read pitches alone are not asked here."""

    def __init__(self, rules: Rules, events: Events) -> None:
        self.rules = rules
        self.notes: Notes = rules.notes(events)
        self.events = events
        self._order = {figure.name: place for place, figure in enumerate(rules.approach.figures)}

    # -- whole lines -----------------------------------------------------------------------------------------

    def analyses(self) -> Iterator[Analysis]:
        """Every analysis of the line; none when its anatomy is not valid."""
        for name, body, final in self._endings():
            open_paths: list[_Path] = self._roots()
            while open_paths:
                path = open_paths.pop()
                place = path.step.next if path.step else 0
                if self._finished(path, place, body, final):
                    yield self._analysis(path, name, body)
                elif place < body + final:
                    open_paths.extend(
                        self._extend(path, step) for step in self._steps(path, place, body, final)
                    )

    def best(self) -> Analysis | None:
        """The analysis to show: fewest approach notes, then earliest targets; None for an invalid line."""
        found: list[tuple[tuple[int, tuple[float, ...], tuple[int, ...]], int, Analysis]] = []
        for order, (name, body, final) in enumerate(self._endings()):
            layers: list[dict[_State, _Path]] = [{} for _ in range(body + final + 1)]
            for root in self._roots():
                layers[0][_start(self.rules)] = root
            for place in range(body + final):
                for path in layers[place].values():
                    for step in self._steps(path, place, body, final):
                        longer = self._extend(path, step)
                        known = layers[step.next].get(step.state)
                        if known is None or longer.rank < known.rank:
                            layers[step.next][step.state] = longer
            for path in layers[-1].values():
                if self._finished(path, body + final, body, final):
                    found.append((path.rank, order, self._analysis(path, name, body)))
        return min(found, key=lambda each: each[:2])[2] if found else None

    def _roots(self) -> list[_Path]:
        return [_Path(0, (), (), None, None)]

    def _extend(self, path: _Path, step: _Step) -> _Path:
        if step.figure is None:
            return path._replace(step=step, before=path)
        target = self.notes[step.figure.target].onset
        return _Path(
            path.approach + step.figure.target - step.figure.first,
            (*path.targets, target),
            (*path.figures, self._order[step.figure.name]),
            step,
            path,
        )

    def _analysis(self, path: _Path, ending: str, body: int) -> Analysis:
        roles: list[str] = []
        figures = []
        link: _Path | None = path
        while link is not None and link.step is not None:
            roles[:0] = link.step.roles
            if link.step.figure:
                figures.append(link.step.figure)
            link = link.before
        roles += [ENDING] * (len(self.notes) - len(roles))
        return Analysis(tuple(roles), tuple(reversed(figures)), ending)

    # -- endings ---------------------------------------------------------------------------------------------

    def _endings(self) -> Iterator[tuple[str, int, int]]:
        """(name, notes in the body, 1 when the body is followed by the plain resolution) for each ending
        that fits."""
        rules = self.rules
        if not self._on_grid():
            return
        notes = self.notes
        if rules.plain and notes[-1].onset == rules.resolution_tick and notes[-1].length == TICKS_PER_BEAT:
            if len(notes) > 1 and self._fills(len(notes) - 1, rules.resolution_tick):
                yield PLAIN, len(notes) - 1, 1
        for ending in rules.endings_like(self.events):
            body = len(notes) - len(ending.notes)
            if body < 1 or not self._fills(body, ending.start):
                continue
            before = notes[body - 1].pitch
            leap = abs(notes[body].pitch - before)
            if self.events[body:] == ending.after(before) and 0 < leap <= rules.lead_in:
                yield ending.name, body, 0

    def _on_grid(self) -> bool:
        """Whether the line starts on an entry slot and stays in range."""
        rules = self.rules
        if not self.notes or any(note.pitch not in rules.pitches for note in self.notes):
            return False
        return self.notes[0].onset in {slot * rules.slot_ticks for slot in rules.entry.slots}

    def _fills(self, body: int, until: int) -> bool:
        """Whether the first ``body`` notes fill every slot, one slot each, up to the tick ``until``."""
        return body <= self._in_slots and self.notes[0].onset + body * self.rules.slot_ticks == until

    @cached_property
    def _in_slots(self) -> int:
        """How many notes from the first on are one slot long and follow without a rest."""
        ticks = self.rules.slot_ticks
        expected = self.notes[0].onset
        for place, note in enumerate(self.notes):
            if note.onset != expected or note.length != ticks:
                return place
            expected += ticks
        return len(self.notes)

    def _finished(self, path: _Path, place: int, body: int, final: int) -> bool:
        """Whether all notes before the ending are explained and every count is complete there."""
        if place != body + final or path.step is None:
            return False
        state = path.step.state
        if state.met != (1 << len(self.rules.must_targets)) - 1:
            return False
        if final:
            return True
        progression = self.rules.progression
        at = self.notes[body].slot
        chord = progression.chord_index(at)
        if chord > 0 and at == progression.starts[chord]:
            return state.figures >= self._least(chord - 1) and self._least(chord) == 0
        return state.figures >= self._least(chord)

    # -- moves -----------------------------------------------------------------------------------------------

    def _steps(self, path: _Path, place: int, body: int, final: int) -> Iterator[_Step]:
        """Every way to explain the note at ``place`` (or the figure that begins there)."""
        state = path.step.state if path.step else _start(self.rules)
        if place == 0:
            yield from self._entry(state, body, final)
        elif self._fresh(place):
            yield from self._handoff(state, place)
        else:
            yield from self._arpeggio(state, place)
            yield from self._figures(state, place, body + final)

    def _entry(self, state: _State, body: int, final: int) -> Iterator[_Step]:
        rules = self.rules
        note = self.notes[0]
        if note.chord != 0 or not rules.entry.allows(note.pitch, rules.progression.chords[0].root_class):
            return
        if note.chord_tone:
            yield _Step(1, state, (ENTRY,), None)
        yield from self._figures(state, 0, body + final)

    def _handoff(self, state: _State, place: int) -> Iterator[_Step]:
        note = self.notes[place]
        if state.figures < self._least(note.chord - 1):
            return
        if note.pitch in self._handoffs(self.notes[place - 1].pitch, note.chord):
            since = min(state.since + 1, self.rules.approach.after)
            yield _Step(place + 1, _State(0, 0, 0, since, state.met), (HANDOFF,), None)

    def _arpeggio(self, state: _State, place: int) -> Iterator[_Step]:
        rules = self.rules
        note, before = self.notes[place], self.notes[place - 1]
        chord = rules.progression.chords[note.chord]
        for direction in rules.arpeggio.directions:
            if note.pitch != rung(chord, before.pitch, direction):
                continue
            turns = state.turns + (1 if state.run == -direction else 0)
            if turns <= rules.arpeggio.turns:
                since = min(state.since + 1, rules.approach.after)
                yield _Step(
                    place + 1, _State(direction, turns, state.figures, since, state.met), (ARPEGGIO,), None
                )

    def _figures(self, state: _State, place: int, explained: int) -> Iterator[_Step]:
        rules = self.rules
        first = self.notes[place]
        if place > 0:
            leap = abs(first.pitch - self.notes[place - 1].pitch)
            if not 0 < leap <= rules.approach.reach or state.since < rules.approach.after:
                return
        if state.figures >= rules.approach.bounds(first.chord)[1]:
            return
        for length in rules.figure_lengths:
            target = place + length
            if target >= explained or not self._may_land(place, target):
                continue
            landed = self._landing(state, first.chord, target)
            if landed is None:
                continue
            note = self.notes[target]
            played = tuple([each.pitch for each in self.notes[place:target]])
            for figure in rules.figures_onto(note.chord, note.pitch, length).get(played, ()):
                roles = (APPROACH,) * length + (TARGET,)
                yield _Step(target + 1, landed, roles, PlacedFigure(figure.name, place, target))

    def _may_land(self, place: int, target: int) -> bool:
        """Whether a figure may fill the notes from ``place`` on and land on the note ``target``."""
        rules = self.rules
        note = self.notes[target]
        on_beat = note.onset % TICKS_PER_BEAT == 0
        if not on_beat or not note.chord_tone:
            return False
        if rules.approach.targets is not None and note.degree not in rules.approach.targets:
            return False
        home = self.notes[place].chord
        if any(
            each.chord != home or (at > 0 and self._fresh(at))
            for at, each in enumerate(self.notes[place:target], place)
        ):
            return False
        if not self._fresh(target):
            return note.chord == home
        if place == 0:
            return False  # at entry the target is in the first chord
        return note.chord == home + 1 and note.pitch in self._handoffs(
            self.notes[place - 1].pitch, note.chord
        )

    def _landing(self, state: _State, home: int, target: int) -> _State | None:
        """The state on a figure's target, or None when the chord it leaves lacks figures."""
        rules = self.rules
        note = self.notes[target]
        figures = state.figures + 1
        if note.chord != home:
            if figures < self._least(home):
                return None
            figures = 0
        met = state.met
        for bit, limit in enumerate(rules.must_targets):
            if limit.meets(note.chord, note.degree, note.slot):
                met |= 1 << bit
        return _State(0, 0, figures, min(1, rules.approach.after), met)

    # -- facts -----------------------------------------------------------------------------------------------

    def _fresh(self, place: int) -> bool:
        """Whether a note falls on the first slot of a new chord."""
        note = self.notes[place]
        return note.chord > 0 and note.slot == self.rules.progression.starts[note.chord]

    def _least(self, chord: int) -> int:
        return self.rules.approach.bounds(chord)[0]

    def _handoffs(self, pitch: int, chord: int) -> tuple[int, ...]:
        rules = self.rules
        return handoffs(rules.handoff, pitch, rules.progression.chords[chord], rules.approach.reach)


def _start(rules: Rules) -> _State:
    return _State(0, 0, 0, rules.approach.after, 0)


def analyses(rules: Rules, events: Events) -> Iterator[Analysis]:
    """Every analysis of a line under these rules (limits aside)."""
    return Parser(rules, events).analyses()


def best_analysis(rules: Rules, events: Events) -> Analysis | None:
    """The analysis to show, or None when the line is not valid (limits aside)."""
    return Parser(rules, events).best()


def holds(rules: Rules, events: Events) -> bool:
    """The plain checker: whether a line is valid, anatomy and every limit."""
    notes = rules.notes(events)
    if not all(limit.holds(notes) for limit in rules.limits) or best_analysis(rules, events) is None:
        return False
    return meets_filters(rules, events)
