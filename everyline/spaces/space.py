"""The Python face: a set of lines that is counted, numbered and sliced without being listed."""

from __future__ import annotations

import copy
import sys
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, overload

from everyline.corpora import load as load_corpus
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.annotate import AnnotatedLine, annotate
from everyline.rules.line import Event, Events, brief, make_events
from everyline.rules.line_text import parse_line
from everyline.rules.roughness import roughness
from everyline.rules.rulefile import load_rules, parse_rules, rules_from_options
from everyline.rules.ruleset import Rules
from everyline.rules.taste import Taste, default_taste, load_taste, strangeness
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.picking import MOST_PICKED
from everyline.solver.sample import sample_numbers
from everyline.spaces import arguments
from everyline.spaces.shown import Line, as_line
from everyline.text.drawing import draw

if TYPE_CHECKING:
    from everyline.solver.fitting import Fitted
    from everyline.solver.hearing import Hearing
    from everyline.solver.onward import Ahead, Onward
    from everyline.solver.picking import Pick
    from everyline.solver.smooth import Ranked
    from everyline.solver.strange import Strange
    from everyline.solver.varied import VariedLines
    from everyline.spaces.following import Following


SMALL_PART = 10_000
"""Lines of a part of a space that are put in order one by one. Those of a larger part are taken out of all
lines in their order, which takes long where they are rare among them."""


class Space:
    """All valid lines under one set of rules.

    ``space.count`` is exact at any size. As a sequence it counts from 0 (``space[0]``, ``space[-1]``,
    ``space[10:20]``); by number, as on paper, from 1 (``space.line(1)``).
    """

    def __init__(
        self,
        rules: Rules,
        first: int = 0,
        beyond: int | None = None,
        step: int = 1,
        taste: Taste | None = None,
    ) -> None:
        """The lines under rules, or those at the places of a slice; ``taste`` is what strangeness goes by.
        Raises InputError for anything else."""
        if not isinstance(rules, Rules):
            raise InputError(
                f"{brief(rules)} are not rules; lines(...) takes changes, load(...) a rule file and "
                "parse(...) its text."
            )
        self.rules = rules
        arguments.part(slice(first, beyond, step))
        self._view = (first, beyond, step)
        self._taste = taste

    @property
    def taste(self) -> Taste:
        """What strangeness goes by."""
        return self._taste or default_taste()

    @cached_property
    def diagram(self) -> Diagram:
        """The compiled diagram, made when it is first needed."""
        return compile_rules(self.rules)

    @cached_property
    def _numbers(self) -> range:
        first, beyond, step = self._view
        return (
            range(self.diagram.count)[first:beyond:step]
            if self._view != (0, None, 1)
            else range(self.diagram.count)
        )

    @property
    def count(self) -> int:
        """The exact number of distinct lines."""
        numbers = self._numbers
        return max(
            0, (numbers.stop - numbers.start + numbers.step - (1 if numbers.step > 0 else -1)) // numbers.step
        )

    def __len__(self) -> int:
        """The number of lines; OverflowError beyond what Python's len can say (``count`` has no bound)."""
        count = self.count
        if count > sys.maxsize:
            raise OverflowError(f"{count} lines are more than len() can say; use .count")
        return count

    def __bool__(self) -> bool:
        return self.count > 0

    @overload
    def __getitem__(self, index: int) -> Line: ...
    @overload
    def __getitem__(self, index: slice) -> Space: ...
    def __getitem__(self, index: int | slice) -> Line | Space:
        """One line by its place, from 0, or a part as a space of its own. Raises IndexError for a place where
        there is none, InputError for what is no place."""
        if isinstance(index, slice):
            chosen = self._numbers[arguments.part(index)]
            part = copy.copy(self)
            part.__dict__.update(diagram=self.diagram, _numbers=chosen)
            return part
        place, count = arguments.whole("index", index), self.count
        if not -count <= place < count:
            there = (
                f"they go from 0 to {count - 1}, or from -1 down to -{count}" if count else "there are none"
            )
            raise IndexError(f"no line has the index {place}; {there}.")
        return self.line(self._numbers[place] + 1)

    def __iter__(self) -> Iterator[Line]:
        numbers = self._numbers
        if numbers.step == 1:
            return self._run(numbers.start, self.count)
        return (self.line(number + 1) for number in numbers)

    def _run(self, first: int, most: int) -> Iterator[Line]:
        for number, events in zip(
            range(first + 1, first + most + 1), self.diagram.walk(first + 1), strict=False
        ):
            yield self._shown(events, number)

    def _shown(self, events: Events, number: int) -> Line:
        """One of the lines as it is given out."""
        return as_line(annotate(self.rules, events, number, taste=self.taste))

    def shown(self, lines: Iterable[tuple[int, Events]]) -> Iterator[Line]:
        """Lines of this space, given as number and events, each with its analysis."""
        return (self._shown(events, number) for number, events in _numbered(lines))

    def __contains__(self, line: object) -> bool:
        return self.number(line) is not None

    def line(self, number: int) -> Line:
        """Line ``number`` of the whole space, from 1. Raises InputError outside it."""
        number = arguments.whole("line number", number)
        if not 1 <= number <= self.diagram.count:
            raise InputError(_no_such_number(number, self.diagram.count))
        return self._shown(self.diagram.line(number), number)

    def number(self, line: object) -> int | None:
        """The number of a line given as text, events or an annotated line; None when it is not one of
        these. Raises InputError for what cannot be read as a line."""
        for events in self._candidates(line):
            number = self.diagram.number(events)
            if number is not None and number - 1 in self._numbers:
                return number
        return None

    def _candidates(self, line: object) -> Iterable[Events]:
        if isinstance(line, str):
            return parse_line(line, self.rules)
        if isinstance(line, AnnotatedLine):
            return (line.events,)
        return (make_events(line),)

    def after(self, beginning: object = (), roles: bool = True) -> Following:
        """What may follow the first notes of a line, given as text ("D4 F4") or events: over the whole space,
        however it is sliced.

        Without ``roles`` the counts alone are worked out, which takes no time once the lines are compiled.
        Where the text fits several entry beats, the earliest is meant. Raises InputError for what no line
        begins with.
        """
        from everyline.spaces.following import following

        empty = isinstance(beginning, str) and not beginning.split()
        candidates = [()] if empty else list(self._candidates(beginning))
        best = max(candidates, key=lambda events: self.diagram.reach(events)[0])
        return following(self.rules, self.diagram, best, self._ahead(best) if roles else {})

    def _ahead(self, beginning: Events) -> dict[Event, Ahead]:
        return self._onward.ahead(beginning)

    @cached_property
    def _onward(self) -> Onward:
        from everyline.solver.onward import Onward

        return Onward(self.rules, self.diagram)

    def sample(self, most: int, seed: int = 1) -> list[Line]:
        """Up to ``most`` distinct lines, uniform over the space, the same for the same seed."""
        return list(self.samples(most, seed))

    def samples(self, most: int, seed: int = 1) -> Iterator[Line]:
        """The same, one line at a time."""
        numbers = self._numbers
        places = sample_numbers(self.count, arguments.whole("most", most, 0), arguments.whole("seed", seed))
        return (self.line(numbers[place - 1] + 1) for place in places)

    def smoothest(self, most: int | None = None) -> Iterator[Line]:
        """The smoothest lines of all, ties by number, each worked out when it is asked for."""
        return self.shown((line.number, line.events) for line in islice(self.ranked(), self._most(most)))

    def by(self, taste: Taste | str) -> Self:
        """The same lines, with strangeness by another taste: one of the corpora by its name, or a value."""
        part = copy.copy(self)
        part._taste = load_taste(taste, load_corpus()) if isinstance(taste, str) else taste
        return part

    def strange(self) -> Iterator[Strange]:
        """All lines from the least strange to the strangest, ties by number, each worked out when it is asked
        for, without analysis."""
        from everyline.solver.strange import Strange, least_strange

        if self._is_small_part:
            by_taste = (Strange(strangeness(self.rules, e, self.taste), n, e) for n, e in self._each())
            return iter(sorted(by_taste))
        found = least_strange(self.rules, self.diagram, self.taste)
        return (line for line in found if line.number - 1 in self._numbers)

    def idiomatic(self, most: int | None = None) -> Iterator[Line]:
        """The least strange lines of all, ties by number."""
        return self.shown((line.number, line.events) for line in islice(self.strange(), self._most(most)))

    def fit(self) -> Fitted:
        """The taste fitted to these rules, and how far its lines are from the style before and after. Raises
        InputError for a taste without statistics."""
        from everyline.solver.fitting import fit

        return fit(self._hearing(), self.taste)

    def drawn(self, seed: int = 1, temperature: float = 1.0) -> Iterator[Strange]:
        """Lines drawn without replacement, each in proportion to 2^(-strangeness / 16 / temperature)."""
        from everyline.solver.strange import drawn_by_taste

        found = drawn_by_taste(self._hearing(), self.taste, arguments.whole("seed", seed), temperature)
        return (line for line in found if line.number - 1 in self._numbers)

    def _hearing(self) -> Hearing:
        from everyline.solver.hearing import Hearing

        return Hearing.of(self.rules, self.diagram)

    def sample_by_taste(self, most: int, seed: int = 1, temperature: float = 1.0) -> list[Line]:
        """Up to ``most`` distinct lines drawn by taste, the same for the same seed."""
        wanted = min(arguments.whole("most", most, 0), self.count)
        drawn = islice(self.drawn(seed, temperature), wanted)
        return list(self.shown((line.number, line.events) for line in drawn))

    def stranger(self, strangeness: int) -> int:
        """How many lines of the whole space are stranger than that, exactly."""
        from everyline.solver.strange import strangeness_histogram

        found = strangeness_histogram(self.rules, self.diagram, self.taste)
        return sum(count for value, count in found.items() if value > strangeness)

    def pick(self, most: int = MOST_PICKED, seed: int = 1) -> list[Line]:
        """A few lines to hand out: the least strange that are unlike each other, out of lines drawn by the
        taste fitted to these rules."""
        picked = self.picked(most, seed)
        return list(self.shown((line.number, line.events) for line in picked.lines))

    def picked(
        self,
        most: int = MOST_PICKED,
        seed: int = 1,
        pool: int | None = None,
        drawing: Taste | None = None,
    ) -> Pick:
        """The same without analysis, and how many lines were drawn to choose from; ``drawing`` is the taste
        to draw by, for one that was fitted already."""
        from everyline.solver.picking import pick

        wanted = arguments.whole("most", most, 1)
        size = arguments.whole_or_none("pool", pool, wanted)
        return pick(self.rules, self._drawn_here(seed, drawing), wanted, size)

    def varied(self, most: int | None = None, pool: int | None = None, seed: int = 1) -> Iterator[Line]:
        """Lines in turn so that the first few are always the least strange that are unlike each other, out of
        ``pool`` lines drawn by the fitted taste (``solver.picking.POOL``, or ``most`` where that is more)."""
        return self.shown((line.number, line.events) for line in self.varied_ranked(most, pool, seed))

    def varied_ranked(
        self,
        most: int | None = None,
        pool: int | None = None,
        seed: int = 1,
        drawing: Taste | None = None,
    ) -> Iterator[Strange]:
        """The same lines without their analysis; ``drawing`` as for ``picked``."""
        from everyline.solver.picking import POOL, in_turn

        most, pool = self._most(most), self._most(pool, "pool", 1)
        size = max(POOL, most or 0) if pool is None else pool
        return islice(in_turn(self.rules, islice(self._drawn_here(seed, drawing), size)), most)

    def _drawn_here(self, seed: int, drawing: Taste | None) -> Iterator[Strange]:
        """Lines drawn by the fitted taste (by the taste itself where it has no statistics); from a part of a
        space, whose lines may be rare among all, evenly. Strangeness is by the taste as it is."""
        from everyline.solver.strange import Strange, drawn_by_taste

        seed = arguments.whole("seed", seed)
        found: Iterable[tuple[int, Events]]
        if self.count < self.diagram.count:
            places = sample_numbers(self.count, self.count, seed)
            numbers = (self._numbers[place - 1] + 1 for place in places)
            found = ((number, self.diagram.line(number)) for number in numbers)
        else:
            hearing = self._hearing()
            if drawing is None and self.taste.statistics and self.count:
                from everyline.solver.fitting import fit  # loads numpy

                drawing = fit(hearing, self.taste).taste
            found = (line[1:] for line in drawn_by_taste(hearing, drawing or self.taste, seed))
        return (Strange(strangeness(self.rules, events, self.taste), n, events) for n, events in found)

    def _most(self, most: int | None, name: str = "most", least: int = 0) -> int | None:
        """How many lines are asked for, or None; no more than ``islice`` can count."""
        wanted = arguments.whole_or_none(name, most, least)
        return None if wanted is None else min(wanted, sys.maxsize)

    def most_varied(self, most: int, pool: int | None = None, budget: int | None = None) -> VariedLines:
        """``most`` lines chosen at once out of the ``pool`` smoothest, so that the least distance between two
        of them is the greatest there is; see ``everyline.solver.varied.most_varied``."""
        from everyline.solver.varied import EXACT_POOL, most_varied

        size = EXACT_POOL if pool is None else self._most(pool, "pool", 1)
        wanted, least = arguments.whole("most", most, 1), arguments.whole_or_none("budget", budget, 0)
        return most_varied(list(islice(self.ranked(), size)), wanted, least)

    def ranked(self) -> Iterator[Ranked]:
        """All lines from smooth to rough, without their analysis."""
        from everyline.solver.smooth import Ranked, smoothest

        if self._is_small_part:
            weights = self.rules.weights
            rated = (Ranked(roughness([each.pitch for each in e], weights), n, e) for n, e in self._each())
            return iter(sorted(rated, key=lambda line: (line.roughness, line.number)))
        numbers = self._numbers
        return (line for line in smoothest(self.diagram, self.rules.weights) if line.number - 1 in numbers)

    @property
    def _is_small_part(self) -> bool:
        """Whether its lines are put in order by themselves, and not found among all in theirs."""
        return self.count < self.diagram.count and self.count <= SMALL_PART

    def _each(self) -> Iterator[tuple[int, Events]]:
        """Every line with its number."""
        return ((number + 1, self.diagram.line(number + 1)) for number in self._numbers)

    def __repr__(self) -> str:
        return f"<{plural(self.count, 'line')} over {self.rules.progression.text}>"

    def __str__(self) -> str:
        """The first few lines as text for the music stand."""
        shown = "\n\n".join(draw(line) for line in self[:3])
        return f"{plural(self.count, 'line')} over {self.rules.progression.text}\n\n{shown}".rstrip()


def _numbered(lines: object) -> Iterator[tuple[int, Events]]:
    """The same lines. Raises InputError, when it comes to it, for what is no number with events."""
    if not isinstance(lines, Iterable):
        raise InputError(f"{brief(lines)} are not lines; give pairs of a number and events.")
    for each in lines:
        if not (isinstance(each, tuple) and len(each) == 2 and isinstance(each[1], tuple)):
            raise InputError(f"{brief(each)} is not a numbered line; give pairs of a number and events.")
        yield each


def _no_such_number(number: int, count: int) -> str:
    if not count:
        return f"there is no line {number}: no line satisfies these rules."
    return f"there is no line {number}: the lines are numbered from 1 to {count}."


def lines(changes: str, *, start: str | Sequence[str] | None = None, **options: Any) -> Space:
    """Every line over lead-sheet changes; options are the keys of the rule file's tables (see ``parse``)."""
    start = [start] if isinstance(start, str) else start
    return Space(rules_from_options(load_corpus(), changes=changes, start=start, **options))


def load(path: str | Path) -> Space:
    """Every line under a rule file."""
    return Space(load_rules(arguments.path(path, "rule file"), load_corpus()))


def parse(text: str) -> Space:
    """Every line under a rule file given as TOML text."""
    return Space(parse_rules(text, load_corpus()))
