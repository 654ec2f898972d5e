"""The anatomy of a line as a nondeterministic acceptor.

A line may have several analyses, so after any number of notes several *readings* are open at once.
Everything that the readings have in common is kept in one ``Front``: the set of all readings that the notes
so far allow. A front moves as a whole, ``Anatomy.moves`` gives, for each note that may come next, the front
after it. Two lines with the same notes therefore never part, and each line is met once however many
analyses it has.

When notes may begin is up to ``rules.rhythm``, how one may follow another up to the table in ``rules.moves``;
what makes up a front is in ``rules.front``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from everyline.rules.endings import PlacedEnding
from everyline.rules.front import (
    ENDED,
    FIGURE,
    NO_TAILS,
    NO_TONES,
    NOTHING_OPEN,
    Course,
    Firsts,
    Front,
    Moment,
    OpenMoves,
    Pending,
    Tone,
    by_first_note,
    joined,
    under_way,
)
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.moves.base import Move
from everyline.rules.moves.table import move_table
from everyline.rules.rhythm import Step, Stop, rhythm_of
from everyline.rules.ruleset import Rules

_NONE: frozenset[int] = frozenset()


@dataclass
class Anatomy:
    """The acceptor for the anatomy of a line under given rules; the limits are not part of it."""

    rules: Rules

    def __post_init__(self) -> None:
        """Lay out the rhythm and the moves."""
        rules = self.rules
        self.resolution = rules.resolution_tick
        self.rhythm = rhythm_of(rules)
        self.table = move_table(rules)
        self.all_met = (1 << len(rules.must_targets)) - 1
        self._by_start: dict[int, list[PlacedEnding]] = {}
        for ending in rules.endings:
            self._by_start.setdefault(ending.start, []).append(ending)
        self._after = lru_cache(maxsize=None)(self._tones_after)
        self._landed = lru_cache(maxsize=None)(self._landed_on)
        self._courses = lru_cache(maxsize=None)(self._courses_of)
        self._begun = lru_cache(maxsize=None)(_begun_moves)
        self._led_into = lru_cache(maxsize=None)(self._led_into_from)
        self._moments: dict[Step, Moment] = {}
        self._may_begin: dict[Moment, list[tuple[int, Move]]] = {}
        self._like = self._alike()

    # -- moments ---------------------------------------------------------------------------------------------

    def moment(self, step: Step) -> Moment:
        """What a step of the rhythm allows."""
        found = self._moments.get(step)
        if found is None:
            found = self._moments[step] = self._worked_out(step)
        return found

    def _worked_out(self, step: Step) -> Moment:
        slot = step.onset // self.rules.slot_ticks
        chord = self._like[self.rules.progression.chord_index(slot)]
        on_beat = step.onset % TICKS_PER_BEAT == 0
        resolves = step.onset == self.resolution
        inside = across = filled = filled_across = _NONE
        if not step.fresh:
            ahead = self.rhythm.ahead(step.node)
            inside, across = (frozenset(n + 1 for n in each) for each in (ahead.inside, ahead.across))
            if self.rules.passing.kinds and (self.rhythm.passing_on_beat or not on_beat):
                filled = frozenset(n + 1 for n in ahead.filled)
                filled_across = frozenset(n + 1 for n in ahead.filled_across)
        return Moment(
            *(chord, step.fresh, resolves, on_beat, step.rest, inside, across, filled, filled_across),
            slot if self.all_met else None,
        )

    def _alike(self) -> list[int]:
        """For each chord the first one over which, and into which, the same moves may be made."""
        if self.all_met:
            return list(range(len(self.rules.progression.chords)))
        table = self.table
        seen: dict[tuple[object, ...], int] = {}
        found = []
        for chord, ground in enumerate(table.grounds):
            around = slice(max(0, chord - 1), chord + 1)
            key = (
                ground,
                *table.grounds[chord + 1 : chord + 2],
                table.figures[around],
                table.fills[around],
            )
            found.append(seen.setdefault(key, chord))
        return found

    @staticmethod
    def landing(moment: Moment) -> Moment:
        """The moment as far as moves under way depend on it: where they land, not what may begin."""
        return moment._replace(inside=_NONE, across=_NONE, filled=_NONE, filled_across=_NONE)

    # -- entries ---------------------------------------------------------------------------------------------

    def entries(self, step: Step) -> dict[int, Front]:
        """For each first pitch of a line that begins with a step, the front after it."""
        rules = self.rules
        chord = rules.progression.chords[0]
        allowed = {p for p in rules.pitches if rules.entry.allows(p, chord.root_class)}
        blank = Tone(since=rules.approach.after)
        tones = frozenset((blank,))
        fronts = {
            pitch: Front(pitch, tones, NOTHING_OPEN, NO_TAILS, False)
            for pitch in allowed
            if pitch % 12 in chord.tone_classes
        }
        after = self.table.opening.after(blank, 0)
        moment = self.moment(step)
        if after is None or not moment.inside:
            return fronts
        course = Course(FIGURE, False, after)
        for first, left in self.table.opening.opening(moment).items():
            if first in allowed:
                opened: OpenMoves = frozenset(((course, left),))
                known = fronts.get(first)
                fronts[first] = under_way(opened) if known is None else known._replace(pending=opened)
        return fronts

    # -- moves -----------------------------------------------------------------------------------------------

    def moves(self, moment: Moment, front: Front) -> dict[int, Front]:
        """For each pitch that may come next as a note of the body, the front after it.

        At the resolution these notes end the line (the ending without a stock figure).
        """
        tones: dict[int, frozenset[Tone]] = {}
        fronts: dict[int, Front] = {}
        if front.tones:
            may_begin = self._may_begin.get(moment)
            if may_begin is None:
                found = [(n, move) for n, move in enumerate(self.table.moves) if move.may_begin(moment)]
                may_begin = self._may_begin[moment] = found
            for number, move in may_begin:
                self._begin(number, move, moment, front, tones, fronts)
        if not moment.rest:
            for course, pending in front.pending:
                self._go_on(moment, course, pending, tones, fronts)
        if moment.resolves:
            return dict.fromkeys(tones, ENDED)
        for pitch, readings in tones.items():
            opened = fronts[pitch].pending if pitch in fronts else NOTHING_OPEN
            fronts[pitch] = Front(pitch, readings, opened, NO_TAILS, False)
        return fronts

    def _begin(
        self,
        number: int,
        move: Move,
        moment: Moment,
        front: Front,
        tones: dict[int, frozenset[Tone]],
        fronts: dict[int, Front],
    ) -> None:
        """Begin one kind of move after a chord tone."""
        firsts = move.firsts(moment, front.pitch)
        if not firsts:
            return
        if () in next(iter(firsts.values())):  # it lands at once, whatever note it takes
            after = self._after(front.tones, number, moment.fresh, moment.chord, moment.resolves)
            if after:
                for pitch in firsts:
                    tones[pitch] = tones[pitch] | after if pitch in tones else after
            return
        courses = self._courses(front.tones, number, moment.chord)
        if courses:
            for first, left in firsts.items():
                opened = self._begun(courses, left)
                fronts[first] = joined(fronts[first], opened) if first in fronts else opened

    def _go_on(
        self,
        moment: Moment,
        course: Course,
        pending: Pending,
        tones: dict[int, frozenset[Tone]],
        fronts: dict[int, Front],
    ) -> None:
        """The next note of moves under way, or the chord tone that they land on."""
        on_way, landing = _advance(course, pending)
        if on_way and not moment.fresh and (course.kind == FIGURE or self._may_pass(moment)):
            for pitch, opened in on_way:
                fronts[pitch] = joined(fronts[pitch], opened) if pitch in fronts else opened
        if not landing or course.across != moment.fresh or (course.kind == FIGURE and not moment.on_beat):
            return
        for pitch in landing:
            met = self._met(moment, pitch) if self.all_met and course.kind == FIGURE else 0
            after = self._landed(course.after, met, moment.fresh, moment.chord, moment.resolves)
            if after:
                tones[pitch] = tones[pitch] | after if pitch in tones else after

    def _may_pass(self, moment: Moment) -> bool:
        return self.rhythm.passing_on_beat or not moment.on_beat

    def _met(self, moment: Moment, target: int) -> int:
        """The must-target limits that landing here meets, as bits."""
        degree = (target - self.rules.progression.chords[moment.chord].root_class) % 12
        assert moment.slot is not None
        return sum(
            1 << bit
            for bit, limit in enumerate(self.rules.must_targets)
            if limit.meets(moment.chord, degree, moment.slot)
        )

    # -- endings ---------------------------------------------------------------------------------------------

    def ending_starts(self, stop: Stop, front: Front) -> tuple[Events, ...]:
        """The stock endings that may begin at a stop after the front, as the events each would play."""
        found = [ending.after(front.pitch) for ending in self.endings_led_into(stop, front)]
        pitches = self.rules.pitches
        return tuple([events for events in found if all(event.pitch in pitches for event in events)])

    def endings_at(self, stop: Stop) -> list[PlacedEnding]:
        """The stock endings that begin at a stop."""
        return self._by_start.get(stop.tick, [])

    def endings_led_into(self, stop: Stop, front: Front) -> tuple[PlacedEnding, ...]:
        """The stock endings at a stop whose first note may follow the front; later ones may leave the
        range."""
        if not front.tones or not self._may_end(stop, front.tones):
            return ()
        return self._led_into(stop.tick, front.pitch)

    def _led_into_from(self, tick: int, pitch: int) -> tuple[PlacedEnding, ...]:
        """The endings at a tick that a note leads into."""
        nearest = self.rules.lead_in
        endings = self._by_start[tick]
        return tuple([e for e in endings if 0 < abs(e.notes[0].pitch_after(pitch) - pitch) <= nearest])

    def _may_end(self, stop: Stop, tones: frozenset[Tone]) -> bool:
        """Whether some reading is a finished body: last a chord tone, counts complete, must-targets met."""
        chord = self.rules.progression.chord_index(stop.tick // self.rules.slot_ticks)
        if stop.fresh:  # this chord is never sounded before the ending, so its counts are 0
            if self.table.figures[chord].least or self.table.fills[chord].least:
                return False
            chord -= 1
        return any(self._complete(tone, chord) and tone.met == self.all_met for tone in tones)

    def _complete(self, tone: Tone, chord: int) -> bool:
        """Whether a chord that is left on a tone has all that must begin in it."""
        table = self.table
        return tone.figures >= table.figures[chord].least and tone.fills >= table.fills[chord].least

    # -- readings after a move, each kind worked out once ----------------------------------------------------

    def _tones_after(
        self, tones: frozenset[Tone], number: int, fresh: bool, chord: int, resolves: bool
    ) -> frozenset[Tone]:
        """The readings on the chord tone of a move that lands at once."""
        move = self.table.moves[number]
        left = chord - 1 if fresh else chord
        found: set[Tone] = set()
        for tone in tones:
            after = move.after(tone, left)
            if after is not None:
                found |= self._landed(after, 0, fresh, chord, resolves)
        return frozenset(found)

    def _landed_on(self, after: Tone, met: int, fresh: bool, chord: int, resolves: bool) -> frozenset[Tone]:
        """The reading on a chord tone that a move leads to; none where the chord left lacks something."""
        if met:
            after = after._replace(met=after.met | met)
        if fresh:
            if not self._complete(after, chord - 1):
                return NO_TONES
            after = Tone(since=after.since, met=after.met)
        if resolves and after.met != self.all_met:
            return NO_TONES
        return frozenset((after,))

    def _courses_of(self, tones: frozenset[Tone], number: int, chord: int) -> tuple[Course, ...]:
        """How moves of several notes that begin now are to end; none where none may begin."""
        move = self.table.moves[number]
        found = {move.after(tone, chord) for tone in tones}
        return tuple(Course(move.kind, move.across, after) for after in found if after is not None)


def _begun_moves(courses: tuple[Course, ...], left: Pending) -> Front:
    return under_way(frozenset([(course, left) for course in courses]))


@lru_cache(maxsize=1 << 16)
def _advance(course: Course, pending: Pending) -> tuple[tuple[tuple[int, Front], ...], tuple[int, ...]]:
    """(the front after one more note of moves under way, for each that any can play; the chord tones that
    those with no such note left land on)."""
    left: Firsts = by_first_note(each for each in pending if len(each) > 1)
    on_way = tuple([(pitch, under_way(frozenset(((course, each),)))) for pitch, each in left.items()])
    return on_way, tuple([each[0] for each in pending if len(each) == 1])
