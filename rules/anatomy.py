"""The anatomy of a line as a nondeterministic acceptor.

A line may have several analyses, so after any number of notes several *readings* are open at once.
Everything that the readings have in common is kept in one ``Front``: the set of all readings that the notes
so far allow. A front moves as a whole, ``Anatomy.moves`` gives, for each note that may come next, the front
after it. Two lines with the same notes therefore never part, and each line is met once however many
analyses it has.

Three kinds of reading make up a front:

* *tones*: the last note is a chord tone (entry, arpeggio, target or handoff), with what the rules must
  remember of it: direction of the run, turns spent, figures started in this chord, chord tones since the
  last target, and which ``must-target`` limits are already met;
* *pending*: an approach figure is under way; what is left of it is a set of (notes still to come, target);
* *tails*: a stock ending is under way; what is left of it is a sequence of events.

Fronts hold no slot. Whatever depends on the slot is in the ``Moment`` for which a move is asked; moments
that allow exactly the same moves are the same value, so that an engine can reuse what it has worked out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from rules.endings import PlacedEnding
from rules.ladder import figure_pitches, handoffs, rung
from rules.line import TICKS_PER_BEAT, Events
from rules.ruleset import Rules


class Tone(NamedTuple):
    """A reading in which the last note is a chord tone. ``run`` is 0 on an anchor, else 1 up or -1 down."""

    run: int
    turns: int
    figures: int
    since: int
    met: int


class Context(NamedTuple):
    """What a figure under way remembers: figures started in its chord, ``must-target`` limits met."""

    figures: int
    met: int


Pending = frozenset[tuple[tuple[int, ...], int]]
"""Open figures: (approach notes still to come, target pitch); the target follows when no note is left."""

Firsts = dict[int, Pending]
"""For each first note of a figure, what is left of all figures that begin with it."""


class Front(NamedTuple):
    """All readings of the notes so far. ``pitch`` is the last note; ``done`` says that the line may end
    here."""

    pitch: int
    tones: frozenset[Tone]
    pending: frozenset[tuple[Context, Pending]]
    tails: frozenset[Events]
    done: bool


@dataclass(frozen=True, slots=True)
class Moment:
    """A slot to be filled, reduced to what decides which notes may fill it.

    ``chord`` is the index of the chord that holds at the slot, ``fresh`` whether it begins there,
    ``resolves`` whether this is the resolution. ``inside`` are the lengths of figures that may start here
    and land in the same chord, ``across`` the length that would land on the next chord's first slot (0 when
    there is none). ``slot`` is 0 unless endings or must-target limits make each slot different.
    """

    chord: int
    fresh: bool
    resolves: bool
    inside: tuple[int, ...]
    across: int
    endings: tuple[PlacedEnding, ...] = ()
    slot: int | None = None


@dataclass
class Anatomy:
    """The acceptor for the anatomy of a line under given rules; the limits are not part of it."""

    rules: Rules
    _firsts: dict[object, Firsts] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        rules = self.rules
        progression = rules.progression
        self.resolution = progression.resolution
        self.slot_ticks = rules.slot_ticks
        self.final_length = TICKS_PER_BEAT
        self.all_met = (1 << len(rules.must_targets)) - 1
        self._lengths = tuple(sorted({len(f.steps) for f in rules.approach.figures}))
        self._by_start: dict[int, list[PlacedEnding]] = {}
        for ending in rules.endings:
            self._by_start.setdefault(ending.start // self.slot_ticks, []).append(ending)
        self._chords = [
            (chord.key, scale) for chord, scale in zip(progression.chords, rules.scales, strict=True)
        ]
        self._handoffs = lru_cache(maxsize=None)(self._handoffs_in_range)
        self._rungs = lru_cache(maxsize=None)(self._rungs_in_range)

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
        gather = _Gather()
        if front.tones:
            (self._hand_off if moment.fresh else self._go_on)(moment, front, gather)
        for context, pending in front.pending:
            self._go_on_approaching(moment, context, pending, gather)
        return gather.fronts(done=moment.resolves)

    def ending_starts(self, moment: Moment, front: Front) -> Iterator[Events]:
        """The stock endings that may begin on this slot after the front, as the events each would play."""
        if not moment.endings or not self._may_end(moment, front):
            return
        rules = self.rules
        for ending in moment.endings:
            events = ending.after(front.pitch)
            leap = abs(events[0].pitch - front.pitch)
            if 0 < leap <= rules.lead_in and all(event.pitch in rules.pitches for event in events):
                yield events

    def _may_end(self, moment: Moment, front: Front) -> bool:
        """Whether some reading is a finished body: last note a chord tone, counts complete, must-targets
        met."""
        chord = moment.chord - 1 if moment.fresh else moment.chord
        least = self.rules.approach.bounds(chord)[0]
        if moment.fresh and self.rules.approach.bounds(moment.chord)[0] > 0:
            return False  # this chord is never sounded before the ending, so it cannot have its figures
        return any(tone.figures >= least and tone.met == self.all_met for tone in front.tones)

    def _hand_off(self, moment: Moment, front: Front, gather: _Gather) -> None:
        least = self.rules.approach.bounds(moment.chord - 1)[0]
        after = self.rules.approach.after
        ready = {
            Tone(0, 0, 0, min(tone.since + 1, after), tone.met)
            for tone in front.tones
            if tone.figures >= least and not (moment.resolves and tone.met != self.all_met)
        }
        if ready and (self.rules.plain or not moment.resolves):
            for pitch in self._handoffs(moment.chord, front.pitch):
                gather.tones(pitch, ready)

    def _go_on(self, moment: Moment, front: Front, gather: _Gather) -> None:
        rules = self.rules
        after = rules.approach.after
        rungs = self._rungs(moment.chord, front.pitch)
        turns = rules.arpeggio.turns
        for direction, pitch in rungs:
            moved = set()
            for tone in front.tones:
                spent = tone.turns + (tone.run == -direction)
                if spent <= turns:
                    moved.add(Tone(direction, spent, tone.figures, min(tone.since + 1, after), tone.met))
            if moved:
                gather.tones(pitch, moved)
        if not moment.inside and not moment.across:
            return
        most = rules.approach.bounds(moment.chord)[1]
        begun = {
            Context(self._count(moment.chord, tone.figures), tone.met)
            for tone in front.tones
            if tone.figures < most and tone.since >= after
        }
        if begun:
            reach = rules.approach.reach
            for firsts in (
                self._figures_inside(moment.chord, moment.inside),
                self._figures_across(moment.chord, moment.across, front.pitch),
            ):
                for first, left in firsts.items():
                    if 0 < abs(first - front.pitch) <= reach:
                        gather.pending(first, begun, left)

    def _go_on_approaching(self, moment: Moment, context: Context, pending: Pending, gather: _Gather) -> None:
        rules = self.rules
        for pitch, left in _advance(pending):
            gather.pending(pitch, (context,), left)
        landed = [target for notes, target in pending if not notes]
        if not landed:
            return
        since = min(1, rules.approach.after)
        if moment.fresh:
            if context.figures < rules.approach.bounds(moment.chord - 1)[0]:
                return
            context = Context(0, context.met)
        for target in landed:
            met = context.met
            if self.all_met:
                met |= self._met(moment, target)
                if moment.resolves and met != self.all_met:
                    continue
            gather.tones(target, (Tone(0, 0, context.figures, since, met),))

    def _met(self, moment: Moment, target: int) -> int:
        """The must-target limits that landing here meets, as bits."""
        degree = (target - self.rules.progression.chords[moment.chord].root_class) % 12
        assert moment.slot is not None
        return sum(
            1 << bit
            for bit, limit in enumerate(self.rules.must_targets)
            if limit.meets(moment.chord, degree, moment.slot)
        )

    # -- what the harmony allows -----------------------------------------------------------------------------

    def _count(self, chord: int, figures: int) -> int:
        """One figure more, counted no further than any bound can tell apart."""
        least, most = self.rules.approach.bounds(chord)
        return min(figures + 1, max(least, most))

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

    def _runs(self, chord: int, length: int) -> tuple[tuple[tuple[int, ...], int], ...]:
        """Every (notes, target) of a figure of this length that lands in a chord, all of it in range."""
        key = ("runs", self._chords[chord], length)
        known = self._firsts.get(key)
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
            known = self._firsts[key] = tuple(runs)  # type: ignore[assignment]
        return known  # type: ignore[return-value]


def _by_first_note(runs: Iterable[tuple[tuple[int, ...], int]]) -> Firsts:
    found: dict[int, set[tuple[tuple[int, ...], int]]] = {}
    for notes, target in runs:
        found.setdefault(notes[0], set()).add((notes[1:], target))
    return {first: frozenset(left) for first, left in found.items()}


@lru_cache(maxsize=1 << 14)
def _advance(pending: Pending) -> tuple[tuple[int, Pending], ...]:
    """The figures under way after one more approach note, for each note that any of them can play."""
    return tuple(_by_first_note((notes, target) for notes, target in pending if notes).items())


class _Gather:
    """Collects the readings that each next pitch leads to."""

    def __init__(self) -> None:
        self._tones: dict[int, set[Tone]] = {}
        self._pending: dict[int, dict[Context, Pending]] = {}

    def tones(self, pitch: int, tones: Iterable[Tone]) -> None:
        self._tones.setdefault(pitch, set()).update(tones)

    def pending(self, pitch: int, contexts: Iterable[Context], left: Pending) -> None:
        known = self._pending.setdefault(pitch, {})
        for context in contexts:
            known[context] = known[context] | left if context in known else left

    def fronts(self, done: bool) -> dict[int, Front]:
        found = {}
        for pitch in self._tones.keys() | self._pending.keys():
            tones = frozenset(() if done else self._tones.get(pitch, ()))
            pending = frozenset(self._pending.get(pitch, {}).items())
            found[pitch] = Front(pitch, tones, pending, frozenset(), done)
        return found
