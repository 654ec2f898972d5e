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

from everyline.corpora import Figure
from everyline.rules import passing_words
from everyline.rules.acceptor import Breach
from everyline.rules.analysis import (
    APPROACH,
    ARPEGGIO,
    ENDING,
    ENTRY,
    HANDOFF,
    PASSING,
    PLAIN,
    TARGET,
    UNEXPLAINED,
    PlacedFigure,
)
from everyline.rules.chords import Chord
from everyline.rules.fault_ending_words import EndingWords
from everyline.rules.fault_endings import ASTRAY, STRANGE, EndingFaults, Fault, rhythm_faults, slip
from everyline.rules.fault_paths import Move, Path, State, longer
from everyline.rules.ladder import figure_pitches, handoffs, rung
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.moves.passing import KINDS, between
from everyline.rules.rhythm import MOST_PASSING
from everyline.rules.ruleset import Rules


@dataclass(frozen=True, slots=True)
class Reading:
    """The likeliest reading of a line: a role for each note, the figures, the ending (None where none is
    heard), and what is wrong."""

    roles: tuple[str, ...]
    figures: tuple[PlacedFigure, ...]
    ending: str | None
    breaches: tuple[Breach, ...]


def read(rules: Rules, events: Events) -> Reading:
    """The reading of a line (one note at least) with the fewest faults; none for a line of valid anatomy."""
    return _Reader(rules, events).run()


class _Reader:
    def __init__(self, rules: Rules, events: Events) -> None:
        self.rules = rules
        self.events = events
        self.notes = rules.notes(events)
        self.words = EndingWords(rules, events)
        self.resolution = rules.resolution_tick
        self._grid = rhythm_faults(rules, events, self.words)
        self._endings_at = cache(EndingFaults(rules, events, self.words).at)
        self._all_met = (1 << len(rules.must_targets)) - 1

    def run(self) -> Reading:
        size = len(self.notes)
        layers: list[dict[State, Path]] = [{} for _ in range(size + 1)]
        finals: list[Path] = []
        start = State(since=self.rules.approach.after)
        layers[0][start] = Path(0, (), 0, None, None)
        for place in range(size):
            for state, path in layers[place].items():
                for move in self._moves(place, state):
                    onward = longer(path, move)
                    if move.ending is not None:
                        finals.append(onward)
                        continue
                    known = layers[move.next].get(move.state)
                    if known is None or onward.rank < known.rank:
                        layers[move.next][move.state] = onward
        for state, path in layers[size].items():
            finals.append(longer(path, self._stop(state)))
        return self._reading(min(finals, key=lambda path: path.rank))

    def _reading(self, path: Path) -> Reading:
        roles: list[str] = []
        figures: list[PlacedFigure] = []
        faults: list[Fault] = []
        ending = path.move.ending if path.move else None
        link: Path | None = path
        while link is not None and link.move is not None:
            roles[:0] = link.move.roles
            faults[:0] = link.move.faults
            if link.move.figure is not None:
                figures.insert(0, link.move.figure)
            link = link.before
        return Reading(tuple(roles), tuple(figures), ending or None, tuple(f.breach for f in faults))

    # -- moves -----------------------------------------------------------------------------------------------

    def _moves(self, place: int, state: State) -> Iterator[Move]:
        """Every way to read the note at ``place``, or what begins there."""
        if place:
            yield from self._into_ending(place, state)
        note = self.notes[place]
        if place and note.onset > self.resolution:
            roles = (UNEXPLAINED,) * (len(self.notes) - place)
            late = Fault(Breach("resolution", self.words.late(place), place), ASTRAY - 1)
            yield Move(len(self.notes), state, roles, (late, *self._left(state)), ending="")
        elif not place:
            yield from self._entry(state)
        elif self._fresh(place):
            yield from self._handoff(place, state)
        else:
            yield from self._arpeggio(place, state)
            yield from self._figures(place, state)
            yield from self._filled(place, state)

    def _entry(self, state: State) -> Iterator[Move]:
        rules, note = self.rules, self.notes[0]
        faults = self._grid[0]
        if not rules.entry.allows(note.pitch, rules.progression.chords[0].root_class):
            faults += (slip("entry", self.words.entry_note(), 0),)
        if note.chord_tone:
            yield Move(1, state, (ENTRY,), faults)
        else:
            strange = Breach("entry", self.words.entry_tone(self.words.hints(0)), 0)
            yield Move(1, state._replace(loose=True), (UNEXPLAINED,), (*faults, Fault(strange, STRANGE)))
        for move in self._figures(0, state):
            yield move._replace(faults=faults + move.faults[len(self._grid[0]) :])

    def _handoff(self, place: int, state: State) -> Iterator[Move]:
        note = self.notes[place]
        faults = self._grid[place] + self._too_few(place, state)
        after = self._tone(state, note.chord_tone)._replace(run=0, turns=0, skips=0, figures=0, fills=0)
        if not note.chord_tone:
            strange = Fault(Breach("handoff", self.words.handoff(place), place), STRANGE)
            yield Move(place + 1, after._replace(loose=True), (UNEXPLAINED,), (*faults, strange))
            return
        if not state.loose and note.pitch not in self._legal(place - 1, note.chord):
            faults += (slip("handoff", self.words.handoff(place), place),)
        yield Move(place + 1, after, (HANDOFF,), faults)

    def _arpeggio(self, place: int, state: State) -> Iterator[Move]:
        rules = self.rules
        note, before = self.notes[place], self.notes[place - 1]
        faults = self._grid[place]
        after = self._tone(state, note.chord_tone)
        if not note.chord_tone:
            hints = self.words.hints(place)
            strange = Fault(Breach("arpeggio", self.words.unexplained(place, hints), place), STRANGE)
            loose = after._replace(run=0, turns=0, skips=0, loose=True)
            yield Move(place + 1, loose, (UNEXPLAINED,), (*faults, strange))
            return
        if state.loose:
            yield Move(place + 1, after._replace(run=0, turns=0, skips=0), (ARPEGGIO,), faults)
            return
        way = 1 if note.pitch > before.pitch else -1
        chord = rules.progression.chords[note.chord]
        rungs = self._rungs(chord, before.pitch, note.pitch, way)
        moved = after._replace(run=0, turns=0, skips=0)
        if rungs:
            turns, skips = state.turns + (state.run == -way), state.skips + rungs - 1
            moved = after._replace(
                run=way, turns=min(turns, rules.arpeggio.turns), skips=min(skips, rules.arpeggio.skips)
            )
            allowed = turns <= rules.arpeggio.turns and skips <= rules.arpeggio.skips
            if allowed and way in rules.arpeggio.directions:
                yield Move(place + 1, moved, (ARPEGGIO,), faults)
                return
        wrong = slip("arpeggio", self.words.arpeggio(place, rungs), place)
        yield Move(place + 1, moved, (ARPEGGIO,), (*faults, wrong))

    @staticmethod
    def _rungs(chord: Chord, before: int, pitch: int, way: int) -> int:
        """1 for the next rung, 2 for the one after it, 0 for any other note."""
        first = rung(chord, before, way)
        return 1 if pitch == first else 2 if pitch == rung(chord, first, way) else 0

    def _tone(self, state: State, chord_tone: bool) -> State:
        since = min(state.since + chord_tone, self.rules.approach.after)
        return state._replace(since=since, loose=False)

    # -- figures ---------------------------------------------------------------------------------------------

    def _figures(self, place: int, state: State) -> Iterator[Move]:
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

    def _figure(self, figure: Figure, place: int, target: int, state: State) -> Move:
        rules, words = self.rules, self.words
        approach, note, home = rules.approach, self.notes[target], self.notes[place].chord
        faults = [fault for at in range(place, target + 1) for fault in self._grid[at]]
        if place and not state.loose:
            if not 0 < abs(self.notes[place].pitch - self.notes[place - 1].pitch) <= approach.reach:
                faults.append(slip("reach", words.reach(figure, place), place))
        if place and state.since < approach.after:
            faults.append(slip("after", words.after(figure, place, state.since), place))
        if state.figures >= approach.bounds(home)[1]:
            faults.append(slip("count", words.too_many(figure, place), place))
        if note.onset % TICKS_PER_BEAT:
            faults.append(slip("parity", words.parity(figure, place, target), target))
        if approach.targets is not None and note.degree not in approach.targets:
            faults.append(slip("targets", words.target(figure, target), target))
        faults += self._rests(place, target, f"the figure {figure.name}")
        begun = state._replace(figures=state.figures + 1)
        figures, fills = begun.figures, begun.fills
        if self._fresh(target):
            faults += self._too_few(target, begun)
            if not state.loose and note.pitch not in self._legal(place - 1, note.chord):
                faults.append(slip("handoff", self._crossing(place, target), target))
            figures = fills = 0
        met = state.met
        for bit, limit in enumerate(rules.must_targets):
            if limit.meets(note.chord, note.degree, note.slot):
                met |= 1 << bit
        after = State(figures=figures, fills=fills, since=min(1, approach.after), met=met)
        roles = (APPROACH,) * len(figure.steps) + (TARGET,)
        return Move(target + 1, after, roles, tuple(faults), PlacedFigure(figure.name, place, target))

    def _crossing(self, place: int, target: int) -> str:
        """A figure into a new chord hands off from the last note before it, not from its own notes."""
        events = (*self.events[:place], self.events[target])
        return EndingWords(self.rules, events).handoff(place)

    # -- passing notes ---------------------------------------------------------------------------------------

    def _filled(self, place: int, state: State) -> Iterator[Move]:
        """The notes from ``place`` on as passing notes on the way to a chord tone."""
        if state.loose or not place or self.notes[place - 1].chord != self.notes[place].chord:
            return
        home, before = self.notes[place].chord, self.notes[place - 1].pitch
        ground = self.rules.readings.anatomy.table.grounds[home]
        for target in range(place + 1, min(place + MOST_PASSING, len(self.notes) - 1) + 1):
            goal = self.notes[target]
            fresh = self._fresh(target)
            if goal.onset > self.resolution or (fresh and goal.chord != home + 1):
                return
            inside = tuple([self.notes[at].pitch for at in range(place, target)])
            kinds = [kind for kind in KINDS if between(kind, ground, before, goal.pitch) == inside]
            way = 1 if goal.pitch > before else -1
            reached = (goal.pitch - rung(ground.chord, before, way)) * way
            if kinds and goal.chord_tone and (reached <= 0 if fresh else reached == 0):
                yield self._fill(place, target, state, kinds, way)
            if fresh:
                return

    def _fill(self, place: int, target: int, state: State, kinds: list[str], way: int) -> Move:
        rules, words = self.rules, self.words
        home, goal = self.notes[place].chord, self.notes[target]
        faults = [fault for at in range(place, target + 1) for fault in self._grid[at]]
        faults += self._rests(place, target, "a move with passing notes")
        if not set(kinds) & set(rules.passing.kinds):
            faults.append(slip("passing", passing_words.unwanted(words, place, kinds), place))
        elif state.fills >= rules.passing.bounds(home)[1]:
            faults.append(slip("passing", passing_words.too_many(words, place), place))
        if rules.passing.kinds and rules.passing.place == "off":
            on = [at for at in range(place, target) if self.notes[at].onset % TICKS_PER_BEAT == 0]
            faults += [slip("passing", passing_words.on_beat(words, at), at) for at in on]
        begun = self._tone(state, True)._replace(fills=state.fills + 1)
        roles: tuple[str, ...] = (PASSING,) * (target - place)
        if self._fresh(target):
            faults += self._too_few(target, begun)
            if goal.pitch not in self._legal(place - 1, goal.chord):
                faults.append(slip("handoff", self._crossing(place, target), target))
            after = State(since=begun.since, met=begun.met)
            return Move(target + 1, after, (*roles, HANDOFF), tuple(faults))
        turns = state.turns + (state.run == -way)
        if turns > rules.arpeggio.turns or way not in rules.arpeggio.directions:
            faults.append(slip("arpeggio", passing_words.turned(words, target, way), target))
        moved = begun._replace(run=way, turns=min(turns, rules.arpeggio.turns))
        return Move(target + 1, moved, (*roles, ARPEGGIO), tuple(faults))

    # -- endings ---------------------------------------------------------------------------------------------

    def _into_ending(self, place: int, state: State) -> Iterator[Move]:
        size = len(self.notes)
        roles = (ENDING,) * (size - place)
        for heard in self._endings_at(place):
            lead = () if state.loose else heard.lead_in
            rest = self._left(state, place)
            yield Move(size, state, roles, (*lead, *heard.faults, *rest), ending=heard.name)
        if self._astray(place):
            unknown = Fault(Breach("ending", self.words.unknown_ending(place), place), ASTRAY)
            unheard = (UNEXPLAINED,) * (size - place)
            yield Move(size, state, unheard, (unknown, *self._left(state, place)), ending="")

    def _astray(self, place: int) -> bool:
        """Whether an ending that nobody knows may begin here: the rest resolves, but not slot by slot."""
        progression = self.rules.progression
        if self.notes[place].chord < len(progression.chords) - 2 or self.events[-1].onset < self.resolution:
            return False
        rest = range(place, len(self.notes))
        return self.events[-1].onset > self.resolution or any(self._grid[at] for at in rest)

    def _stop(self, state: State) -> Move:
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
            faults.append(slip("ending", self.words.final_length(), size - 1))
        faults += self._unmet(state)
        return Move(size, state, (), tuple(faults), ending=ending)

    def _left(self, state: State, place: int | None = None) -> tuple[Fault, ...]:
        """What is still missing where the body ends: figures in the chord that the ending cuts, targets."""
        found = list(self._unmet(state))
        if place is None:
            return tuple(found)
        chord, before = self.notes[place].chord, self.notes[place - 1].chord
        found += self._lacking(before, state, place)
        if self._fresh(place):
            found += self._lacking(chord, State(), place)
        return tuple(found)

    def _unmet(self, state: State) -> tuple[Fault, ...]:
        return tuple(
            slip(limit.kind, f"no approach figure lands on {limit.wanted}.", None)
            for bit, limit in enumerate(self.rules.must_targets)
            if not state.met >> bit & 1
        )

    # -- facts -----------------------------------------------------------------------------------------------

    def _too_few(self, place: int, state: State) -> tuple[Fault, ...]:
        """The chord just left has fewer figures, or filled moves, than it must have."""
        return self._lacking(self.notes[place - 1].chord, state, place)

    def _lacking(self, chord: int, state: State, place: int) -> tuple[Fault, ...]:
        found = []
        if state.figures < self.rules.approach.bounds(chord)[0]:
            found.append(slip("count", self.words.too_few(chord, state.figures), place))
        if state.fills < self.rules.passing.bounds(chord)[0]:
            found.append(slip("passing", passing_words.too_few(self.words, chord, state.fills), place))
        return tuple(found)

    def _rests(self, place: int, target: int, what: str) -> tuple[Fault, ...]:
        """Rests where notes have to follow one another."""
        return tuple(
            slip("rhythm", passing_words.rest_inside(self.words, at, what), at)
            for at in range(place + 1, target + 1)
            if self.notes[at].onset > self.notes[at - 1].end and not self._grid[at]
        )

    def _fresh(self, place: int) -> bool:
        """Whether a note is the first of a new chord."""
        return place > 0 and self.notes[place].chord != self.notes[place - 1].chord

    def _legal(self, place: int, chord: int) -> tuple[int, ...]:
        rules = self.rules
        pitch = self.notes[place].pitch
        return handoffs(rules.handoff, pitch, rules.progression.chords[chord], rules.approach.reach)
