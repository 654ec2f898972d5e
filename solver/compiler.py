"""Compiles rules into a diagram: the anatomy's fronts, layer by layer, equal tails merged; then each limit.

Forward, fronts of readings are followed, one layer for each node of the rhythm; the moves of a front at a
moment are worked out once and then reused. Backward, nodes from which no line can be finished are dropped
and nodes with the same continuations become one. The limits are joined one after another
(``solver.intersect``).

While compiling, everything is a small integer: fronts, events (``solver.codes``), and what is left of a stock
ending (``solver.tails``).
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from typing import NamedTuple

from everyline.rules.anatomy import Anatomy
from everyline.rules.front import ENDED, Front, Moment
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.rhythm import Node, Step
from everyline.rules.ruleset import Rules
from everyline.solver.budget import check_body
from everyline.solver.codes import Codes
from everyline.solver.diagram import Diagram
from everyline.solver.reuse import collector_at_rest, join_limits
from everyline.solver.tails import OVER, Tails

Edges = tuple[bool, tuple[int, ...], tuple[int, ...]]
"""Of a node: whether a line may end there, events as codes in order, the node after each."""

_ROOT = 0
_ONCE = -1
"""The number of a moment that never comes again, so that what is worked out for it need not be kept."""
_LATER: Edges = (False, (), ())
_EMPTY = ENDED._replace(done=False)


def compile_rules(rules: Rules) -> Diagram:
    """The diagram of every valid line under ``rules``.

    Raises TooManyNodes (``everyline.solver.budget``) where it would be larger than allowed, before it is.
    """
    with collector_at_rest():
        diagram = _Compiler(rules).run()
    return join_limits(diagram, rules)


class _Fronts(dict[Front, int]):
    """The number of each front, given when it is first asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.list: list[Front] = []

    def __missing__(self, front: Front) -> int:
        number = self[front] = len(self.list)
        self.list.append(front)
        return number


class _Layer(dict[int, int]):
    """The nodes at one node of the rhythm: for each front its node, which is numbered when it is
    first asked for."""

    def __init__(self, edges: list[Edges]) -> None:
        super().__init__()
        self._edges = edges

    def __missing__(self, front: int) -> int:
        node = self[front] = len(self._edges)
        self._edges.append(_LATER)
        return node


class _Way(NamedTuple):
    """A step of the rhythm as the compiler takes it: the moment, its number and that of what it is to moves
    under way, and what its onset and length add to a code."""

    moment: Moment
    number: int
    landing: int
    base: int


Moves = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
"""Notes of the body in order, as what they add to the code of a place's first step; the step of each; and the
front after it."""


class _Place(NamedTuple):
    """A node of the rhythm as the compiler takes it: its steps, the nodes each leads to, and a number that it
    shares with all places at which the same moves may be made (_ONCE where there is no other)."""

    ways: tuple[_Way, ...]
    layers: tuple[_Layer, ...]
    alike: int
    landing: int


class _Compiler:
    """One compilation. Nodes are numbered as they are met; a node is a front at a node of the rhythm."""

    def __init__(self, rules: Rules) -> None:
        self.anatomy = Anatomy(rules)
        self.rhythm = self.anatomy.rhythm
        self.codes = Codes(rules)
        self.tails = Tails(rules, self.codes)
        self.fronts = _Fronts()
        self.moment_ids: dict[Moment, int] = {}
        self.alike: dict[tuple[tuple[int, int], ...], int] = {}
        self.body_moves: dict[tuple[int, int], Moves] = {}
        self.after_tails: dict[int, int] = {}
        self.edges: list[Edges] = [_LATER]
        self.layers = [_Layer(self.edges) for _ in self.rhythm.nodes]
        self.tail_layers: dict[int, _Layer] = {}
        self.ticks: list[int] = []

    # -- forward ---------------------------------------------------------------------------------------------

    def run(self) -> Diagram:
        """Compile the whole diagram: the body, node by node of the rhythm, then what is left of endings."""
        order = [_ROOT]
        self._begin()
        for number in range(len(self.layers) - 1, -1, -1):  # steps lead to smaller numbers
            layer = self.layers[number]
            order.extend(layer.values())
            if layer:
                self._expand(self.rhythm.nodes[number], layer)
        while self.ticks:
            layer = self.tail_layers.pop(heapq.heappop(self.ticks))
            order.extend(layer.values())
            for front, node in layer.items():
                readings = self.fronts.list[front]
                self.edges[node] = self._joined(readings.done, {}, readings.tails)
        return self._merge(order)

    def _check(self, tick: int) -> None:
        """Stop before the diagram is larger than allowed."""
        rules = self.anatomy.rules
        bar = tick // (rules.progression.beats_per_bar * TICKS_PER_BEAT) + 1
        check_body(len(self.edges), bar, rules.progression.bars, len(rules.must_targets))

    def _begin(self) -> None:
        """The edges of the root: the entries."""
        nodes: dict[int, int] = {}
        for step in self.anatomy.rhythm.entries:
            base, layer = self.codes.base(step.onset, step.length), self.layers[step.node]
            for pitch, front in self.anatomy.entries(step).items():
                nodes[base + pitch * self.codes.semitone] = layer[self.fronts[front]]
        codes = sorted(nodes)
        self.edges[_ROOT] = (False, tuple(codes), tuple([nodes[code] for code in codes]))

    def _expand(self, node: Node, layer: _Layer) -> None:
        """Work out the edges of all nodes at one node of the rhythm."""
        edges, fronts = self.edges, self.fronts.list
        place = self._place(node)
        base = place.ways[0].base if place.ways else 0
        alone = place.layers[0] if len(place.ways) == 1 else None
        for front, number in layer.items():
            readings = fronts[front]
            tails, done = readings.tails, readings.done
            if node.stops and readings.tones:
                tails = self._tails(node, readings)
            added, ways, after = self._moves(place, front, readings)
            codes = [base + each for each in added]
            if tails:
                into = [place.layers[way] for way in ways]
                edges[number] = self._joined(done, dict(zip(codes, after, strict=True)), tails, into)
            elif alone is not None:
                edges[number] = (done, tuple(codes), tuple(map(alone.__getitem__, after)))
            else:
                layers = place.layers
                below = [layers[way][each] for way, each in zip(ways, after, strict=True)]
                edges[number] = (done, tuple(codes), tuple(below))
        if node.steps:
            self._check(node.steps[0].onset)

    def _tails(self, node: Node, readings: Front) -> frozenset[int]:
        """The tails of a front, with those of stock endings that begin after it."""
        tails = readings.tails
        for stop in node.stops:
            if led_into := self.anatomy.endings_led_into(stop, readings):
                tails = tails.union(self.tails.starts(stop.tick, readings.pitch, led_into))
        return tails

    def _place(self, node: Node) -> _Place:
        ways = tuple(map(self._way, node.steps))
        layers = tuple([self.layers[step.node] for step in node.steps])
        if any(way.number == _ONCE for way in ways):
            return _Place(ways, layers, _ONCE, _ONCE)
        alike, landing = (
            self.alike.setdefault(key, len(self.alike))
            for key in (
                tuple([(way.number, way.base - ways[0].base) for way in ways]),
                tuple([(way.landing, way.base - ways[0].base) for way in ways]),
            )
        )
        return _Place(ways, layers, alike, landing)

    def _way(self, step: Step) -> _Way:
        moment = self.anatomy.moment(step)
        number, landing = [
            self.moment_ids.setdefault(each, len(self.moment_ids)) if each.slot is None else _ONCE
            for each in (moment, self.anatomy.landing(moment))
        ]
        return _Way(moment, number, landing, self.codes.base(step.onset, step.length))

    def _moves(self, place: _Place, front: int, readings: Front) -> Moves:
        """The moves of a front as notes of the body; worked out once for all places that are alike."""
        key = (place.alike if readings.tones else place.landing, front)
        found = self.body_moves.get(key)
        if found is None:
            notes: list[tuple[int, int, int]] = []
            if readings.tones or readings.pending:
                semitone, fronts = self.codes.semitone, self.fronts
                for number, way in enumerate(place.ways):
                    above = way.base - place.ways[0].base
                    for pitch, after in self.anatomy.moves(way.moment, readings).items():
                        notes.append((above + pitch * semitone, number, fronts[after]))
                notes.sort()
            found = (
                tuple([note[0] for note in notes]),
                tuple([note[1] for note in notes]),
                tuple([note[2] for note in notes]),
            )
            if place.alike != _ONCE:
                self.body_moves[key] = found
        return found

    def _joined(
        self,
        done: bool,
        moves: dict[int, int],
        tails: frozenset[int],
        layers: Sequence[_Layer] = (),
    ) -> Edges:
        """The edges for moves of the body, the front for each event, with those of stock endings joined in.

        Equal events lead to one front; ``layers`` has for each move of the body the nodes it leads to.
        """
        per_tick = self.codes.tick
        if not moves and len(tails) == 1:
            (tail,) = tails
            code, rest = self.tails.move(tail)
            return done, (code,), (self._tail_layer(code // per_tick)[self._after_tail(rest)],)
        into = dict(zip(moves, layers, strict=True))
        rests: dict[int, list[int]] = {}
        for code, rest in map(self.tails.move, tails):
            if code in rests:
                rests[code].append(rest)
            else:
                rests[code] = [rest]
        known = self.after_tails.get
        for code, left in rests.items():
            if len(left) == 1 and code not in moves:
                after = known(left[0])
                moves[code] = self._after_tail(left[0]) if after is None else after
                continue
            base = self.fronts.list[moves[code]] if code in moves else _EMPTY
            on = base.tails.union([rest for rest in left if rest != OVER])
            ended = base.done or OVER in left
            moves[code] = self.fronts[Front(base.pitch, base.tones, base.pending, on, ended)]
        codes = sorted(moves)
        below = []
        for code in codes:
            layer = into.get(code)
            if layer is None:
                layer = self._tail_layer(code // per_tick)
            below.append(layer[moves[code]])
        return done, tuple(codes), tuple(below)

    def _after_tail(self, rest: int) -> int:
        """The front on which nothing is open but what is left of one ending."""
        found = self.after_tails.get(rest)
        if found is None:
            front = ENDED if rest == OVER else _EMPTY._replace(tails=frozenset((rest,)))
            found = self.after_tails[rest] = self.fronts[front]
        return found

    def _tail_layer(self, tick: int) -> _Layer:
        """The nodes of lines whose last note is one of a stock ending and begins on a tick."""
        found = self.tail_layers.get(tick)
        if found is None:
            found = self.tail_layers[tick] = _Layer(self.edges)
            heapq.heappush(self.ticks, tick)
        return found

    # -- backward --------------------------------------------------------------------------------------------

    def _merge(self, order: list[int]) -> Diagram:
        """Drop dead nodes, make equal ones one, and number what is left from the end."""
        totals: list[int] = [1]
        unique: dict[Edges, int] = {(True, (), ()): 0}
        merged = [-1] * len(self.edges)
        merged_as, total = merged.__getitem__, totals.__getitem__
        for node in reversed(order):
            accept, codes, below = self.edges[node]
            nodes = tuple(map(merged_as, below))
            if -1 in nodes:
                codes = tuple([code for code, each in zip(codes, nodes, strict=True) if each >= 0])
                nodes = tuple([each for each in nodes if each >= 0])
            if not nodes and not accept and node != _ROOT:
                continue
            found = unique.setdefault((accept, codes, nodes), len(totals))
            if found == len(totals):
                totals.append(accept + sum(map(total, nodes)))
            merged[node] = found
        accepts, ways, children = zip(*unique, strict=True)
        used = sorted(set().union(*ways))
        label = {code: number for number, code in enumerate(used)}.__getitem__
        labels = tuple([tuple(map(label, codes)) for codes in ways])
        events = tuple(map(self.codes.event, used))
        return Diagram(events, labels, children, accepts, tuple(totals), merged[_ROOT])
