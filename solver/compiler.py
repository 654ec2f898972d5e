"""Compiles rules into a diagram: the anatomy's fronts, layer by layer, equal tails merged; then each limit.

Forward, fronts of readings are followed, one layer for each onset; the moves of a front at a moment are
worked out once and then reused. Backward, nodes from which no line can be finished are dropped and nodes
with the same continuations become one. The limits are joined one after another (``solver.intersect``).

While compiling, everything is a small integer: fronts, events (``solver.codes``), and what is left of a stock
ending (``solver.tails``).
"""

from __future__ import annotations

import heapq

from everyline.rules.anatomy import Anatomy
from everyline.rules.front import ENDED, Front, Moment
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
    """The nodes at one onset: for each front its node, which is numbered when it is first asked for."""

    def __init__(self, edges: list[Edges]) -> None:
        super().__init__()
        self._edges = edges

    def __missing__(self, front: int) -> int:
        node = self[front] = len(self._edges)
        self._edges.append(_LATER)
        return node


class _Compiler:
    """One compilation. Nodes are numbered as they are met; a node is a front at an onset."""

    def __init__(self, rules: Rules) -> None:
        self.anatomy = Anatomy(rules)
        self.slot_ticks = rules.slot_ticks
        self.codes = Codes(rules)
        self.tails = Tails(rules, self.codes)
        self.fronts = _Fronts()
        self.moment_ids: dict[Moment, int] = {}
        self.body_moves: dict[tuple[int, int], Moves] = {}
        self.after_tails: dict[int, int] = {}
        self.layers: dict[int, _Layer] = {}
        self.ticks: list[int] = []
        self.edges: list[Edges] = [_LATER]

    # -- forward ---------------------------------------------------------------------------------------------

    def run(self) -> Diagram:
        """Compile the whole diagram."""
        order = [_ROOT]
        self._begin()
        while self.ticks:
            tick = heapq.heappop(self.ticks)
            layer = self.layers.pop(tick)
            order.extend(layer.values())
            slot = tick // self.slot_ticks + 1
            self._expand(slot, layer)
            self._check(slot)
        return self._merge(order)

    def _check(self, slot: int) -> None:
        """Stop before the diagram is larger than allowed."""
        rules = self.anatomy.rules
        bar = slot // rules.progression.slots_per_bar + 1
        check_body(len(self.edges), bar, rules.progression.bars, len(rules.must_targets))

    def _begin(self) -> None:
        """The edges of the root: the entries."""
        codes: list[int] = []
        nodes: list[int] = []
        for slot in self.anatomy.entry_slots():
            onset = slot * self.slot_ticks
            base, layer = self.codes.base(onset, self.slot_ticks), self._layer(onset)
            for pitch, front in sorted(self.anatomy.entries(slot).items()):
                codes.append(base + pitch * self.codes.semitone)
                nodes.append(layer[self.fronts[front]])
        self.edges[_ROOT] = (False, tuple(codes), tuple(nodes))

    def _expand(self, slot: int, layer: _Layer) -> None:
        """Work out the edges of all nodes whose last note may be followed by one of the body on a slot."""
        edges, fronts, body_moves = self.edges, self.fronts.list, self.body_moves
        if slot > self.anatomy.resolution:
            for front, node in layer.items():
                edges[node] = self._joined(fronts[front].done, {}, fronts[front].tails)
            return
        number, landing, moment = self._moment(slot)
        onset = slot * self.slot_ticks
        nodes = self._layer(onset)
        base = self.codes.base(onset, self.anatomy.final_length if moment.resolves else self.slot_ticks)
        for front, node in layer.items():
            readings = fronts[front]
            pitch, tones, pending, tails, done = readings
            if not (tones or pending):
                edges[node] = self._joined(done, {}, tails)
                continue
            key = (number if tones else landing, front)
            found = body_moves.get(key)
            if found is None:
                found = self._moves(moment, readings)
                if key[0] != _ONCE:
                    body_moves[key] = found
            pitches, after = found
            codes = [base + each for each in pitches]
            if moment.endings and tones and (led_into := self.anatomy.endings_led_into(moment, readings)):
                tails = tails.union(self.tails.starts(slot, pitch, led_into))
            if tails:
                edges[node] = self._joined(done, dict(zip(codes, after, strict=True)), tails)
            else:
                edges[node] = (done, tuple(codes), tuple(map(nodes.__getitem__, after)))

    def _moves(self, moment: Moment, readings: Front) -> Moves:
        """The moves of a front as notes of the body."""
        found = self.anatomy.moves(moment, readings)
        pitches, semitone, fronts = sorted(found), self.codes.semitone, self.fronts
        return [pitch * semitone for pitch in pitches], [fronts[found[pitch]] for pitch in pitches]

    def _joined(self, done: bool, moves: dict[int, int], tails: frozenset[int]) -> Edges:
        """The edges for moves of the body, the front for each event, with those of stock endings joined in.

        Equal events lead to one front.
        """
        per_tick, layer = self.codes.tick, self._layer
        if not moves and len(tails) == 1:
            (tail,) = tails
            code, rest = self.tails.move(tail)
            return done, (code,), (layer(code // per_tick)[self._after_tail(rest)],)
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
        return done, tuple(codes), tuple([layer(code // per_tick)[moves[code]] for code in codes])

    def _after_tail(self, rest: int) -> int:
        """The front on which nothing is open but what is left of one ending."""
        found = self.after_tails.get(rest)
        if found is None:
            front = ENDED if rest == OVER else _EMPTY._replace(tails=frozenset((rest,)))
            found = self.after_tails[rest] = self.fronts[front]
        return found

    def _layer(self, tick: int) -> _Layer:
        found = self.layers.get(tick)
        if found is None:
            found = self.layers[tick] = _Layer(self.edges)
            heapq.heappush(self.ticks, tick)
        return found

    def _moment(self, slot: int) -> tuple[int, int, Moment]:
        """(number of the moment, of what it is to figures under way, the moment)."""
        moment = self.anatomy.moment(slot)
        number, landing = [
            self.moment_ids.setdefault(each, len(self.moment_ids)) if each.slot is None else _ONCE
            for each in (moment, self.anatomy.landing(moment))
        ]
        return number, landing, moment

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
