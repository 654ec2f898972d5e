"""What would bring choruses back where a plan has none: changes of its tables, each counted anew.

What leaves no chorus says where to look: in the rules of a phrase that has no line of its own, in a join that
nothing passes, in the limits over the whole. A change is made in the phrase, and for all phrases where that
is not enough: several may share the rule, and a shared key cannot be taken out of one of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from everyline.corpora import Corpus
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.chorus_keys import LONGEST_REST, SHARED
from everyline.rules.chorus_plan import ChorusPlan, Join, Phrase
from everyline.rules.keys import WIDEST_REACH
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Rules
from everyline.solver.budget import TooManyNodes
from everyline.solver.chorus import Cause, Fault, Solved, known_of, solve
from everyline.solver.condition import Change, Condition, Loosening, Written
from everyline.solver.conditions import conditions
from everyline.solver.conflicts import (
    MOST_SETS,
    Remedy,
    can_be,
    dropped,
    looked_at,
    looking_at,
    single_changes,
    why,
)
from everyline.solver.diagram import Diagram
from everyline.solver.intersect import lets_through
from everyline.solver.joined import join
from everyline.solver.limit_conditions import limit_conditions
from everyline.solver.place_conditions import entry_conditions

ALL = "all phrases"
MOST_TOGETHER = 4
"""Changes that are made together at most."""
MOST_TRIED = 400
"""Plans that are solved for one answer at most."""
MOST_LOOKED_AT = 500_000
"""Places that are looked at to see one chorus under limits over the whole."""


def chorus_remedies(solved: Solved, corpus: Corpus) -> tuple[Remedy, ...]:
    """Every single change that brings choruses back, else the smallest sets of changes that do so together;
    nothing for a plan that has choruses.

    ``corpus`` has the figures and endings that come in when those of a phrase are dropped. What is written is
    for the plan's tables (``rules.changes``), with ``phrase N.`` before a change in the N-th phrase; the
    words say where.
    """
    if solved.fault is None:
        return ()
    search = _Search(solved, corpus)
    return tuple(search.alone(solved.fault)) or search.together(solved.fault)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in a plan a condition is changed: what that is called, and what its keys begin with."""

    named: str = ""
    before: str = ""

    def put(self, written: Written) -> Written:
        """What is written there."""
        return {self.before + key: value for key, value in written.items()}

    def condition(self, own: Condition) -> Condition:
        """A condition that writes there."""

        def moved(move: Loosening) -> Loosening:
            return move._replace(written=lambda n: self.put(move.written(n)))

        choices = tuple(each._replace(written=self.put(each.written)) for each in own.choices)
        moves = tuple(moved(each) for each in own.moves)
        return replace(own, written=self.put(own.written), moves=moves, choices=choices)

    def remedy(self, own: Remedy) -> Remedy:
        """A remedy with the place in its words."""
        return replace(own, words=f"{self.named}, {own.said}" if self.named else own.said)


class _Step(NamedTuple):
    """A remedy made together with others; a single condition, in its place, may do with less than its
    loss."""

    remedy: Remedy
    place: _Place
    condition: Condition | None
    of: tuple[int, str]
    """The phrase, from 0, and the keys that it touches; the same in whichever place."""


class _After(NamedTuple):
    """What a plan comes to with a change made; ``choruses`` is None where it is too large to be counted."""

    choruses: int | None
    fault: Fault | None


class _Search:
    """The search for remedies of one plan. Conditions are those of the plan as it is, whatever is changed."""

    def __init__(self, solved: Solved, corpus: Corpus) -> None:
        self.plan = solved.plan
        self.corpus = corpus
        self._pieces = solved.pieces
        self._known = known_of(solved)
        own = (each for each in self.plan.phrases if each.rules.filters)
        self._look_at = {each.name: looked_at(each.rules) for each in own}
        self._after: dict[str, _After | None] = {}

    def after(self, written: Written) -> _After | None:
        """The plan with a change made; None where that makes no plan, or too many were tried already."""
        key = _key(written)
        if key not in self._after:
            self._after[key] = None
            if len(self._after) <= MOST_TRIED:
                with suppress(InputError):
                    self._after[key] = self._counted(self.plan.changed(written))
        return self._after[key]

    def _counted(self, plan: ChorusPlan) -> _After:
        phrases = tuple(replace(each, rules=self._quick(each)) for each in plan.phrases)
        try:
            solved = solve(replace(plan, phrases=phrases), dict(self._known))
        except TooManyNodes:
            return _After(None, None)
        return _After(solved.diagram.count, solved.fault)

    def able(self, written: Written) -> bool:
        """Whether there may be choruses with a change made; some, where there are too many to count.

        Under other limits over the whole one alone is looked for; where that takes long they are too many.
        """
        if all(key.startswith("limit ") for key in written) and _key(written) not in self._after:
            try:
                form = self.plan.changed(written).form
            except InputError:
                return False
            some = lets_through(self._joined, form.limits, form, MOST_LOOKED_AT)
            if some is None:
                self._after[_key(written)] = _After(None, None)
            return some is not False
        after = self.after(written)
        return after is not None and after.choruses != 0

    @cached_property
    def _joined(self) -> Diagram:
        """Every chorus before the limits over the whole."""
        return join(self._pieces).diagram

    # -- one change ------------------------------------------------------------------------------------------

    def alone(self, fault: Fault) -> Iterator[Remedy]:
        """Each single change that is enough, in the first place where there is one."""
        rules = self._rules(fault)
        for places, condition in self._asked(fault):
            for place in places:
                found = self._changes(place, condition, {}, rules)
                yield from found
                if found:
                    break

    def _changes(
        self, place: _Place, condition: Condition, others: Written, rules: Rules | None = None
    ) -> list[Remedy]:
        """The changes of one condition that bring choruses back beside others, each once."""
        found: dict[str, Remedy] = {}
        for each in single_changes(place.condition(condition), _InPlan(self, others, rules)):
            if each.count is not None:
                found.setdefault(repr(each.written), place.remedy(each))
        return list(found.values())

    # -- several ---------------------------------------------------------------------------------------------

    def together(self, fault: Fault) -> tuple[Remedy, ...]:
        """The smallest sets of conditions whose loss mends one fault after another, each number in them then
        moved no farther than it has to be; nothing where many would be needed."""
        begun: list[tuple[Fault, tuple[_Step, ...]]] = [(fault, ())]
        for _ in range(MOST_TOGETHER):
            further: dict[str, tuple[Fault, tuple[_Step, ...]]] = {}
            ended: dict[frozenset[tuple[int, str]], tuple[_Step, ...]] = {}
            for now, done in begun:
                for steps, left in self._mended(now, done):
                    if left is None:
                        ended.setdefault(frozenset(each.of for each in steps), steps)
                    else:
                        written = _written(each.remedy for each in steps)
                        further.setdefault(_key(written), (left, steps))
            if ended:
                return tuple(map(self._as_one, list(ended.values())[:MOST_SETS]))
            begun = list(further.values())[:MOST_SETS]
        return ()

    def _mended(
        self, fault: Fault, done: tuple[_Step, ...]
    ) -> Iterator[tuple[tuple[_Step, ...], Fault | None]]:
        """What was done before and one step more that mends a fault, with the fault that is met then."""
        for ways in self._steps(fault):
            for step in ways:
                steps = (*done, step)
                after = self.after(_written(each.remedy for each in steps))
                if after is None or after.choruses is None:
                    continue
                if after.fault is None or after.fault.left < fault.left:
                    yield steps, after.fault
                    break

    def _steps(self, fault: Fault) -> list[list[_Step]]:
        """What may be left out to mend a fault, or moved as far as it goes where it cannot be left out."""
        found = []
        for places, condition in self._asked(fault):
            of = (fault.place, condition.key)
            for place in places:
                own = place.condition(condition)
                farthest = (
                    Remedy(move.words(move.most), (own,), None, move.written(move.most)) for move in own.moves
                )
                ways = (dropped(own), *farthest)
                found.append([_Step(place.remedy(each), place, condition, of) for each in ways])
        if not found and (rules := self._rules(fault)) is not None:
            for each in why(rules, self.corpus).remedies:
                for place in self._places(fault.place, each.written):
                    put = place.remedy(replace(each, written=place.put(each.written)))
                    found.append([_Step(put, place, None, (fault.place, each.words))])
        return found

    def _as_one(self, steps: tuple[_Step, ...]) -> Remedy:
        """Changes made together as one remedy, each made as small as it can be beside the others."""
        made = [step.remedy for step in steps]
        for index, step in enumerate(steps):
            if step.condition is not None:
                others = _written(each for each in made if each is not made[index])
                made[index] = next(iter(self._changes(step.place, step.condition, others)), made[index])
        written = _written(made)
        after = self.after(written)
        return Remedy(
            "; ".join(each.words for each in made),
            tuple(condition for each in made for condition in each.conditions),
            after.choruses if after is not None else None,
            written,
            all(each.dropped for each in made),
        )

    # -- where to look ---------------------------------------------------------------------------------------

    def _rules(self, fault: Fault) -> Rules | None:
        """The rules of the phrase that is to have a line."""
        phrase = self.plan.phrases[fault.place]
        return self._quick(phrase) if fault.cause is Cause.PHRASE else None

    def _quick(self, phrase: Phrase) -> Rules:
        """The rules of a phrase of this plan, or of one changed, whose whole-line rules look at few lines."""
        return looking_at(phrase.rules, self._look_at.get(phrase.name, 0))

    def _asked(self, fault: Fault) -> Iterator[tuple[tuple[_Place, ...], Condition]]:
        """The conditions whose loss may mend a fault, and the places in which each may be changed, the
        nearest first."""
        whole = fault.cause is Cause.LIMIT
        for condition in self._conditions(fault):
            yield (_Place(),) if whole else self._places(fault.place, condition.written), condition

    def _conditions(self, fault: Fault) -> Iterator[Condition]:
        phrase = self.plan.phrases[fault.place]
        if fault.cause is Cause.LIMIT:
            yield from limit_conditions(self.plan.form)
        elif (rules := self._rules(fault)) is not None:
            asked = conditions(rules, self.corpus)
            yield from (each for each in asked if each.written and can_be(each.drop(rules)))
        elif phrase.join is not None:
            yield from _join_conditions(phrase.join, self.plan.form.progression)
            if fault.cause is Cause.REST:
                yield from entry_conditions(phrase.rules)

    def _places(self, place: int, written: Written) -> tuple[_Place, ...]:
        """A phrase, and where the keys may be shared, all of them."""
        own = _Place(f'phrase "{self.plan.phrases[place].name}"', f"phrase {place + 1}.")
        shared = all(key.partition(".")[0] in (*SHARED, "join") for key in written)
        return (own, _Place(ALL)) if shared else (own,)


@dataclass(frozen=True, slots=True)
class _InPlan:
    """Changes tried in a plan, beside others. Where a phrase has to have a line, its ``rules`` are asked
    first, which is soon done."""

    search: _Search
    others: Written
    rules: Rules | None

    def able(self, change: Change, written: Written) -> bool:
        may = self.rules is None or can_be(change(self.rules))
        return may and self.search.able({**self.others, **written})

    def count(self, change: Change, written: Written) -> int | None:
        after = self.search.after({**self.others, **written})
        return 0 if after is None else after.choruses


def _key(written: Written) -> str:
    return repr(sorted(written.items()))


def _written(remedies: Iterable[Remedy]) -> Written:
    return {key: value for each in remedies for key, value in each.written.items()}


# -- joins ---------------------------------------------------------------------------------------------------


def _join_conditions(join: Join, form: Progression) -> Iterator[Condition]:
    """How a phrase follows the one before it, as conditions that give way number by number. They are no rules
    of a line: what they leave is seen in the plan alone."""
    reach, least = join.reach, join.least_rest // TICKS_PER_BEAT
    if reach < WIDEST_REACH:
        words = f"its first note is at most {plural(reach, 'semitone')} from the last note before"
        yield _join_condition("reach", words, reach, WIDEST_REACH, WIDEST_REACH)
    if least:
        words = f"there is at least {plural(least, 'beat')} of rest before it"
        yield _join_condition("least_rest", words, least, 0, 0)
    if join.most_rest is not None:
        most = join.most_rest // TICKS_PER_BEAT
        words = f"there is at most {plural(most, 'beat')} of rest before it"
        longest = min(LONGEST_REST, form.bars * form.beats_per_bar)
        yield _join_condition("most_rest", words, most, max(most, longest), None)


def _join_condition(name: str, words: str, value: int, end: int, without: int | None) -> Condition:
    """A number of a join, which gives way as far as ``end``; ``without`` is written in place of it."""
    step = 1 if end > value else -1
    move = Loosening(
        lambda n: f"{name} {value} -> {value + step * n}",
        lambda rules, n: rules,
        abs(end - value),
        lambda n: {f"join.{name}": value + step * n},
    )
    return Condition(f"join.{name}", words, lambda rules: rules, {f"join.{name}": without}, moves=(move,))
