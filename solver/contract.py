"""What every engine promises, which engines there are, and how two of them are held against each other.

An *engine* turns rules into lines. All engines give the same lines with the same numbers; they differ in how
they find them and in how large a space they can take. ``engine`` gives one by name, ``compare`` and
``verify`` hold two against each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from itertools import islice, zip_longest
from time import monotonic
from types import MappingProxyType
from typing import Protocol, cast

from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, InputError, Stopped, did_you_mean
from everyline.rules.limits.base import note_name
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules

DEFAULT = "diagram"
MOST_LINES = 200_000
"""How many lines an engine that looks at every line by itself accepts, unless it is told otherwise."""


class Engine(Protocol):
    """A way of finding every valid line under given rules.

    A line is its events: onset and length in ticks (480 a beat, 0 on beat 1 of bar 1), sounding pitch as a
    MIDI number. Every method raises ``Stopped`` when a limit of the engine's ``Allowance`` is reached, never
    a wrong or partial answer.
    """

    @property
    def name(self) -> str:
        """The engine's name in ``ENGINES``."""

    def count(self, rules: Rules) -> int:
        """The exact number of distinct lines, of any size."""

    def lines(self, rules: Rules) -> Iterator[Events]:
        """Every line once, in the order in which lines are numbered: the first is number 1."""

    def first(self, rules: Rules, most: int) -> tuple[Events, ...]:
        """Lines 1 to ``most``, or all of them where there are fewer.

        Raises InputError where ``most`` is negative.
        """


@dataclass(frozen=True, slots=True)
class Allowance:
    """How far an engine may go: ``None`` is no limit.

    ``most_lines`` holds for the engines that look at every line by itself; ``seconds`` is for one call.
    Raises InputError for a negative number of lines and for a time that is not above 0.
    """

    most_lines: int | None = MOST_LINES
    seconds: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no engine could work with."""
        if self.most_lines is not None and self.most_lines < 0:
            raise InputError(
                f"an engine cannot be held to {self.most_lines} lines; give 0 or more, or no limit."
            )
        if self.seconds is not None and not self.seconds > 0:
            raise InputError(
                f"a time limit of {self.seconds:g} seconds leaves no time; give more than 0, or none."
            )


class Clock:
    """The time that is left of one call."""

    def __init__(self, engine: str, allowance: Allowance) -> None:
        self._engine = engine
        self._seconds = allowance.seconds
        self._end = None if allowance.seconds is None else monotonic() + allowance.seconds

    def left(self) -> float | None:
        """Seconds left, or None where there is no limit. Raises Stopped when none are."""
        if self._end is None:
            return None
        left = self._end - monotonic()
        if left <= 0:
            raise self.stopped()
        return left

    def stopped(self) -> Stopped:
        """The error for a time that has run out."""
        assert self._seconds is not None
        return Stopped(
            f"the engine {self._engine} did not finish within {plural(self._seconds, 'second')}; give it "
            f'more time, narrow the rules, or use the engine "{DEFAULT}".'
        )


@dataclass(frozen=True, slots=True)
class EngineKind:
    """One row of the table of engines.

    ``module`` has ``build(allowance)``; ``package`` must be installed for it.
    """

    name: str
    module: str
    summary: str
    package: str | None = None


ENGINES: Mapping[str, EngineKind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            EngineKind(
                DEFAULT,
                "everyline.solver.engines.diagram",
                "compiles the rules into a graph of all lines; takes spaces of any size",
            ),
            EngineKind(
                "cp-sat",
                "everyline.solver.engines.cp_sat",
                "states the rules as tables and automata for the CP-SAT solver of OR-Tools",
                "ortools",
            ),
            EngineKind(
                "backtracking",
                "everyline.solver.engines.backtracking",
                "tries note after note with the backtracking solver of python-constraint",
                "python-constraint2",
            ),
        )
    }
)


def engine(name: str = DEFAULT, allowance: Allowance | None = None) -> Engine:
    """The engine of that name. Raises InputError for an unknown one, and for one whose package is missing."""
    kind = ENGINES.get(name)
    if kind is None:
        raise InputError(
            f'"{name}" is no engine; there are {", ".join(ENGINES)}.{did_you_mean(name, ENGINES)}'
        )
    try:
        module = import_module(kind.module)
    except ModuleNotFoundError as error:
        if kind.package is None or (error.name or "").startswith("everyline."):
            raise
        raise InputError(
            f"the engine {kind.name} needs the package {kind.package}, which is not installed; run "
            f'python -m pip install "everyline[engines]", or use the engine {DEFAULT}.'
        ) from None
    return cast(Engine, module.build(allowance or Allowance()))


@dataclass(frozen=True, slots=True)
class Comparison:
    """What came of comparing two engines.

    ``same`` is how many lines agree, from number 1 on; ``whole`` says that both engines were read to their
    end (or to the first difference). Where they differ, ``line`` is the first line that only the engine
    ``having`` gives.
    """

    engine: str
    other: str
    same: int
    whole: bool
    line: Events | None = None
    having: str | None = None
    text: str = ""

    @property
    def agree(self) -> bool:
        """Whether no difference was found."""
        return self.line is None

    def describe(self) -> str:
        """The outcome in one sentence."""
        if self.having is None:
            extent = (
                f"all {plural(self.same, 'line')}"
                if self.whole
                else f"the first {plural(self.same, 'line')}; the rest was not compared"
            )
            return f"The engines {self.engine} and {self.other} agree on {extent}."
        lacking = self.other if self.having == self.engine else self.engine
        return (
            f"The engines {self.engine} and {self.other} differ from line {self.same + 1} on: "
            f"{self.having} has {self.text} there, {lacking} has no such line."
        )


class EnginesDiffer(EverylineError):
    """Two engines do not give the same lines; one of them is wrong."""


def compare(rules: Rules, one: Engine | str, other: Engine | str, most: int | None = None) -> Comparison:
    """Compare the sets of lines of two engines, each given by itself or by name.

    Both are read in number order, one line against the other; ``most`` lines at most, or all of them.
    Raises InputError where ``most`` is negative, and Stopped where an engine does.
    """
    check_most(most)
    one = engine(one) if isinstance(one, str) else one
    other = engine(other) if isinstance(other, str) else other
    same = 0
    pairs = zip_longest(one.lines(rules), other.lines(rules))
    for mine, theirs in islice(pairs, most):
        if mine != theirs:
            first = theirs is None or (mine is not None and mine < theirs)
            line, having = (mine, one.name) if first else (theirs, other.name)
            return Comparison(one.name, other.name, same, True, line, having, _written(rules, line))
        same += 1
    whole = most is None or same < most or next(pairs, None) is None
    return Comparison(one.name, other.name, same, whole)


def verify(rules: Rules, one: Engine | str, other: Engine | str, most: int | None = None) -> Comparison:
    """Make sure that two engines give the same lines; see ``compare``.

    Raises EnginesDiffer with the first difference where they do not.
    """
    comparison = compare(rules, one, other, most)
    if not comparison.agree:
        raise EnginesDiffer(comparison.describe())
    return comparison


def check_most(most: int | None) -> None:
    """Raise InputError where a number of lines asked for is negative; ``None`` asks for all."""
    if most is not None and most < 0:
        raise InputError(f"{most} lines cannot be asked for; give 0 or more.")


def _written(rules: Rules, line: Events | None) -> str:
    """A line as note names: ``D4 F4 A4``."""
    return " ".join(note_name(rules.progression, note) for note in rules.notes(line or ()))
