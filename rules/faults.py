"""The reading of a line with the fewest faults.

A valid line is read by the trade's moves alone (see ``analysis``). Here the same moves are tried leniently:
each may be taken against the rules, at the price of a fault that says what is wrong and what would be right.
The reading shown is the one that costs least; so a single slip is reported as one fault, and the notes after
it are still read for what they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from everyline.corpora import Figure
from everyline.rules.acceptor import Breach
from everyline.rules.analysis import (
    APPROACH,
    ARPEGGIO,
    ENDING,
    ENTRY,
    HANDOFF,
    PLAIN,
    TARGET,
    UNEXPLAINED,
    PlacedFigure,
)
from everyline.rules.endings import PlacedEnding
from everyline.rules.fault_words import Words
from everyline.rules.ladder import figure_pitches, handoffs, rung
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.ruleset import Rules

SLIP, STRANGE, ASTRAY = 2, 3, 5
"""What faults cost: a known move not quite right, a note that nothing explains, an end that no ending has."""


class Fault(NamedTuple):
    """A breach and what it costs."""

    breach: Breach
    cost: int


@dataclass(frozen=True, slots=True)
class Reading:
    """The likeliest reading of a line: a role for each note, the figures, the ending (None where none is
    heard), and what is wrong."""

    roles: tuple[str, ...]
    figures: tuple[PlacedFigure, ...]
    ending: str | None
    breaches: tuple[Breach, ...]


class _State(NamedTuple):
    """What the rules remember; ``loose`` says that the last note was not explained, so nothing follows from
    it."""

    run: int
    turns: int
    figures: int
    since: int
    met: int
    loose: bool = False


class _Move(NamedTuple):
    next: int
    state: _State
    roles: tuple[str, ...]
    faults: tuple[Fault, ...] = ()
    figure: PlacedFigure | None = None
    ending: str | None = None


class _Path(NamedTuple):
    cost: int
    late: tuple[int, ...]
    approach: int
    move: _Move | None
    before: _Path | None

    @property
    def rank(self) -> tuple[int, tuple[int, ...], int]:
        """Least cost, then faults as late as can be, then fewest approach notes."""
        return self.cost, self.late, self.approach


def read(rules: Rules, events: Events) -> Reading:
    """The reading of a line (one note at least) with the fewest faults; none for a line of valid anatomy."""
    return _Reader(rules, events).run()


class _Reader:
    def __init__(self, rules: Rules, events: Events) -> None:
        self.rules = rules
        self.events = events
        self.notes = rules.notes(events)
        self.words = Words(rules, events)
        self.resolution = rules.resolution_tick
        self._grid = [self._off_grid(place) for place in range(len(events))]
        self._endings_at = cache(self._endings)
        self._all_met = (1 << len(rules.must_targets)) - 1

    def run(self) -> Reading:
        size = len(self.notes)
        layers: list[dict[_State, _Path]] = [{} for _ in range(size + 1)]
        finals: list[_Path] = []
        start = _State(0, 0, 0, self.rules.approach.after, 0)
        layers[0][start] = _Path(0, (), 0, None, None)
        for place in range(size):
            for state, path in layers[place].items():
                for move in self._moves(place, state):
                    longer = _longer(path, move)
                    if move.ending is not None:
                        finals.append(longer)
                        continue
                    known = layers[move.next].get(move.state)
                    if known is None or longer.rank < known.rank:
                        layers[move.next][move.state] = longer
        for state, path in layers[size].items():
            finals.append(_longer(path, self._stop(state)))
        return self._reading(min(finals, key=lambda path: path.rank))

    def _reading(self, path: _Path) -> Reading:
        roles: list[str] = []
        figures: list[PlacedFigure] = []
        faults: list[Fault] = []
        ending = path.move.ending if path.move else None
        link: _Path | None = path
        while link is not None and link.move is not None:
            roles[:0] = link.move.roles
            faults[:0] = link.move.faults
            if link.move.figure is not None:
                figures.insert(0, link.move.figure)
            link = link.before
        return Reading(tuple(roles), tuple(figures), ending or None, tuple(f.breach for f in faults))

    def _off_grid(self, place: int) -> tuple[Fault, ...]:
        words = self.words.grid(place)
        return () if words is None else (_slip("rhythm", words, place),)

    # -- moves -----------------------------------------------------------------------------------------------

    def _moves(self, place: int, state: _State) -> Iterator[_Move]:
        """Every way to read the note at ``place``, or what begins there."""
        if place:
            yield from self._into_ending(place, state)
        note = self.notes[place]
        if place and note.onset > self.resolution:
            roles = (UNEXPLAINED,) * (len(self.notes) - place)
            late = Fault(Breach("resolution", self.words.late(place), place), ASTRAY - 1)
            yield _Move(len(self.notes), state, roles, (late, *self._left(state)), ending="")
        elif not place:
            yield from self._entry(state)
        elif self._fresh(place):
            yield from self._handoff(place, state)
        else:
            yield from self._arpeggio(place, state)
            yield from self._figures(place, state)

    def _entry(self, state: _State) -> Iterator[_Move]:
        rules, note = self.rules, self.notes[0]
        faults = self._grid[0]
        if not rules.entry.allows(note.pitch, rules.progression.chords[0].root_class):
            faults += (_slip("entry", self.words.entry_note(), 0),)
        if note.chord_tone:
            yield _Move(1, state, (ENTRY,), faults)
        else:
            strange = Breach("entry", self.words.entry_tone(self.words.hints(0)), 0)
            yield _Move(1, state._replace(loose=True), (UNEXPLAINED,), (*faults, Fault(strange, STRANGE)))
        for move in self._figures(0, state):
            yield move._replace(faults=faults + move.faults[len(self._grid[0]) :])

    def _handoff(self, place: int, state: _State) -> Iterator[_Move]:
        note = self.notes[place]
        faults = self._grid[place] + self._too_few(place, state.figures)
        after = self._tone(state, note.chord_tone)._replace(run=0, turns=0, figures=0)
        if not note.chord_tone:
            strange = Fault(Breach("handoff", self.words.handoff(place), place), STRANGE)
            yield _Move(place + 1, after._replace(loose=True), (UNEXPLAINED,), (*faults, strange))
            return
        if not state.loose and note.pitch not in self._legal(place - 1, note.chord):
            faults += (_slip("handoff", self.words.handoff(place), place),)
        yield _Move(place + 1, after, (HANDOFF,), faults)

    def _arpeggio(self, place: int, state: _State) -> Iterator[_Move]:
        rules = self.rules
        note, before = self.notes[place], self.notes[place - 1]
        faults = self._grid[place]
        after = self._tone(state, note.chord_tone)
        if not note.chord_tone:
            hints = self.words.hints(place)
            strange = Fault(Breach("arpeggio", self.words.unexplained(place, hints), place), STRANGE)
            loose = after._replace(run=0, turns=0, loose=True)
            yield _Move(place + 1, loose, (UNEXPLAINED,), (*faults, strange))
            return
        if state.loose:
            yield _Move(place + 1, after._replace(run=0, turns=0), (ARPEGGIO,), faults)
            return
        way = 1 if note.pitch > before.pitch else -1
        chord = rules.progression.chords[note.chord]
        turns = state.turns + (state.run == -way)
        moved = after._replace(run=way, turns=min(turns, rules.arpeggio.turns))
        if note.pitch != rung(chord, before.pitch, way):
            moved = after._replace(run=0, turns=0)
        elif way in rules.arpeggio.directions and turns <= rules.arpeggio.turns:
            yield _Move(place + 1, moved, (ARPEGGIO,), faults)
            return
        wrong = _slip("arpeggio", self.words.arpeggio(place), place)
        yield _Move(place + 1, moved, (ARPEGGIO,), (*faults, wrong))

    def _tone(self, state: _State, chord_tone: bool) -> _State:
        since = min(state.since + chord_tone, self.rules.approach.after)
        return state._replace(since=since, loose=False)

    # -- figures ---------------------------------------------------------------------------------------------

    def _figures(self, place: int, state: _State) -> Iterator[_Move]:
        for figure in self.rules.approach.figures:
            target = place + len(figure.steps)
            if target < len(self.notes) and self._shaped(figure, place, target):
                yield self._figure(figure, place, target, state)

    def _shaped(self, figure: Figure, place: int, target: int) -> bool:
        """Whether the notes are this figure around a chord tone, whatever else is wrong with it."""
        rules, note, home = self.rules, self.notes[target], self.notes[place].chord
        if not note.chord_tone or note.onset > self.resolution:
            return False
        inside = range(place, target)
        if any(self.notes[at].chord != home or (at > place and self._fresh(at)) for at in inside):
            return False
        if self._fresh(target) and (place == 0 or note.chord != home + 1):
            return False
        root = rules.progression.chords[note.chord].root_class
        pitches = figure_pitches(figure.steps, note.pitch, root, rules.scales[note.chord])
        return tuple(self.notes[at].pitch for at in inside) == pitches

    def _figure(self, figure: Figure, place: int, target: int, state: _State) -> _Move:
        rules, words = self.rules, self.words
        approach, note, home = rules.approach, self.notes[target], self.notes[place].chord
        faults = [fault for at in range(place, target + 1) for fault in self._grid[at]]
        if place and not state.loose:
            if not 0 < abs(self.notes[place].pitch - self.notes[place - 1].pitch) <= approach.reach:
                faults.append(_slip("reach", words.reach(figure, place), place))
        if place and state.since < approach.after:
            faults.append(_slip("after", words.after(figure, place, state.since), place))
        if state.figures >= approach.bounds(home)[1]:
            faults.append(_slip("count", words.too_many(figure, place), place))
        if note.onset % TICKS_PER_BEAT:
            faults.append(_slip("parity", words.parity(figure, place, target), target))
        if approach.targets is not None and note.degree not in approach.targets:
            faults.append(_slip("targets", words.target(figure, target), target))
        figures = state.figures + 1
        if self._fresh(target):
            faults += self._too_few(target, figures)
            if not state.loose and note.pitch not in self._legal(place - 1, note.chord):
                faults.append(_slip("handoff", self._crossing(place, target), target))
            figures = 0
        met = state.met
        for bit, limit in enumerate(rules.must_targets):
            if limit.meets(note.chord, note.degree, note.slot):
                met |= 1 << bit
        after = _State(0, 0, figures, min(1, approach.after), met)
        roles = (APPROACH,) * len(figure.steps) + (TARGET,)
        return _Move(target + 1, after, roles, tuple(faults), PlacedFigure(figure.name, place, target))

    def _crossing(self, place: int, target: int) -> str:
        """A figure into a new chord hands off from the last note before it, not from its own notes."""
        events = (*self.events[:place], self.events[target])
        return Words(self.rules, events).handoff(place)

    # -- endings ---------------------------------------------------------------------------------------------

    def _into_ending(self, place: int, state: _State) -> Iterator[_Move]:
        size = len(self.notes)
        roles = (ENDING,) * (size - place)
        for name, faults in self._endings_at(place):
            lead = () if state.loose else self._lead_in(name, place)
            rest = self._left(state, place)
            yield _Move(size, state, roles, (*lead, *faults, *rest), ending=name)
        if self._astray(place):
            unknown = Fault(Breach("ending", self.words.unknown_ending(place), place), ASTRAY)
            unheard = (UNEXPLAINED,) * (size - place)
            yield _Move(size, state, unheard, (unknown, *self._left(state, place)), ending="")

    def _lead_in(self, name: str, place: int) -> tuple[Fault, ...]:
        leap = abs(self.notes[place].pitch - self.notes[place - 1].pitch)
        if 0 < leap <= self.rules.lead_in:
            return ()
        ending = next(each for each in self.rules.endings if each.name == name)
        return (_slip("lead-in", self.words.lead_in(ending, place), place),)

    def _endings(self, place: int) -> tuple[tuple[str, tuple[Fault, ...]], ...]:
        """The stock endings that the notes from ``place`` on are, or nearly are, with what is wrong."""
        rest, found = self.events[place:], []
        for ending in self.rules.endings:
            if len(ending.notes) != len(rest):
                continue
            expected = ending.after(self.events[place - 1].pitch)
            if all(a.pitch % 12 == b.pitch % 12 for a, b in zip(rest[:1], expected, strict=False)):
                # Led into from far away, the ending may be in another octave: the lead-in is wrong then.
                shift = rest[0].pitch - expected[0].pitch
                expected = tuple(each._replace(pitch=each.pitch + shift) for each in expected)
            faults = self._compare(ending, expected, place)
            if faults is not None:
                found.append((ending.name, faults))
        return tuple(found)

    def _compare(self, ending: PlacedEnding, expected: Events, place: int) -> tuple[Fault, ...] | None:
        """What is wrong with an ending, or None where too little of it is right."""
        rest, words = self.events[place:], self.words
        pairs = list(enumerate(zip(rest, expected, strict=True), place))
        off = [(at, want) for at, (have, want) in pairs if have.pitch != want.pitch]
        if all(have.onset == want.onset for have, want in zip(rest, expected, strict=True)):
            if 2 * len(off) > len(rest) - 1:
                return None
            wrong = [_slip("ending", words.ending_note(ending, at, want.pitch), at) for at, want in off]
            wrong += [
                _slip("ending", words.ending_length(ending, at, want.length), at)
                for at, (have, want) in pairs
                if have.length != want.length
            ]
            if self.notes[place - 1].end > rest[0].onset:
                wrong += self._off_grid(place)
            if self.notes[place - 1].end < rest[0].onset:
                gap = words.at(self.notes[place - 1].end)
                wrong.append(_slip("rhythm", f"nothing begins on {gap}; a line fills every slot.", place))
            return tuple(wrong)
        if off or len(rest) < 3:
            return None
        return (Fault(Breach("ending", words.ending_place(ending, place), place), STRANGE),)

    def _astray(self, place: int) -> bool:
        """Whether an ending that nobody knows may begin here: the rest resolves, but not slot by slot."""
        progression = self.rules.progression
        if self.notes[place].chord < len(progression.chords) - 2 or self.events[-1].onset < self.resolution:
            return False
        rest = range(place, len(self.notes))
        return self.events[-1].onset > self.resolution or any(self._grid[at] for at in rest)

    def _stop(self, state: _State) -> _Move:
        """The end of a line that no stock ending explains."""
        last, size = self.notes[-1], len(self.notes)
        faults: list[Fault] = []
        ending: str | None = PLAIN
        if last.onset < self.resolution:
            faults.append(Fault(Breach("resolution", self.words.early(), size - 1), ASTRAY - 1))
            ending = ""
        elif last.onset > self.resolution:
            faults.append(Fault(Breach("resolution", self.words.late(0), 0), ASTRAY - 1))
            ending = ""
        elif size < 2:
            faults.append(
                Fault(Breach("resolution", "the line has one note only, on its resolution.", 0), ASTRAY)
            )
        elif not self.rules.plain:
            faults.append(Fault(Breach("ending", self.words.no_plain(), size - 1), STRANGE))
        elif last.length != TICKS_PER_BEAT:
            faults.append(_slip("ending", self.words.final_length(), size - 1))
        faults += self._unmet(state)
        return _Move(size, state, (), tuple(faults), ending=ending)

    def _left(self, state: _State, place: int | None = None) -> tuple[Fault, ...]:
        """What is still missing where the body ends: figures in the chord that the ending cuts, targets."""
        found = list(self._unmet(state))
        if place is None:
            return tuple(found)
        chord, before = self.notes[place].chord, self.notes[place - 1].chord
        owed = [(chord, 0)] if self._fresh(place) else []
        for index, figures in [(before, state.figures), *owed]:
            if figures < self.rules.approach.bounds(index)[0]:
                found.append(_slip("count", self.words.too_few(index, figures), place))
        return tuple(found)

    def _unmet(self, state: _State) -> tuple[Fault, ...]:
        return tuple(
            _slip(limit.kind, f"no approach figure lands on {limit.wanted}.", None)
            for bit, limit in enumerate(self.rules.must_targets)
            if not state.met >> bit & 1
        )

    # -- facts -----------------------------------------------------------------------------------------------

    def _too_few(self, place: int, figures: int) -> tuple[Fault, ...]:
        """The chord just left has fewer figures than it must have."""
        chord = self.notes[place - 1].chord
        if figures >= self.rules.approach.bounds(chord)[0]:
            return ()
        return (_slip("count", self.words.too_few(chord, figures), place),)

    def _fresh(self, place: int) -> bool:
        """Whether a note is the first of a new chord."""
        return place > 0 and self.notes[place].chord != self.notes[place - 1].chord

    def _legal(self, place: int, chord: int) -> tuple[int, ...]:
        rules = self.rules
        pitch = self.notes[place].pitch
        return handoffs(rules.handoff, pitch, rules.progression.chords[chord], rules.approach.reach)


def _slip(rule: str, message: str, place: int | None) -> Fault:
    return Fault(Breach(rule, message, place), SLIP)


def _longer(path: _Path, move: _Move) -> _Path:
    late = tuple(-fault.breach.index for fault in move.faults if fault.breach.index is not None)
    cost = sum(fault.cost for fault in move.faults)
    approach = move.roles.count(APPROACH)
    return _Path(path.cost + cost, path.late + late, path.approach + approach, move, path)
