"""The anatomy of a line as a nondeterministic acceptor.

A line may have several analyses, so after any number of notes several *readings* are open at once.
Everything that the readings have in common is kept in one ``Front``: the set of all readings that the notes
so far allow. A front moves as a whole, ``Anatomy.moves`` gives, for each note that may come next, the front
after it. Two lines with the same notes therefore never part, and each line is met once however many
analyses it has.

What makes up a front is told in ``everyline.rules.front``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from everyline.rules.chord_moves import all_moves, by_first_note
from everyline.rules.endings import PlacedEnding
from everyline.rules.front import (
    ENDED,
    NO_PITCH,
    NO_TAILS,
    NO_TONES,
    NOTHING_OPEN,
    Context,
    Front,
    Moment,
    OpenFigures,
    Pending,
    Tone,
)
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.ruleset import Rules


@dataclass
class Anatomy:
    """The acceptor for the anatomy of a line under given rules; the limits are not part of it."""

    rules: Rules

    def __post_init__(self) -> None:
        rules = self.rules
        progression = rules.progression
        self.resolution = progression.resolution
        self.slot_ticks = rules.slot_ticks
        self.final_length = TICKS_PER_BEAT
        self.all_met = (1 << len(rules.must_targets)) - 1
        self._moves = all_moves(rules)
        self._bounds = [rules.approach.bounds(chord) for chord in range(len(progression.chords))]
        # No chord holds so many notes: counts and turns that may go this far need not be kept apart.
        self._plenty = progression.slots - min(0, *rules.entry.slots, 0)
        self._lengths = tuple(sorted({len(f.steps) for f in rules.approach.figures}))
        self._by_start: dict[int, list[PlacedEnding]] = {}
        for ending in rules.endings:
            self._by_start.setdefault(ending.start // self.slot_ticks, []).append(ending)
        self._stepped = lru_cache(maxsize=None)(self._stepped_readings)
        self._arrived = lru_cache(maxsize=None)(self._arrived_readings)
        self._begun = lru_cache(maxsize=None)(self._begun_contexts)
        self._anchor = lru_cache(maxsize=None)(self._anchor_reading)
        self._led_into = lru_cache(maxsize=None)(self._led_into_from)
        self._begun_inside = lru_cache(maxsize=None)(self._begun_in_chord)
        self._starts = lru_cache(maxsize=None)(self._first_notes)

    # -- moments ---------------------------------------------------------------------------------------------

    def moment(self, slot: int) -> Moment:
        """What may happen on a slot of the body, the resolution slot included."""
        progression = self.rules.progression
        chord = progression.chord_index(slot)
        fresh = chord > 0 and slot == progression.starts[chord]
        inside: tuple[int, ...] = ()
        across = 0
        if not fresh:
            end = progression.starts[chord + 1]
            subdivision = progression.subdivision
            on_beat = [k for k in self._lengths if (slot + k) % subdivision == 0]
            inside = tuple(k for k in on_beat if slot + k < end)
            lands = end != self.resolution or self.rules.plain
            across = end - slot if lands and end - slot in on_beat else 0
        endings = tuple(self._by_start.get(slot, ()))
        resolves = slot == self.resolution
        apart = bool(endings) or resolves or self.all_met
        return Moment(chord, fresh, resolves, inside, across, endings, slot if apart else None)

    def landing(self, moment: Moment) -> Moment:
        """The moment as far as figures under way depend on it: where they land, not what may begin."""
        slot = moment.slot if self.all_met else None
        return Moment(moment.chord, moment.fresh, moment.resolves, (), 0, (), slot)

    def entry_slots(self) -> tuple[int, ...]:
        """The slots on which a line may start."""
        return tuple(sorted(self.rules.entry.slots))

    def entries(self, slot: int) -> dict[int, Front]:
        """For each first pitch on an entry slot, the front after it."""
        rules = self.rules
        chord = rules.progression.chords[0]
        allowed = {p for p in rules.pitches if rules.entry.allows(p, chord.root_class)}
        tone = frozenset((Tone(0, 0, 0, rules.approach.after, 0),))
        fronts = {
            p: Front(p, tone, NOTHING_OPEN, NO_TAILS, False) for p in allowed if p % 12 in chord.tone_classes
        }
        if self._bounds[0][1] < 1:
            return fronts
        begun = Context(self._count(0, 0), 0)
        for first, left in self._moves[0].figures_inside(self.moment(slot).inside).items():
            if first in allowed:
                pitch, tones = (first, tone) if first in fronts else (NO_PITCH, NO_TONES)
                fronts[first] = Front(pitch, tones, frozenset(((begun, left),)), NO_TAILS, False)
        return fronts

    # -- moves -----------------------------------------------------------------------------------------------

    def moves(self, moment: Moment, front: Front) -> dict[int, Front]:
        """For each pitch that may fill the slot as a note of the body, one slot long, the front after it.

        On the resolution slot these notes end the line (the ending without a stock figure) and last one beat.
        """
        tones: dict[int, frozenset[Tone]] = {}
        fronts: dict[int, Front] = {}
        if front.tones:
            if moment.fresh:
                self._hand_off(moment, front, tones)
            else:
                self._run_on(moment, front, tones)
                self._begin_figures(moment, front, fronts)
        for context, pending in front.pending:
            for pitch, after in _advance(context, pending):
                fronts[pitch] = _join(fronts[pitch], after) if pitch in fronts else after
            if targets := _landed(pending):
                self._land(moment, context, targets, tones)
        if moment.resolves:
            return dict.fromkeys(tones, ENDED)
        for pitch, readings in tones.items():
            under_way = fronts[pitch].pending if pitch in fronts else NOTHING_OPEN
            fronts[pitch] = Front(pitch, readings, under_way, NO_TAILS, False)
        return fronts

    def ending_starts(self, moment: Moment, front: Front) -> tuple[Events, ...]:
        """The stock endings that may begin on this slot after the front, as the events each would play."""
        found = [ending.after(front.pitch) for ending in self.endings_led_into(moment, front)]
        pitches = self.rules.pitches
        return tuple([events for events in found if all(event.pitch in pitches for event in events)])

    def endings_led_into(self, moment: Moment, front: Front) -> tuple[PlacedEnding, ...]:
        """The stock endings of this slot whose first note may follow the front; later ones may leave the
        range."""
        if not moment.endings or not self._may_end(moment, front):
            return ()
        assert moment.slot is not None
        return self._led_into(moment.slot, front.pitch)

    def _led_into_from(self, slot: int, pitch: int) -> tuple[PlacedEnding, ...]:
        """The endings of a slot that a note leads into."""
        nearest = self.rules.lead_in
        endings = self._by_start[slot]
        return tuple([e for e in endings if 0 < abs(e.notes[0].pitch_after(pitch) - pitch) <= nearest])

    def _may_end(self, moment: Moment, front: Front) -> bool:
        """Whether some reading is a finished body: last a chord tone, counts complete, must-targets met."""
        chord = moment.chord - 1 if moment.fresh else moment.chord
        least = self._bounds[chord][0]
        if moment.fresh and self._bounds[moment.chord][0] > 0:
            return False  # this chord is never sounded before the ending, so it cannot have its figures
        return any(tone.figures >= least and tone.met == self.all_met for tone in front.tones)

    def _hand_off(self, moment: Moment, front: Front, tones: dict[int, frozenset[Tone]]) -> None:
        """Go to the new chord's first note from a chord tone."""
        least = self._bounds[moment.chord - 1][0]
        wanted = self.all_met if moment.resolves else 0
        ready = self._arrived(front.tones, least, wanted)
        if ready and (self.rules.plain or not moment.resolves):
            for pitch in self._moves[moment.chord].handoffs(front.pitch):
                tones[pitch] = ready

    def _run_on(self, moment: Moment, front: Front, tones: dict[int, frozenset[Tone]]) -> None:
        """Go on from a chord tone to the next rung up or down."""
        for direction, pitch in self._moves[moment.chord].rungs(front.pitch):
            moved = self._stepped(front.tones, direction)
            if moved:
                tones[pitch] = moved

    def _begin_figures(self, moment: Moment, front: Front, fronts: dict[int, Front]) -> None:
        """Begin an approach figure after a chord tone."""
        if not moment.inside and not moment.across:
            return
        begun = self._begun(front.tones, moment.chord)
        if begun:
            fronts.update(self._starts(begun, moment.chord, moment.inside, moment.across, front.pitch))

    def _land(
        self,
        moment: Moment,
        context: Context,
        targets: tuple[int, ...],
        tones: dict[int, frozenset[Tone]],
    ) -> None:
        """Finish figures whose last approach note has sounded, on their targets."""
        if moment.fresh:
            if context.figures < self._bounds[moment.chord - 1][0]:
                return
            context = Context(0, context.met)
        for target in targets:
            met = context.met
            if self.all_met:
                met |= self._met(moment, target)
                if moment.resolves and met != self.all_met:
                    continue
            anchor = self._anchor(context.figures, met)
            tones[target] = tones[target] | anchor if target in tones else anchor

    def _met(self, moment: Moment, target: int) -> int:
        """The must-target limits that landing here meets, as bits."""
        degree = (target - self.rules.progression.chords[moment.chord].root_class) % 12
        assert moment.slot is not None
        return sum(
            1 << bit
            for bit, limit in enumerate(self.rules.must_targets)
            if limit.meets(moment.chord, degree, moment.slot)
        )

    # -- readings after a move, each kind worked out once ----------------------------------------------------

    def _stepped_readings(self, tones: frozenset[Tone], direction: int) -> frozenset[Tone]:
        """The readings after a rung in this direction."""
        most, after = self.rules.arpeggio.turns, self.rules.approach.after
        free = most >= self._plenty
        moved = set()
        for tone in tones:
            turns = tone.turns + (tone.run == -direction)
            if turns <= most:
                run, turns = (0, 0) if free else (direction, turns)
                moved.add(Tone(run, turns, tone.figures, min(tone.since + 1, after), tone.met))
        return frozenset(moved)

    def _arrived_readings(self, tones: frozenset[Tone], least: int, met: int) -> frozenset[Tone]:
        """The readings on a new chord's first note, for those whose old chord has its figures."""
        after = self.rules.approach.after
        return frozenset(
            Tone(0, 0, 0, min(tone.since + 1, after), tone.met)
            for tone in tones
            if tone.figures >= least and tone.met & met == met
        )

    def _begun_contexts(self, tones: frozenset[Tone], chord: int) -> tuple[Context, ...]:
        """What figures that begin now have to remember; empty when none may."""
        most, after = self._bounds[chord][1], self.rules.approach.after
        begun = {
            Context(self._count(chord, tone.figures), tone.met)
            for tone in tones
            if tone.figures < most and tone.since >= after
        }
        return tuple(sorted(begun))

    def _anchor_reading(self, figures: int, met: int) -> frozenset[Tone]:
        """The reading on a target."""
        return frozenset((Tone(0, 0, figures, min(1, self.rules.approach.after), met),))

    def _first_notes(
        self, begun: tuple[Context, ...], chord: int, inside: tuple[int, ...], across: int, pitch: int
    ) -> dict[int, Front]:
        """The notes that may begin a figure after ``pitch``, each with the front of the figures begun."""
        reach = self.rules.approach.reach
        near = [first for first in range(pitch - reach, pitch + reach + 1) if first != pitch]
        here = self._begun_inside(begun, chord, inside)
        found = {first: here[first] for first in near if first in here}
        if across:
            there = self._moves[chord + 1].figures_onto(across, pitch)
            for first in near:
                if first in there:
                    front = _under_way(frozenset([(each, there[first]) for each in begun]))
                    found[first] = _join(found[first], front) if first in found else front
        return found

    def _begun_in_chord(
        self, begun: tuple[Context, ...], chord: int, inside: tuple[int, ...]
    ) -> dict[int, Front]:
        """For each note that may begin a figure in a chord, the front of the figures begun."""
        firsts = self._moves[chord].figures_inside(inside)
        return {
            first: _under_way(frozenset([(each, left) for each in begun])) for first, left in firsts.items()
        }

    # -- what the harmony allows -----------------------------------------------------------------------------

    def _count(self, chord: int, figures: int) -> int:
        """One figure more, counted no further than any bound can tell apart."""
        least, most = self._bounds[chord]
        return min(figures + 1, least if most >= self._plenty else max(least, most))


@lru_cache(maxsize=1 << 16)
def _advance(context: Context, pending: Pending) -> tuple[tuple[int, Front], ...]:
    """The front of figures under way after one more approach note, for each that any of them can play."""
    left = by_first_note((notes, target) for notes, target in pending if notes)
    return tuple([(pitch, _under_way(frozenset(((context, each),)))) for pitch, each in left.items()])


def _under_way(figures: OpenFigures) -> Front:
    """The front on which nothing is open but figures."""
    return Front(NO_PITCH, NO_TONES, figures, NO_TAILS, False)


@lru_cache(maxsize=1 << 16)
def _landed(pending: Pending) -> tuple[int, ...]:
    """The targets of figures that have no approach note left."""
    return tuple(target for notes, target in pending if not notes)


def _join(one: Front, other: Front) -> Front:
    """The figures under way in two fronts as one; those that remember the same become one set."""
    joined: dict[Context, Pending] = dict(one.pending)
    for context, left in other.pending:
        joined[context] = joined[context] | left if context in joined else left
    return _under_way(frozenset(joined.items()))
