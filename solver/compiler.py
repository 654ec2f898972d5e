"""Compiles rules into a diagram: the product of all acceptors, layer by layer, equal tails merged.

Forward, fronts of readings (the anatomy) and states of the limits are followed together, one layer for each
onset; every note is looked up once for a pair of moment and front and then reused. Backward, nodes from
which no line can be finished are dropped and nodes with the same continuations become one.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field

from rules.acceptor import Limit, State
from rules.anatomy import Anatomy, Front, Moment
from rules.line import Event, Events
from rules.ruleset import Rules
from solver.diagram import Diagram

Edge = tuple[int, int]
"""(label, target key); what the target is depends on the pass."""

_DONE = Front(-1, frozenset(), frozenset(), frozenset(), True)


def compile_rules(rules: Rules) -> Diagram:
    """The diagram of every valid line under ``rules``."""
    return _Compiler(rules).run()


@dataclass
class _Labels:
    """Events as small integers."""

    ids: dict[tuple[int, int, int], int] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)

    def of(self, event: tuple[int, int, int]) -> int:
        found = self.ids.get(event)
        if found is None:
            found = self.ids[event] = len(self.events)
            self.events.append(Event(*event))
        return found


class _Product:
    """The states of all limits together, as small integers; 0 is the start."""

    def __init__(self, rules: Rules, labels: _Labels) -> None:
        self._rules = rules
        self._limits: tuple[Limit, ...] = rules.limits
        self._labels = labels
        start: tuple[State, ...] = tuple(limit.start() for limit in self._limits)
        self._ids: dict[tuple[State, ...], int] = {start: 0}
        self._states: list[tuple[State, ...]] = [start]
        self._steps: dict[tuple[int, int], int] = {}

    def step(self, state: int, label: int) -> int:
        """The state after an event, or -1 when some limit refuses it."""
        key = (state, label)
        found = self._steps.get(key)
        if found is None:
            found = self._steps[key] = self._work_out(state, label)
        return found

    def _work_out(self, state: int, label: int) -> int:
        note = self._rules.note(self._labels.events[label])
        after = []
        for limit, each in zip(self._limits, self._states[state], strict=True):
            moved = limit.step(each, note)
            if moved is None:
                return -1
            after.append(moved)
        key = tuple(after)
        found = self._ids.get(key)
        if found is None:
            found = self._ids[key] = len(self._states)
            self._states.append(key)
        return found

    def content(self, state: int) -> bool:
        return all(limit.content(each) for limit, each in zip(self._limits, self._states[state], strict=True))


class _Compiler:
    def __init__(self, rules: Rules) -> None:
        self.anatomy = Anatomy(rules)
        self.slot_ticks = rules.slot_ticks
        self.labels = _Labels()
        self.product = _Product(rules, self.labels) if rules.limits else None
        self.fronts: dict[Front, int] = {}
        self.front_list: list[Front] = []
        self.moments: dict[int, tuple[int, Moment]] = {}
        self.moment_ids: dict[Moment, int] = {}
        self.body_moves: dict[tuple[int, int], tuple[tuple[int, int], ...]] = {}
        self.layers: dict[int, dict[tuple[int, int], int]] = {}
        self.ticks: list[int] = []
        self.edges: list[list[Edge]] = []
        self.accepts: list[bool] = []

    # -- forward ---------------------------------------------------------------------------------------------

    def run(self) -> Diagram:
        root: list[Edge] = []
        for slot in self.anatomy.entry_slots():
            tick = slot * self.slot_ticks
            for pitch, opened in sorted(self.anatomy.entries(slot).items()):
                self._edge(root, self.labels.of((tick, pitch, self.slot_ticks)), self._front(opened), 0)
        order: list[tuple[int, dict[tuple[int, int], int]]] = []
        while self.ticks:
            tick = heapq.heappop(self.ticks)
            layer = self.layers.pop(tick)
            order.append((tick, layer))
            for (front, state), node in layer.items():
                self._expand(tick, front, state, self.edges[node])
        return self._merge(root, order)

    def _edge(self, edges: list[Edge], label: int, front: int, state: int) -> None:
        """Add an edge to the node of this front, if the limits agree; the node is made when it is new."""
        if self.product is not None:
            state = self.product.step(state, label)
            if state < 0:
                return
        tick = self.labels.events[label].onset
        layer = self.layers.get(tick)
        if layer is None:
            layer = self.layers[tick] = {}
            heapq.heappush(self.ticks, tick)
        node = layer.get((front, state))
        if node is None:
            node = layer[front, state] = len(self.edges)
            self.edges.append([])
            done = self.front_list[front].done
            self.accepts.append(done and (self.product is None or self.product.content(state)))
        edges.append((label, node))

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

    def _expand(self, tick: int, front: int, state: int, edges: list[Edge]) -> None:
        readings = self.front_list[front]
        moves: list[tuple[int, int]] = []
        slot = tick // self.slot_ticks + 1
        body = bool(readings.tones or readings.pending)
        if body:
            number, moment = self._moment(slot)
            known = self.body_moves.get((number, front))
            if known is None:
                found = self.anatomy.moves(moment, readings)
                known = tuple((pitch, self._front(found[pitch])) for pitch in sorted(found))
                self.body_moves[number, front] = known
            onset = slot * self.slot_ticks
            length = self.anatomy.final_length if moment.resolves else self.slot_ticks
            of = self.labels.of
            moves = [(of((onset, pitch, length)), after) for pitch, after in known]
            if moment.endings:
                starts = list(self.anatomy.ending_starts(moment, readings))
                moves = self._with_tails(moves, starts) if starts else moves
        if readings.tails:
            moves = self._with_tails(moves, readings.tails)
        for label, after in moves:
            self._edge(edges, label, after, state)

    def _with_tails(self, moves: list[tuple[int, int]], tails: object) -> list[tuple[int, int]]:
        """The same moves with those of stock endings joined in; equal events lead to one front."""
        joined: dict[int, Front] = {label: self.front_list[front] for label, front in moves}
        for tail in tails:  # type: ignore[attr-defined]
            label = self.labels.of(tail[0])
            rest: Events = tail[1:]
            base = joined.get(label) or Front(tail[0].pitch, frozenset(), frozenset(), frozenset(), False)
            if rest:
                joined[label] = base._replace(tails=base.tails | {rest})
            else:
                joined[label] = base._replace(done=True)
        found = [(label, self._front(front)) for label, front in joined.items()]
        found.sort(key=lambda each: self.labels.events[each[0]])
        return found

    # -- backward --------------------------------------------------------------------------------------------

    def _merge(self, root: list[Edge], order: list[tuple[int, dict[tuple[int, int], int]]]) -> Diagram:
        labels: list[tuple[int, ...]] = [()]
        children: list[tuple[int, ...]] = [()]
        accepts: list[bool] = [True]
        totals: list[int] = [1]
        unique: dict[tuple[bool, tuple[int, ...], tuple[int, ...]], int] = {(True, (), ()): 0}
        merged = [-1] * len(self.edges)

        def settle(edges: list[Edge], accept: bool) -> int:
            alive = [(label, merged[node]) for label, node in edges if merged[node] >= 0]
            if not alive and not accept:
                return -1
            ways = tuple(label for label, _ in alive)
            below = tuple(node for _, node in alive)
            key = (accept, ways, below)
            found = unique.get(key)
            if found is None:
                found = unique[key] = len(labels)
                labels.append(ways)
                children.append(below)
                accepts.append(accept)
                totals.append(accept + sum([totals[node] for node in below]))
            return found

        for _, layer in reversed(order):
            for node in layer.values():
                merged[node] = settle(self.edges[node], self.accepts[node])
        top = settle(root, False)
        if top < 0:
            labels.append(())
            children.append(())
            accepts.append(False)
            totals.append(0)
            top = len(labels) - 1
        return Diagram(
            tuple(self.labels.events), tuple(labels), tuple(children), tuple(accepts), tuple(totals), top
        )
