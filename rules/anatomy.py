"""The anatomy of a line as a nondeterministic acceptor.

A line may have several analyses, so after any number of notes several *readings* are open at once.
Everything that the readings have in common is kept in one ``Front``: the set of all readings that the notes
so far allow. A front moves as a whole, ``Anatomy.moves`` gives, for each note that may come next, the front
after it. Two lines with the same notes therefore never part, and each line is met once however many
analyses it has.

What makes up a front is told in ``rules.front``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from rules.endings import PlacedEnding
from rules.front import (
    NO_TAILS,
    NO_TONES,
    NOTHING_OPEN,
    Context,
    Firsts,
    Front,
    Moment,
    OpenFigures,
    Pending,
    Tone,
)
from rules.ladder import figure_pitches, handoffs, rung
from rules.line import TICKS_PER_BEAT, Events
from rules.ruleset import Rules

Runs = tuple[tuple[tuple[int, ...], int], ...]
"""Approach figures in place: (notes, target)."""


@dataclass
class Anatomy:
    """The acceptor for the anatomy of a line under given rules; the limits are not part of it."""

    rules: Rules
    _firsts: dict[object, Firsts] = field(default_factory=dict, repr=False)
    _placed: dict[object, Runs] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        rules = self.rules
        progression = rules.progression
        self.resolution = progression.resolution
        self.slot_ticks = rules.slot_ticks
        self.final_length = TICKS_PER_BEAT
        self.all_met = (1 << len(rules.must_targets)) - 1
        # No chord holds so many notes: counts and turns that may go this far need not be kept apart.
        self._plenty = progression.slots - min(0, *rules.entry.slots, 0)
        self._lengths = tuple(sorted({len(f.steps) for f in rules.approach.figures}))
        self._by_start: dict[int, list[PlacedEnding]] = {}
        for ending in rules.endings:
            self._by_start.setdefault(ending.start // self.slot_ticks, []).append(ending)
        self._chords = [
            (chord.key, scale) for chord, scale in zip(progression.chords, rules.scales, strict=True)
        ]
        self._handoffs = lru_cache(maxsize=None)(self._handoffs_in_range)
        self._rungs = lru_cache(maxsize=None)(self._rungs_in_range)
        self._stepped = lru_cache(maxsize=None)(self._stepped_readings)
        self._arrived = lru_cache(maxsize=None)(self._arrived_readings)
        self._begun = lru_cache(maxsize=None)(self._begun_contexts)
        self._anchor = lru_cache(maxsize=None)(self._anchor_reading)
        self._led_into = lru_cache(maxsize=None)(self._led_into_from)
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
            p: Front(p, tone, frozenset(), frozenset(), False)
            for p in allowed
            if p % 12 in chord.tone_classes
        }
        if rules.approach.bounds(0)[1] < 1:
            return fronts
        begun = Context(self._count(0, 0), 0)
        for first, left in self._figures_inside(0, self.moment(slot).inside).items():
            if first in allowed:
                tones = fronts[first].tones if first in fronts else frozenset()
                fronts[first] = Front(first, tones, frozenset(((begun, left),)), frozenset(), False)
        return fronts

    # -- moves -----------------------------------------------------------------------------------------------

    def moves(self, moment: Moment, front: Front) -> dict[int, Front]:
        """For each pitch that may fill the slot as a note of the body, one slot long, the front after it.

        On the resolution slot these notes end the line (the ending without a stock figure) and last one beat.
        """
        tones: dict[int, frozenset[Tone]] = {}
        opened: dict[int, OpenFigures] = {}
        if front.tones:
            if moment.fresh:
                self._hand_off(moment, front, tones)
            else:
                self._run_on(moment, front, tones)
                self._begin_figures(moment, front, opened)
        for context, pending in front.pending:
            for pitch, left in _advance(pending):
                _join(opened, pitch, frozenset(((context, left),)))
            if targets := _landed(pending):
                self._land(moment, context, targets, tones)
        if moment.resolves:
            return {pitch: Front(pitch, NO_TONES, NOTHING_OPEN, NO_TAILS, True) for pitch in tones}
        fronts = {}
        for pitch, readings in tones.items():
            fronts[pitch] = Front(pitch, readings, opened.pop(pitch, NOTHING_OPEN), NO_TAILS, False)
        for pitch, under_way in opened.items():
            fronts[pitch] = Front(pitch, NO_TONES, under_way, NO_TAILS, False)
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
        return tuple([e for e in self._by_start[slot] if 0 < abs(e.event(0, pitch).pitch - pitch) <= nearest])

    def _may_end(self, moment: Moment, front: Front) -> bool:
        """Whether some reading is a finished body: last a chord tone, counts complete, must-targets met."""
        chord = moment.chord - 1 if moment.fresh else moment.chord
        least = self.rules.approach.bounds(chord)[0]
        if moment.fresh and self.rules.approach.bounds(moment.chord)[0] > 0:
            return False  # this chord is never sounded before the ending, so it cannot have its figures
        return any(tone.figures >= least and tone.met == self.all_met for tone in front.tones)

    def _hand_off(self, moment: Moment, front: Front, tones: dict[int, frozenset[Tone]]) -> None:
        """Go to the new chord's first note from a chord tone."""
        least = self.rules.approach.bounds(moment.chord - 1)[0]
        wanted = self.all_met if moment.resolves else 0
        ready = self._arrived(front.tones, least, wanted)
        if ready and (self.rules.plain or not moment.resolves):
            for pitch in self._handoffs(moment.chord, front.pitch):
                tones[pitch] = ready

    def _run_on(self, moment: Moment, front: Front, tones: dict[int, frozenset[Tone]]) -> None:
        """Go on from a chord tone to the next rung up or down."""
        for direction, pitch in self._rungs(moment.chord, front.pitch):
            moved = self._stepped(front.tones, direction)
            if moved:
                tones[pitch] = moved

    def _begin_figures(self, moment: Moment, front: Front, opened: dict[int, OpenFigures]) -> None:
        """Begin an approach figure after a chord tone."""
        if not moment.inside and not moment.across:
            return
        begun = self._begun(front.tones, moment.chord)
        if begun:
            for first, left in self._starts(moment.chord, moment.inside, moment.across, front.pitch):
                opened[first] = frozenset([(context, left) for context in begun])

    def _land(
        self,
        moment: Moment,
        context: Context,
        targets: tuple[int, ...],
        tones: dict[int, frozenset[Tone]],
    ) -> None:
        """Finish figures whose last approach note has sounded, on their targets."""
        if moment.fresh:
            if context.figures < self.rules.approach.bounds(moment.chord - 1)[0]:
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
        most, after = self.rules.approach.bounds(chord)[1], self.rules.approach.after
        return tuple(
            {
                Context(self._count(chord, tone.figures), tone.met)
                for tone in tones
                if tone.figures < most and tone.since >= after
            }
        )

    def _anchor_reading(self, figures: int, met: int) -> frozenset[Tone]:
        """The reading on a target."""
        return frozenset((Tone(0, 0, figures, min(1, self.rules.approach.after), met),))

    def _first_notes(
        self, chord: int, inside: tuple[int, ...], across: int, pitch: int
    ) -> tuple[tuple[int, Pending], ...]:
        """The notes that may begin a figure after ``pitch``, each with what is then left of its figures."""
        reach = self.rules.approach.reach
        found: dict[int, Pending] = {}
        for firsts in (
            self._figures_inside(chord, inside),
            self._figures_across(chord, across, pitch),
        ):
            for first, left in firsts.items():
                if 0 < abs(first - pitch) <= reach:
                    found[first] = found[first] | left if first in found else left
        return tuple(found.items())

    # -- what the harmony allows -----------------------------------------------------------------------------

    def _count(self, chord: int, figures: int) -> int:
        """One figure more, counted no further than any bound can tell apart."""
        least, most = self.rules.approach.bounds(chord)
        return min(figures + 1, least if most >= self._plenty else max(least, most))

    def _handoffs_in_range(self, chord: int, pitch: int) -> tuple[int, ...]:
        rules = self.rules
        found = handoffs(rules.handoff, pitch, rules.progression.chords[chord], rules.approach.reach)
        return tuple(q for q in found if q in rules.pitches)

    def _rungs_in_range(self, chord: int, pitch: int) -> tuple[tuple[int, int], ...]:
        rules = self.rules
        found = [(d, rung(rules.progression.chords[chord], pitch, d)) for d in rules.arpeggio.directions]
        return tuple((d, q) for d, q in found if q in rules.pitches)

    def _figures_inside(self, chord: int, lengths: tuple[int, ...]) -> Firsts:
        """Figures of these lengths that land in the same chord."""
        if not lengths:
            return {}
        key = (self._chords[chord], lengths)
        found = self._firsts.get(key)
        if found is None:
            runs = [run for k in lengths for run in self._runs(chord, k)]
            found = self._firsts[key] = _by_first_note(runs)
        return found

    def _figures_across(self, chord: int, length: int, pitch: int) -> Firsts:
        """Figures of this length that land on the next chord's first slot, legally handed off from
        ``pitch``."""
        if not length:
            return {}
        key = (self._chords[chord + 1], length, pitch)
        found = self._firsts.get(key)
        if found is None:
            legal = self._handoffs(chord + 1, pitch)
            found = self._firsts[key] = _by_first_note(
                r for r in self._runs(chord + 1, length) if r[1] in legal
            )
        return found

    def _runs(self, chord: int, length: int) -> Runs:
        """Every (notes, target) of a figure of this length that lands in a chord, all of it in range."""
        key = (self._chords[chord], length)
        known = self._placed.get(key)
        if known is None:
            rules = self.rules
            root = rules.progression.chords[chord].root_class
            classes = rules.progression.chords[chord].tone_classes
            wanted = rules.approach.targets
            shapes = {figure.steps for figure in rules.approach.figures if len(figure.steps) == length}
            runs = set()
            for target in rules.pitches:
                if target % 12 in classes and (wanted is None or (target - root) % 12 in wanted):
                    for steps in shapes:
                        notes = figure_pitches(steps, target, root, rules.scales[chord])
                        if rules.pitches.issuperset(notes):
                            runs.add((notes, target))
            known = self._placed[key] = tuple(runs)
        return known


def _by_first_note(runs: Iterable[tuple[tuple[int, ...], int]]) -> Firsts:
    found: dict[int, set[tuple[tuple[int, ...], int]]] = {}
    for notes, target in runs:
        found.setdefault(notes[0], set()).add((notes[1:], target))
    return {first: frozenset(left) for first, left in found.items()}


@lru_cache(maxsize=1 << 16)
def _advance(pending: Pending) -> tuple[tuple[int, Pending], ...]:
    """The figures under way after one more approach note, for each note that any of them can play."""
    return tuple(_by_first_note((notes, target) for notes, target in pending if notes).items())


@lru_cache(maxsize=1 << 16)
def _landed(pending: Pending) -> tuple[int, ...]:
    """The targets of figures that have no approach note left."""
    return tuple(target for notes, target in pending if not notes)


def _join(opened: dict[int, OpenFigures], pitch: int, more: OpenFigures) -> None:
    """Add open figures on a note; those that remember the same become one set."""
    known = opened.get(pitch)
    if known is None:
        opened[pitch] = more
        return
    joined: dict[Context, Pending] = dict(known)
    for context, left in more:
        joined[context] = joined[context] | left if context in joined else left
    opened[pitch] = frozenset(joined.items())
