"""Why a note is not offered as the next one of a line that is being built, in one sentence.

A note can be refused for four reasons: it is out of range; a limit or a rule of one's own forbids it; no
move of the anatomy leads to it (then the lenient reading of ``rules.faults`` says what is wrong with it, read
as what it most nearly is); or it may well be played, but no line gets from there to its end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from everyline.corpora.counted import choice, plural
from everyline.corpora.errors import InputError
from everyline.rules.acceptor import Breach
from everyline.rules.annotate import spell_line
from everyline.rules.fault_words import Words
from everyline.rules.faults import read
from everyline.rules.front import FILL, Front, Tone
from everyline.rules.ladder import figure_pitches
from everyline.rules.limits.base import calling, place
from everyline.rules.line import Event, Events
from everyline.rules.pitch import is_pitch, parse_pitch
from everyline.rules.rhythm import Step
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.reuse import join_limits, without_limits
from everyline.spaces.following import Following
from everyline.spaces.space import Space

LATER = frozenset({"count", "passing"})
"""Rules whose faults after the note are of a line that is not finished yet."""
FARTHEST = 30_000
"""Moments with all that is open at them that are looked at to say how far lines get."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What is to be said of a next note: its name and place, how many lines go on from it (0 where it is not
    offered), and the reason, or the count, in one sentence."""

    event: Event
    name: str
    place: str
    count: int
    sentence: str


def why_not(space: Space, beginning: object, wanted: object) -> Answer:
    """Why a note may not come next, or how many lines go on from it.

    ``wanted`` is a pitch ("Eb4" or a MIDI number), meant where the next note may first begin, or an event
    (onset, pitch, length in ticks, 480 a beat). Raises InputError for what no line begins with, for what is
    no note, and over a chorus plan, whose phrases have rules of their own.
    """
    following = space.after(beginning)
    event, offered = _meant(space, following, wanted)
    name = spell_line(space.rules, (*following.beginning, event))[-1]
    where = place(space.rules.progression, event.onset)
    if offered:
        sentence = f"{name} may come next, on {where}: {plural(offered, 'line')} go on from it."
        return Answer(event, name, where, offered, sentence.replace("1 line go on", "1 line goes on"))
    return Answer(event, name, where, 0, _Refusal(space, following.beginning, event).sentence())


def _meant(space: Space, following: Following, wanted: object) -> tuple[Event, int]:
    """The event that is meant, and how many lines go on from it."""
    counts = {note.event: note.count for note in following.notes}
    if isinstance(wanted, tuple | list) and len(wanted) == 3:
        event = Event(*wanted)
        if (event.onset, event.length) not in {(each.onset, each.length) for each in counts}:
            raise InputError(
                f"no note may begin on tick {event.onset} and last {event.length} ticks; name a moment at "
                "which one may come next."
            )
        return event, counts.get(event, 0)
    pitch = _pitch(wanted)
    offered = next((event for event in counts if event.pitch == pitch), None)
    if offered is not None:
        return offered, counts[offered]
    if not counts:
        raise InputError("the line is over here: no note may come next; take one back first.")
    first = min(counts)
    return first._replace(pitch=pitch), 0


def _pitch(wanted: object) -> int:
    if isinstance(wanted, int) and not isinstance(wanted, bool) and 0 <= wanted <= 127:
        return wanted
    text = str(wanted).strip()
    if isinstance(wanted, str) and is_pitch(text):
        return parse_pitch(text)
    raise InputError(f'"{text[:40]}" is no note; write a pitch with its octave, such as Eb4.')


class _Refusal:
    """Finds the reason against one note."""

    def __init__(self, space: Space, begun: Events, event: Event) -> None:
        self.space, self.rules = space, space.rules
        self.begun, self.event = begun, event
        self.events = (*begun, event)
        self.words = Words(self.rules, self.events)
        self.last = len(begun)
        self.anatomy = self.rules.readings.anatomy

    def sentence(self) -> str:
        """The reason as one sentence."""
        names = spell_line(self.rules, self.events)
        with calling(self.rules.notes(self.events), names):
            if self.event.pitch not in self.rules.pitches:
                return self.words.out_of_range(self.last)
            base = self._without_limits()
            if base.after(self.events) is not None:
                return self._limit(base)
            return self._on_the_way() or self._read() or self._dead_end()

    def _without_limits(self) -> Diagram:
        if not self.rules.limits and not self.rules.filters:
            return self.space.diagram
        return _under_limits(without_limits(self.rules))

    # -- limits ----------------------------------------------------------------------------------------------

    def _limit(self, base: Diagram) -> str:
        """The limit that forbids a note which the anatomy allows."""
        notes = self.rules.notes(self.events)
        for limit in self.rules.limits:
            state = limit.start()
            for note in notes:
                state = limit.step(state, note) if state is not None else None
            if state is None:
                told = [each.message for each in limit.explain(notes) if each.index in (self.last, None)]
                return told[0] if told else f"{limit.describe()}, and {self._called()} breaks that."
        for limit in self.rules.limits:
            others = tuple(each for each in self.rules.limits if each is not limit)
            after = join_limits(base, replace(self.rules, limits=others)).after(self.events)
            if after is not None:
                return (
                    f"no line that goes on with {self._called()} can keep to this limit: {limit.describe()}; "
                    f"without it there would be {plural(after.count, 'such line')}."
                )
        return f"no line that goes on with {self._called()} can keep to all limits and own rules at once."

    # -- the anatomy -----------------------------------------------------------------------------------------

    def _on_the_way(self) -> str | None:
        """A figure or passing notes under way, which go on in their own notes."""
        front, _ = self._front(self.begun)
        if front is None:
            return self._in_the_ending()
        if front.tones or not front.pending:
            return None
        kind = {course.kind for course, _ in front.pending}
        left = {run for _, runs in front.pending for run in runs}
        what = "passing notes are" if kind == {FILL} else "an approach figure is"
        onward = choice(" ".join(self._names(run)) for run in sorted(left))
        goes = "go" if kind == {FILL} else "goes"
        return f"{self._called()} does not fit: {what} under way and {goes} on with {onward}."

    def _in_the_ending(self) -> str:
        names = [note.name for note in self.space.after(self.begun).notes]
        return f"{self._called()} does not fit: an ending is under way and goes on with {choice(names)}."

    def _names(self, pitches: tuple[int, ...]) -> list[str]:
        ticks = self.rules.slot_ticks
        played = (Event(self.event.onset + k * ticks, pitch, ticks) for k, pitch in enumerate(pitches))
        return list(spell_line(self.rules, (*self.begun, *played))[self.last :])

    def _read(self) -> str | None:
        """What is wrong with the note, read as what it most nearly is; None where nothing is."""
        best: tuple[int, str] | None = None
        for more in self._continuations():
            events = (*self.begun, *more)
            found = [breach.message for breach in read(self.rules, events).breaches if self._concerns(breach)]
            if not found and len(more) > 1:
                return None
            if found and (best is None or len(found) < best[0]):
                best = len(found), found[0]
            elif not found:
                return None
        return best[1] if best is not None else None

    def _concerns(self, breach: Breach) -> bool:
        """Whether a fault says something of the note, and not of a line that is not finished yet."""
        if breach.index is None or breach.index < self.last or breach.rule == "resolution":
            return False
        return breach.index == self.last or breach.rule not in LATER

    def _continuations(self) -> Iterator[Events]:
        """The note alone, then with the rest of each figure and each ending that it could begin."""
        yield (self.event,)
        rules, event, ticks = self.rules, self.event, self.rules.slot_ticks
        progression = rules.progression
        note = rules.note(event)
        if note.chord_tone and event.onset % ticks == 0 and not self.begun:
            return
        for figure in rules.approach.figures:
            slot = note.slot + len(figure.steps)
            if slot > progression.resolution or note.chord_tone:
                continue
            chord = progression.chord_index(slot)
            root = progression.chords[chord].root_class
            for target in range(event.pitch - 5, event.pitch + 6):
                pitches = figure_pitches(figure.steps, target, root, rules.scales[chord])
                if pitches[0] == event.pitch and target % 12 in progression.chords[chord].tone_classes:
                    run = (*pitches, target)
                    yield tuple(Event(event.onset + k * ticks, p, ticks) for k, p in enumerate(run))
        for ending in rules.endings:
            if self.begun and ending.start == event.onset:
                heard = ending.after(self.begun[-1].pitch)
                shift = event.pitch - heard[0].pitch
                if shift % 12 == 0:
                    yield tuple(each._replace(pitch=each.pitch + shift) for each in heard)

    # -- dead ends -------------------------------------------------------------------------------------------

    def _dead_end(self) -> str:
        """How far lines get that go on so."""
        reached = self._farthest()
        if reached is None or reached >= self.rules.resolution_tick:
            return (
                f"{self._called()} could be played, but no line that goes on from it comes to an ending that "
                "these rules allow."
            )
        return (
            f"{self._called()} could be played, but no line gets from it to the end: all break off by "
            f"{place(self.rules.progression, reached)}."
        )

    def _front(self, events: Events) -> tuple[Front | None, Step | None]:
        """Everything that is open after some notes of the body, and the step of the last; None in an
        ending."""
        front: Front | None = None
        step: Step | None = None
        steps = list(self.rules.readings.steps(events))
        if len(steps) < len(events):
            return None, None
        for step, event in zip(steps, events, strict=True):
            fronts = (
                self.anatomy.entries(step)
                if front is None
                else self.anatomy.moves(self.anatomy.moment(step), front)
            )
            front = fronts.get(event.pitch)
            if front is None:
                return None, None
        return front or _OPEN, step

    def _farthest(self) -> int | None:
        """The last tick on which a note can begin in any line of the body that goes on so."""
        front, step = self._front(self.events)
        if front is None or step is None:
            return None
        pitches, seen = self.rules.pitches, {(step.node, front)}
        layer, reached = [(step.node, front)], self.event.onset
        while layer and len(seen) < FARTHEST:
            node, front = layer.pop()
            for step in self.anatomy.rhythm.nodes[node].steps:
                for pitch, after in self.anatomy.moves(self.anatomy.moment(step), front).items():
                    key = (step.node, after)
                    if pitch in pitches and key not in seen:
                        seen.add(key)
                        layer.append(key)
                        reached = max(reached, step.onset)
        return reached

    def _called(self) -> str:
        return self.words.note(self.last)


_OPEN = Front(0, frozenset((Tone(),)), frozenset(), frozenset(), False)
"""Before the first note nothing is under way."""


@lru_cache(maxsize=8)
def _under_limits(rules: Rules) -> Diagram:
    return compile_rules(rules)
