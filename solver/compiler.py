"""Compiles rules into a diagram: the anatomy's fronts, layer by layer, equal tails merged; then each limit.

Forward, fronts of readings are followed, one layer for each onset; the moves of a front at a moment are
worked out once and then reused. Backward, nodes from which no line can be finished are dropped and nodes
with the same continuations become one. The limits are joined one after another (``solver.intersect``).

While compiling, everything is a small integer: fronts, events (``solver.codes``), and what is left of a stock
ending (``solver.tails``).
"""

from __future__ import annotations

import heapq
from typing import NamedTuple

from everyline.rules.anatomy import Anatomy
from everyline.rules.front import ENDED, Front, Moment
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.rhythm import OVER as OVER_NODE
from everyline.rules.rhythm import Node, Step
from everyline.rules.ruleset import Rules
from everyline.solver.budget import check_body
from everyline.solver.codes import Codes
from everyline.solver.diagram import Diagram
from everyline.solver.reuse import collector_at_rest, join_limits
from everyline.solver.tails import OVER, Tails

Moves = tuple[list[int], list[int]]
"""Pitches in order (as what they add to a code), and the front after each."""

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
    """The nodes at one onset and node of the rhythm: for each front its node, which is numbered when it is
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
    under way, what its onset and length add to a code, and the nodes it leads to."""

    moment: Moment
    number: int
    landing: int
    base: int
    nodes: _Layer


class _Compiler:
    """One compilation. Nodes are numbered as they are met; a node is a front at a node of the rhythm."""

    def __init__(self, rules: Rules) -> None:
        self.anatomy = Anatomy(rules)
        self.rhythm = self.anatomy.rhythm
        self.codes = Codes(rules)
        self.tails = Tails(rules, self.codes)
        self.fronts = _Fronts()
        self.moment_ids: dict[Moment, int] = {}
        self.body_moves: dict[tuple[int, int], Moves] = {}
        self.after_tails: dict[int, int] = {}
        self.layers: dict[int, dict[int, _Layer]] = {}
        self.ticks: list[int] = []
        self.edges: list[Edges] = [_LATER]

    # -- forward ---------------------------------------------------------------------------------------------

    def run(self) -> Diagram:
        """Compile the whole diagram."""
        order = [_ROOT]
        self._begin()
        while self.ticks:
            tick = heapq.heappop(self.ticks)
            for place, layer in self.layers.pop(tick).items():
                order.extend(layer.values())
                self._expand(self.rhythm.nodes[place], layer)
            self._check(tick)
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
            base, layer = self.codes.base(step.onset, step.length), self._layer(step.onset, step.node)
            for pitch, front in self.anatomy.entries(step).items():
                nodes[base + pitch * self.codes.semitone] = layer[self.fronts[front]]
        codes = sorted(nodes)
        self.edges[_ROOT] = (False, tuple(codes), tuple([nodes[code] for code in codes]))

    def _expand(self, place: Node, layer: _Layer) -> None:
        """Work out the edges of all nodes at one place in the rhythm."""
        edges, fronts, tails_of = self.edges, self.fronts.list, self._tails
        ways = [self._way(step) for step in place.steps]
        alone = ways[0] if len(ways) == 1 else None
        for front, node in layer.items():
            _, tones, pending, tails, done = readings = fronts[front]
            if not (tones or pending):
                edges[node] = self._joined(done, {}, tails)
                continue
            if place.stops and tones:
                tails = tails_of(place, readings)
            if alone is not None and not tails:
                base = alone.base
                pitches, after = self._moves(alone, front, readings)
                codes = tuple([base + each for each in pitches])
                edges[node] = (done, codes, tuple(map(alone.nodes.__getitem__, after)))
                continue
            body: dict[int, int] = {}
            targets: dict[int, _Layer] = {}
            for way in ways:
                pitches, after = self._moves(way, front, readings)
                notes = [way.base + each for each in pitches]
                body.update(zip(notes, after, strict=True))
                targets.update(dict.fromkeys(notes, way.nodes))
            edges[node] = self._joined(done, body, tails, targets)

    def _tails(self, place: Node, readings: Front) -> frozenset[int]:
        """The tails of a front, with those of stock endings that begin after it."""
        tails = readings.tails
        for stop in place.stops:
            if led_into := self.anatomy.endings_led_into(stop, readings):
                tails = tails.union(self.tails.starts(stop.tick, readings.pitch, led_into))
        return tails

    def _way(self, step: Step) -> _Way:
        moment = self.anatomy.moment(step)
        number, landing = [
            self.moment_ids.setdefault(each, len(self.moment_ids)) if each.slot is None else _ONCE
            for each in (moment, self.anatomy.landing(moment))
        ]
        base = self.codes.base(step.onset, step.length)
        return _Way(moment, number, landing, base, self._layer(step.onset, step.node))

    def _moves(self, way: _Way, front: int, readings: Front) -> Moves:
        """The moves of a front as notes of the body; worked out once for each moment."""
        key = (way.number if readings.tones else way.landing, front)
        found = self.body_moves.get(key)
        if found is None:
            after = self.anatomy.moves(way.moment, readings)
            pitches, semitone, fronts = sorted(after), self.codes.semitone, self.fronts
            found = [pitch * semitone for pitch in pitches], [fronts[after[pitch]] for pitch in pitches]
            if key[0] != _ONCE:
                self.body_moves[key] = found
        return found

    def _joined(
        self,
        done: bool,
        moves: dict[int, int],
        tails: frozenset[int],
        layers: dict[int, _Layer] | None = None,
    ) -> Edges:
        """The edges for moves of the body, the front for each event, with those of stock endings joined in.

        Equal events lead to one front; ``layers`` says to which nodes those of the body lead.
        """
        per_tick, layers = self.codes.tick, layers or {}
        if not moves and len(tails) == 1:
            (tail,) = tails
            code, rest = self.tails.move(tail)
            return done, (code,), (self._layer(code // per_tick, OVER_NODE)[self._after_tail(rest)],)
        rests: dict[int, list[int]] = {}
        for code, rest in map(self.tails.move, tails):
            rests.setdefault(code, []).append(rest)
        for code, left in rests.items():
            if len(left) == 1 and code not in moves:
                moves[code] = self._after_tail(left[0])
                continue
            base = self.fronts.list[moves[code]] if code in moves else _EMPTY
            on = base.tails.union([rest for rest in left if rest != OVER])
            ended = base.done or OVER in left
            moves[code] = self.fronts[Front(base.pitch, base.tones, base.pending, on, ended)]
        codes = sorted(moves)
        nodes = []
        for code in codes:
            layer = layers.get(code)
            if layer is None:
                layer = self._layer(code // per_tick, OVER_NODE)
            nodes.append(layer[moves[code]])
        return done, tuple(codes), tuple(nodes)

    def _after_tail(self, rest: int) -> int:
        """The front on which nothing is open but what is left of one ending."""
        found = self.after_tails.get(rest)
        if found is None:
            front = ENDED if rest == OVER else _EMPTY._replace(tails=frozenset((rest,)))
            found = self.after_tails[rest] = self.fronts[front]
        return found

    def _layer(self, tick: int, place: int) -> _Layer:
        """The nodes at an onset and a node of the rhythm."""
        layers = self.layers.get(tick)
        if layers is None:
            layers = self.layers[tick] = {}
            heapq.heappush(self.ticks, tick)
        found = layers.get(place)
        if found is None:
            found = layers[place] = _Layer(self.edges)
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
