"""Compiles rules into a diagram: the anatomy's fronts, layer by layer, equal tails merged; then each limit.

Forward, fronts of readings are followed, one layer for each onset; the moves of a front at a moment are
worked out once and then reused. Backward, nodes from which no line can be finished are dropped and nodes
with the same continuations become one. The limits are joined one after another (``solver.intersect``).

While compiling, everything is a small integer: fronts, what is left of an ending, and events. An
event of the body is its slot (counted from the first) times 128 plus its pitch; any other event (a note of
an ending, the long note on the resolution) is a negative number into a list.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection
from dataclasses import dataclass, field

from rules.anatomy import Anatomy
from rules.endings import PlacedEnding
from rules.front import Front, Moment
from rules.line import Event
from rules.ruleset import Rules
from solver.budget import check_body
from solver.diagram import Diagram
from solver.reuse import collector_at_rest, join_limits

Moves = tuple[tuple[int, int], ...]
"""(pitch or event, front after it), in the order of events."""

_PITCHES = 128
_OVER, _NONE = -1, -2
"""What is left of an ending after its last note, and of one that leaves the range."""
_EMPTY = Front(-1, frozenset(), frozenset(), frozenset(), False)


def compile_rules(rules: Rules) -> Diagram:
    """The diagram of every valid line under ``rules``.

    Raises TooManyNodes (``solver.budget``) where it would be larger than allowed, before it is.
    """
    with collector_at_rest():
        diagram = _Compiler(rules).run()
    return join_limits(diagram, rules)


@dataclass
class _Codes:
    """Events as integers, and back."""

    first_slot: int
    slot_ticks: int
    others: dict[Event, int] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    bodies: dict[int, Event] = field(default_factory=dict)

    def other(self, event: Event) -> int:
        """The code of an event that is no note of the body."""
        found = self.others.get(event)
        if found is None:
            self.events.append(event)
            found = self.others[event] = -len(self.events)
        return found

    def event(self, code: int) -> Event:
        """The event of a code."""
        if code < 0:
            return self.events[-code - 1]
        found = self.bodies.get(code)
        if found is None:
            slot, pitch = divmod(code, _PITCHES)
            found = Event((self.first_slot + slot) * self.slot_ticks, pitch, self.slot_ticks)
            self.bodies[code] = found
        return found

    def tick(self, code: int) -> int:
        """The onset of a code's event."""
        if code < 0:
            return self.events[-code - 1].onset
        return (self.first_slot + code // _PITCHES) * self.slot_ticks


class _Compiler:
    """One compilation. Nodes are numbered as they are met; a node is a front at an onset."""

    def __init__(self, rules: Rules) -> None:
        self.anatomy = Anatomy(rules)
        self.slot_ticks = rules.slot_ticks
        self.codes = _Codes(min(self.anatomy.entry_slots(), default=0), rules.slot_ticks)
        self.fronts: dict[Front, int] = {}
        self.front_list: list[Front] = []
        self.moments: dict[int, tuple[int, Moment]] = {}
        self.moment_ids: dict[Moment, int] = {}
        self.body_moves: dict[tuple[int, int], Moves] = {}
        self.pitches = rules.pitches
        self.ending_starts: dict[tuple[int, int], tuple[int, ...]] = {}
        self.tails: dict[tuple[int, int, int], int] = {}
        self.tail_numbers: dict[tuple[int, int], int] = {}
        self.tail_moves: list[tuple[int, int]] = []
        self.layers: dict[int, dict[int, int]] = {}
        self.ticks: list[int] = []
        self.places: list[tuple[int, int]] = []
        self.ways: list[list[int]] = []
        self.below: list[list[int]] = []
        self.accepts: list[bool] = []
        self.at: int | None = None

    # -- forward ---------------------------------------------------------------------------------------------

    def run(self) -> Diagram:
        """Compile the whole diagram."""
        root = self._root()
        order: list[int] = []
        while self.ticks:
            layer = self.layers.pop(heapq.heappop(self.ticks))
            order.extend(layer.values())
            for node in layer.values():
                self._expand(node)
            self._check()
        return self._merge(root, order)

    def _check(self) -> None:
        """Stop before the diagram is larger than allowed."""
        rules = self.anatomy.rules
        slot = self.places[-1][0] // self.slot_ticks
        bar = slot // rules.progression.slots_per_bar + 1
        check_body(len(self.places), bar, rules.progression.bars, len(rules.must_targets))

    def _root(self) -> tuple[list[int], list[int]]:
        ways: list[int] = []
        below: list[int] = []
        for slot in self.anatomy.entry_slots():
            base = (slot - self.codes.first_slot) * _PITCHES
            for pitch, front in sorted(self.anatomy.entries(slot).items()):
                self._edges(((base + pitch, self._front(front)),), ways, below)
        return ways, below

    def _expand(self, node: int) -> None:
        """Work out the edges of a node."""
        tick, front = self.places[node]
        readings = self.front_list[front]
        slot = tick // self.slot_ticks + 1
        moves: Moves = ()
        if readings.tones or readings.pending:
            moves = self._body(slot, front, readings)
        if readings.tails:
            moves = self._with_tails(moves, readings.tails)
        self._edges(moves, self.ways[node], self.below[node])

    def _edges(self, moves: Moves, ways: list[int], below: list[int]) -> None:
        """Add an edge for each move, and the nodes that are new."""
        tick: int | None = None
        layer: dict[int, int] = {}
        places, tick_of = self.places, self.codes.tick
        for code, front in moves:
            # Moves are in the order of events, so that most have the onset of the one before.
            if (onset := tick_of(code)) != tick:
                tick, layer = onset, self._layer(onset)
            node = layer.get(front)
            if node is None:
                node = layer[front] = len(places)
                places.append((onset, front))
                self.ways.append([])
                self.below.append([])
                self.accepts.append(self.front_list[front].done)
            ways.append(code)
            below.append(node)

    def _layer(self, tick: int) -> dict[int, int]:
        found = self.layers.get(tick)
        if found is None:
            found = self.layers[tick] = {}
            heapq.heappush(self.ticks, tick)
        return found

    def _front(self, front: Front) -> int:
        found = self.fronts.get(front)
        if found is None:
            found = self.fronts[front] = len(self.front_list)
            self.front_list.append(front)
        return found

    def _moment(self, slot: int) -> tuple[int, Moment]:
        found = self.moments.get(slot)
        if found is None:
            moment = self.anatomy.moment(slot)
            number = self.moment_ids.setdefault(moment, len(self.moment_ids))
            found = self.moments[slot] = (number, moment)
        return found

    def _body(self, slot: int, front: int, readings: Front) -> Moves:
        """The moves of a front that has a body still open, endings that begin here included."""
        number, moment = self._moment(slot)
        known = self.body_moves.get((number, front))
        if known is None:
            found = self.anatomy.moves(moment, readings)
            known = tuple([(pitch, self._front(found[pitch])) for pitch in sorted(found)])
            self.body_moves[number, front] = known
        if moment.resolves:
            tick, length = slot * self.slot_ticks, self.anatomy.final_length
            known = tuple([(self.codes.other(Event(tick, pitch, length)), after) for pitch, after in known])
        else:
            base = (slot - self.codes.first_slot) * _PITCHES
            known = tuple([(base + pitch, after) for pitch, after in known])
        if moment.endings:
            led_into = self.anatomy.endings_led_into(moment, readings)
            return (
                self._with_tails(known, self._starts(slot, readings.pitch, led_into)) if led_into else known
            )
        return known

    def _starts(self, slot: int, pitch: int, endings: tuple[PlacedEnding, ...]) -> tuple[int, ...]:
        """The tails of these endings, which begin on a slot after a note of ``pitch``."""
        found = self.ending_starts.get((slot, pitch))
        if found is None:
            tails = [self._tail(ending, 0, pitch) for ending in endings]
            found = self.ending_starts[slot, pitch] = tuple([tail for tail in tails if tail != _NONE])
        return found

    def _tail(self, ending: PlacedEnding, place: int, pitch: int) -> int:
        """The number of what is left of an ending from ``place`` on, after a note of ``pitch``.

        Tails that sound alike have one number. It is _NONE where a note would be out of range, _OVER where
        nothing is left.
        """
        if place == len(ending.notes):
            return _OVER
        key = (id(ending), place, pitch)
        found = self.tails.get(key)
        if found is None:
            event = ending.event(place, pitch)
            rest = _NONE
            if event.pitch in self.pitches:
                rest = self._tail(ending, place + 1, event.pitch)
            found = _NONE
            if rest != _NONE:
                move = (self._code(event), rest)
                found = self.tail_numbers.setdefault(move, len(self.tail_moves))
                if found == len(self.tail_moves):
                    self.tail_moves.append(move)
            self.tails[key] = found
        return found

    def _with_tails(self, moves: Moves, tails: Collection[int]) -> Moves:
        """The same moves with those of stock endings joined in; equal events lead to one front."""
        if not tails:
            return moves
        joined = dict(moves)
        rests: dict[int, list[int]] = {}
        for tail in tails:
            code, rest = self.tail_moves[tail]
            rests.setdefault(code, []).append(rest)
        for code, left in rests.items():
            base = self.front_list[joined[code]] if code in joined else _EMPTY
            on = base.tails.union([rest for rest in left if rest != _OVER])
            pitch = self.codes.event(code).pitch
            joined[code] = self._front(Front(pitch, base.tones, base.pending, on, base.done or _OVER in left))
        if min(joined, default=0) >= 0:
            return tuple(sorted(joined.items()))
        return tuple(sorted(joined.items(), key=self._in_order))

    def _in_order(self, move: tuple[int, int]) -> Event:
        return self.codes.event(move[0])

    def _code(self, event: Event) -> int:
        """The code of any event: a note of an ending may be like one of the body."""
        slot, between = divmod(event.onset, self.slot_ticks)
        if between or event.length != self.slot_ticks:
            return self.codes.other(event)
        return (slot - self.codes.first_slot) * _PITCHES + event.pitch

    # -- backward --------------------------------------------------------------------------------------------

    def _merge(self, root: tuple[list[int], list[int]], order: list[int]) -> Diagram:
        """Drop dead nodes, make equal ones one, and number what is left from the end."""
        labels: list[tuple[int, ...]] = [()]
        children: list[tuple[int, ...]] = [()]
        accepts: list[bool] = [True]
        totals: list[int] = [1]
        unique: dict[tuple[bool, tuple[int, ...], tuple[int, ...]], int] = {(True, (), ()): 0}
        merged = [-1] * len(self.places)

        def settle(ways: list[int], nodes: list[int], accept: bool) -> int:
            below = [merged[node] for node in nodes]
            if -1 in below:
                ways = [code for code, node in zip(ways, below, strict=True) if node >= 0]
                below = [node for node in below if node >= 0]
            if not below and not accept:
                return -1
            key = (accept, tuple(ways), tuple(below))
            found = unique.get(key)
            if found is None:
                found = unique[key] = len(labels)
                labels.append(key[1])
                children.append(key[2])
                accepts.append(accept)
                totals.append(accept + sum([totals[node] for node in below]))
            return found

        for node in reversed(order):
            merged[node] = settle(self.ways[node], self.below[node], self.accepts[node])
        top = settle(*root, False)
        if top < 0:
            top = len(labels)
            labels.append(())
            children.append(())
            accepts.append(False)
            totals.append(0)
        codes = sorted({code for ways in labels for code in ways})
        events = tuple(self.codes.event(code) for code in codes)
        numbers = {code: number for number, code in enumerate(codes)}
        return Diagram(
            events,
            tuple([tuple([numbers[code] for code in ways]) for ways in labels]),
            tuple(children),
            tuple(accepts),
            tuple(totals),
            top,
        )
