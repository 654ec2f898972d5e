"""Why there is no line, what would bring lines back, and what each rule costs.

Rules *exclude each other* when no line meets them all, and a set of them is smallest when leaving out any
one of its rules lets some line through (the rules outside the set being dropped). All such sets are found in
order of size by hitting sets: whatever excludes every line shares a rule with each set of rules whose loss
lets a line through (Reiter 1987); the least set that does so is tried, and either excludes every line, so it
is a smallest one, or shows another set to be hit (Ignatiev, Previti, Liffiton, Marques-Silva 2015).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import reduce
from itertools import islice
from typing import Protocol

from everyline import corpora
from everyline.corpora import Corpus
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.condition import Change, Condition, Loosening, Written
from everyline.solver.conditions import conditions
from everyline.solver.count_conditions import together
from everyline.solver.filtered import TooManyLines
from everyline.solver.search import Search, has_line

MOST_SETS = 10
EFFORT = 250_000
"""Places and moves that the search for exclusions may look at before it stops, once it has found one."""

LOOK_AT = 10_000
"""Lines that whole-line rules look at for one question, where the rules as they are leave no more."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that brings lines back: in words, the conditions it touches, and the lines there are then
    (None where that is more than a whole-line rule may look at), and the change as a rule file has it.

    ``dropped`` says that the conditions are left out altogether.
    """

    words: str
    conditions: tuple[Condition, ...]
    count: int | None
    written: Written
    dropped: bool = False

    @property
    def said(self) -> str:
        """The words with the part of the rules that is changed; those of a limit name it themselves."""
        part, dot, _ = self.conditions[0].key.partition(".")
        return f"{part}: {self.words}" if dot and not self.dropped else self.words


@dataclass(frozen=True, slots=True)
class Cost:
    """What one condition costs: the number of lines there are without it (None: more than a whole-line rule
    may look at)."""

    condition: Condition
    without: int | None


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to "why are there so many lines, or none".

    Where there are none: ``exclusions`` are smallest sets of conditions that exclude each other, smallest
    first; ``remedies`` are the smallest changes; ``complete`` says that there are no other exclusions, and
    no smaller sets to leave out together. No exclusion at all means that the changes leave no line whatever
    the rules. Where there are lines: ``costs``, dearest first.
    """

    count: int
    conditions: tuple[Condition, ...]
    exclusions: tuple[tuple[Condition, ...], ...] = ()
    complete: bool = True
    remedies: tuple[Remedy, ...] = ()
    costs: tuple[Cost, ...] = ()


def why(
    rules: Rules, corpus: Corpus | None = None, most_sets: int = MOST_SETS, effort: int = EFFORT
) -> Answer:
    """Explain the number of lines under ``rules``; at most ``most_sets`` exclusions are looked for.

    The search for them stops early, and says so, once one is found and ``effort`` places have been entered.

    ``corpus`` has the figures and endings that come in when those of the rules are dropped.
    """
    corpus = corpora.load() if corpus is None else corpus
    rules = looking_less(rules)
    asked = conditions(rules, corpus)
    if has_line(rules):
        count = compile_rules(rules).count
        costs = [Cost(each, _counted(each.without(rules))) for each in asked]
        costs.sort(key=lambda cost: (cost.without is not None, -(cost.without or 0)))
        return Answer(count, asked, costs=tuple(costs))
    probe = Probe(rules, tuple(each for each in asked if not each.default))
    if not probe.lines(0):
        return Answer(0, asked)
    found = list(islice(probe.exclusions(effort), most_sets + 1))
    remedies = _remedies(rules, asked, probe, found, effort)
    complete = probe.complete and len(found) <= most_sets
    shown = tuple(probe.named(each) for each in found[:most_sets])
    return Answer(0, asked, shown, complete, remedies)


def looking_less(rules: Rules) -> Rules:
    """Whole-line rules that look at the lines of the rules as they are, or LOOK_AT, and no more: every
    question here would otherwise look at millions."""
    return looking_at(rules, looked_at(rules)) if rules.filters else rules


def looked_at(rules: Rules) -> int:
    """How many lines whole-line rules may look at for one question."""
    return max(LOOK_AT, compile_rules(replace(rules, filters=())).count)


def looking_at(rules: Rules, most: int) -> Rules:
    """Whole-line rules that look at so many lines at most, and tell nobody: many questions are asked."""
    quick = (replace(rule, look_at=min(rule.look_at, most), report=None) for rule in rules.filters)
    return replace(rules, filters=tuple(quick)) if rules.filters else rules


def _counted(rules: Rules) -> int | None:
    """How many lines there are; None where whole-line rules may not look at them all."""
    try:
        return compile_rules(rules).count
    except TooManyLines:
        return None


def can_be(rules: Rules) -> bool:
    """Whether there is a line, or too many for whole-line rules to say."""
    return _counted(rules) != 0 if rules.filters else has_line(rules)


class Probe:
    """Asks whether there is a line under some of the conditions; sets of conditions are bits.

    Remembers what it was told: fewer conditions than a set with lines leave lines, more conditions than a
    set without leave none.
    """

    def __init__(self, rules: Rules, asked: tuple[Condition, ...]) -> None:
        self.rules = rules
        self.asked = asked
        self.every = (1 << len(asked)) - 1
        self.complete = True
        self.corrections: list[int] = []
        self._limits = sum(1 << bit for bit, each in enumerate(asked) if each.limit)
        self._searches: dict[int, Search] = {}
        self._with_lines: list[int] = []
        self._without: list[int] = []

    @property
    def looked(self) -> int:
        """Places entered so far."""
        return sum(search.looked for search in self._searches.values())

    def named(self, kept: int) -> tuple[Condition, ...]:
        """The conditions of a set."""
        return tuple(each for bit, each in enumerate(self.asked) if kept >> bit & 1)

    def relaxed(self, kept: int) -> Rules:
        """The rules with only these conditions."""
        gone = (each for bit, each in enumerate(self.asked) if not kept >> bit & 1)
        return reduce(lambda rules, condition: condition.drop(rules), gone, self.rules)

    def lines(self, kept: int) -> bool:
        """Whether there is a line when only these conditions are kept."""
        if any(kept & known == kept for known in self._with_lines):
            return True
        if any(kept & known == known for known in self._without):
            return False
        rules = self.relaxed(kept)
        if rules.filters:
            found = self._looked_at(rules)
            (self._with_lines if found else self._without).append(kept)
            return found
        anatomy = kept & ~self._limits
        if anatomy not in self._searches:
            self._searches[anatomy] = Search(rules)
        found = self._searches[anatomy].found(rules.limits)
        (self._with_lines if found else self._without).append(kept)
        return found

    def _looked_at(self, rules: Rules) -> bool:
        """The same under whole-line rules; where these may not look at all lines, some line is taken to be
        there."""
        try:
            return has_line(rules)
        except TooManyLines:
            self.complete = False
            return True

    def exclusions(self, effort: int) -> Iterator[int]:
        """Every smallest set of conditions without a line, in order of size; ``complete`` says afterwards
        whether the effort was enough for all of them."""
        to_hit = self.corrections
        done: list[int] = []
        size = 0
        while size <= len(self.asked):
            if done and self.looked > effort:
                self.complete = False
                return
            tried = next(hitting(to_hit, done, size), None)
            if tried is None:
                size += 1
            elif self.lines(tried):
                to_hit.append(self.every & ~self._grown(tried))
            else:
                self._prove(tried)
                done.append(tried)
                yield tried

    def _grown(self, kept: int) -> int:
        """A largest set of conditions around this one that still has lines."""
        for bit in range(len(self.asked)):
            wider = kept | 1 << bit
            if wider != kept and self.lines(wider):
                kept = wider
        return kept

    def _prove(self, excluding: int) -> None:
        """That leaving out any one condition lets a line through; sizes in order promise it, this sees it."""
        for bit in range(len(self.asked)):
            if excluding >> bit & 1 and not self.lines(excluding & ~(1 << bit)):
                raise AssertionError("a set of rules that exclude each other was not a smallest one")


def hitting(to_hit: list[int], done: list[int], size: int) -> Iterator[int]:
    """Every set of ``size`` elements that shares one with each of ``to_hit`` and contains none of ``done``.

    Sets are bits. Only sets in which every element was needed are given, so a set of fewer than ``size``
    elements that hits everything is left out.
    """

    def extend(chosen: int, left: int, barred: int) -> Iterator[int]:
        missed = next((each for each in to_hit if not each & chosen), None)
        if missed is None:
            if not left and not any(each & chosen == each for each in done):
                yield chosen
            return
        if not left:
            return
        open_bits = missed & ~barred
        while open_bits:
            bit = open_bits & -open_bits
            open_bits ^= bit
            yield from extend(chosen | bit, left - 1, barred)
            barred |= bit  # sets with this element have all been tried

    yield from extend(0, size, 0)


# -- what would bring lines back -----------------------------------------------------------------------------


def _remedies(
    rules: Rules, asked: tuple[Condition, ...], probe: Probe, exclusions: list[int], effort: int
) -> tuple[Remedy, ...]:
    """The smallest changes: every one that touches a single condition, else the smallest sets to drop."""
    trial = _InRules(rules)
    alone = (single_changes(each, trial) for each in asked if can_be(each.drop(rules)))
    found = tuple(remedy for remedies in alone for remedy in remedies)
    return found or _together(probe, exclusions, effort)


class Trial(Protocol):
    """Where a change is tried, given as rules are changed by it and as it is written."""

    def able(self, change: Change, written: Written) -> bool:
        """Whether it brings lines back."""

    def count(self, change: Change, written: Written) -> int | None:
        """How many lines there are then; None where they are not counted."""


@dataclass(frozen=True, slots=True)
class _InRules:
    """Changes tried in the rules themselves."""

    rules: Rules

    def able(self, change: Change, written: Written) -> bool:
        return can_be(change(self.rules))

    def count(self, change: Change, written: Written) -> int | None:
        return _counted(change(self.rules))


def single_changes(condition: Condition, trial: Trial) -> Iterator[Remedy]:
    """Each number of a condition moved by the least amount, each other value, and the condition's loss, as
    far as they bring lines back."""
    for move in condition.moves:
        if (steps := _least(move, trial)) is not None:
            count = trial.count(_moved(move, steps), move.written(steps))
            yield Remedy(move.words(steps), (condition,), count, move.written(steps))
    for choice in condition.choices:
        if trial.able(choice.with_it, choice.written):
            count = trial.count(choice.with_it, choice.written)
            yield Remedy(choice.words, (condition,), count, choice.written)
    if count := trial.count(condition.without, condition.written):
        yield replace(dropped(condition), count=count)


def dropped(condition: Condition) -> Remedy:
    """The loss of a condition, not counted."""
    return Remedy(f"without it: {condition.words}", (condition,), None, condition.written, True)


def _moved(move: Loosening, steps: int) -> Change:
    return lambda rules: move.by(rules, steps)


def _least(move: Loosening, trial: Trial) -> int | None:
    """The fewest steps of a number that bring lines back; None where none do."""
    if not trial.able(_moved(move, move.most), move.written(move.most)):
        return None
    low, high = 0, move.most  # none at ``low`` steps, some at ``high``
    while high - low > 1:
        middle = (low + high) // 2
        if trial.able(_moved(move, middle), move.written(middle)):
            high = middle
        else:
            low = middle
    return high


def _together(probe: Probe, exclusions: list[int], effort: int) -> tuple[Remedy, ...]:
    """The smallest sets of conditions whose common loss brings lines back, where no single one does.

    What is to go must share a condition with everything that excludes all lines; the dual of the search for
    exclusions. All sets of the least size are found, up to MOST_SETS, unless the effort runs out before the
    first; then it is the smallest one that the search for exclusions met, which may not be the least.
    """
    excluding = list(exclusions)
    gone: list[int] = []
    size, end = 1, probe.looked + effort
    while len(gone) < MOST_SETS and size <= len(probe.asked):
        if probe.looked > end:
            probe.complete = False
            break
        tried = next(hitting(excluding, gone, size), None)
        if tried is None:
            if gone:
                break
            size += 1
        elif probe.lines(probe.every & ~tried):
            gone.append(tried)
        else:
            excluding.append(_shrunk(probe, probe.every & ~tried, end))
    if not gone and probe.corrections:
        gone.append(min(probe.corrections, key=int.bit_count))
    return tuple(_dropping(probe, each) for each in gone)


def _dropping(probe: Probe, gone: int) -> Remedy:
    dropped = probe.named(gone)
    words = "without " + " and without ".join(each.key for each in dropped)
    written = together(probe.rules, (each.written for each in dropped))
    rules = reduce(lambda rules, condition: condition.without(rules), dropped, probe.rules)
    return Remedy(words, dropped, _counted(rules), written, True)


def _shrunk(probe: Probe, kept: int, end: int) -> int:
    """A smallest set of conditions within this one that still has no line, or, where the work is over before
    that, a smaller one.

    Limits go first: while the anatomy is held tight there is least to look at.
    """
    for bit in reversed(range(len(probe.asked))):
        if probe.looked > end:
            break
        if kept >> bit & 1 and not probe.lines(kept & ~(1 << bit)):
            kept &= ~(1 << bit)
    return kept
