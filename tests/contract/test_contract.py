"""Engines by name, how far they may go, and what comparing two of them says."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from everyline.corpora.errors import InputError, Stopped
from everyline.rules.line import Event, Events
from everyline.rules.own import WholeLineRule
from everyline.rules.ruleset import Rules
from everyline.solver.contract import (
    DEFAULT,
    ENGINES,
    Allowance,
    EnginesDiffer,
    compare,
    engine,
    verify,
)
from tests.contract.small_spaces import expected, space
from tests.spaces import PICKUPS, TWO_FIVE_ONE, rules

WHICH = "handoff step"
GENERAL = [name for name in ENGINES if name != DEFAULT]

every_engine = pytest.mark.parametrize("name", ENGINES)
general_engines = pytest.mark.parametrize("name", GENERAL)


# -- by name -------------------------------------------------------------------------------------------------


@every_engine
def test_an_engine_knows_its_name(name: str) -> None:
    assert engine(name).name == name


def test_the_diagram_is_the_default() -> None:
    assert engine().name == "diagram"


@pytest.mark.parametrize(("name", "meant"), [("cpsat", "cp-sat"), ("backtrack", "backtracking")])
def test_an_unknown_engine_is_answered_with_those_there_are(name: str, meant: str) -> None:
    with pytest.raises(InputError) as caught:
        engine(name)
    assert f'"{name}"' in str(caught.value) and f'Did you mean "{meant}"?' in str(caught.value)
    assert all(there in str(caught.value) for there in ENGINES)


@pytest.mark.parametrize(
    ("name", "module", "package"),
    [("cp-sat", "ortools", "ortools"), ("backtracking", "constraint", "python-constraint2")],
)
def test_a_missing_package_is_named(
    name: str, module: str, package: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # None in the table of loaded modules is Python's own way of saying that there is no such module.
    loaded = [key for key in sys.modules if key == module or key.startswith(f"{module}.")]
    for key in {module, *loaded}:
        monkeypatch.setitem(sys.modules, key, None)
    monkeypatch.delitem(sys.modules, ENGINES[name].module, raising=False)
    with pytest.raises(InputError, match=rf"the package {package}, .*pip install .everyline\[engines\]"):
        engine(name)


def test_no_solver_is_loaded_before_it_is_asked_for() -> None:
    code = (
        "import sys, solver.contract as c; c.engine(); "
        "print([m for m in ('ortools', 'constraint', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# -- how far -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bounds", [(-1, None), (5, 0), (5, -2.5), (None, float("nan"))])
def test_an_allowance_that_allows_nothing_is_refused(bounds: tuple[int | None, float | None]) -> None:
    with pytest.raises(InputError):
        Allowance(*bounds)


@every_engine
def test_a_negative_number_of_lines_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="-1"):
        engine(name).first(space(WHICH), -1)


@general_engines
def test_a_space_above_the_limit_is_refused_with_its_size(name: str) -> None:
    with pytest.raises(Stopped, match="6003697"):
        engine(name).count(rules(PICKUPS))


@general_engines
def test_a_space_at_the_limit_is_taken(name: str) -> None:
    size = len(expected(WHICH))
    assert engine(name, Allowance(size)).count(space(WHICH)) == size
    with pytest.raises(Stopped, match=f" {size};"):
        engine(name, Allowance(size - 1)).count(space(WHICH))


@general_engines
def test_a_whole_line_rule_leaves_few_lines_but_all_are_looked_at(name: str) -> None:
    size = len(expected(WHICH))
    ends_on_g = WholeLineRule("ends-on-g", "", "it ends on G", lambda line: line.pitches[-1] % 12 == 7)
    strict = replace(space(WHICH), filters=(ends_on_g,))
    kept = tuple(line for line in expected(WHICH) if line[-1].pitch % 12 == 7)
    assert 0 < len(kept) < size
    assert tuple(engine(name, Allowance(size)).lines(strict)) == tuple(engine().lines(strict)) == kept
    with pytest.raises(Stopped, match=f" {size};"):
        engine(name, Allowance(size - 1)).count(strict)


def test_the_diagram_has_no_limit_of_size() -> None:
    assert engine(DEFAULT, Allowance(1)).count(space(WHICH)) == len(expected(WHICH))


@every_engine
def test_no_time_at_all_stops_every_engine(name: str) -> None:
    hurried = engine(name, Allowance(seconds=1e-9))
    with pytest.raises(Stopped, match="did not finish within 1e-09 seconds"):
        hurried.count(space(WHICH))
    with pytest.raises(Stopped):
        list(hurried.lines(space(WHICH)))


@general_engines
def test_a_search_under_way_is_stopped_when_the_time_is_up(name: str) -> None:
    with pytest.raises(Stopped, match="did not finish within 1 second;"):
        engine(name, Allowance(most_lines=None, seconds=1)).count(rules(PICKUPS))


@every_engine
def test_time_to_spare_changes_nothing(name: str) -> None:
    unhurried = engine(name, Allowance(seconds=3600))
    assert tuple(unhurried.lines(space(WHICH))) == expected(WHICH)


def test_a_limit_with_too_many_states_is_refused_by_the_engine_that_writes_them_out() -> None:
    long_memory = rules(TWO_FIVE_ONE, arpeggio={"turns": 1}, limit=[{"kind": "no-return", "notes": 16}])
    with pytest.raises(Stopped, match="no-return"):
        engine("cp-sat").count(long_memory)


# -- two engines ---------------------------------------------------------------------------------------------


class Edited:
    """An engine that lists what the diagram lists, after somebody has edited it."""

    name = "edited"

    def __init__(self, edit: Callable[[list[Events]], list[Events]]) -> None:
        self._edit = edit

    def lines(self, rules: Rules) -> Iterator[Events]:
        return iter(self._edit(list(engine().lines(rules))))

    def count(self, rules: Rules) -> int:
        return len(list(self.lines(rules)))

    def first(self, rules: Rules, most: int) -> tuple[Events, ...]:
        return tuple(self.lines(rules))[:most]


def without(place: int) -> Edited:
    return Edited(lambda lines: lines[:place] + lines[place + 1 :])


@general_engines
def test_engines_that_agree(name: str) -> None:
    comparison = verify(space(WHICH), DEFAULT, name)
    size = len(expected(WHICH))
    assert (comparison.agree, comparison.same, comparison.whole) == (True, size, True)
    assert comparison.describe() == f"The engines diagram and {name} agree on all {size} lines."


@pytest.mark.parametrize("place", [0, 4, len(expected(WHICH)) - 1])
def test_a_line_that_one_engine_lacks_is_found(place: int) -> None:
    for one, other in ((engine(), without(place)), (without(place), engine())):
        comparison = compare(space(WHICH), one, other)
        assert not comparison.agree
        assert (comparison.same, comparison.line) == (place, expected(WHICH)[place])
        assert comparison.having == DEFAULT
        said = comparison.describe()
        assert f"from line {place + 1} on" in said and "diagram has" in said and "edited has no such" in said


def test_a_line_too_many_is_found() -> None:
    extra: Events = (Event(0, 127, 240),)
    comparison = compare(space(WHICH), engine(), Edited(lambda lines: [*lines, extra]))
    assert (comparison.having, comparison.line) == ("edited", extra)
    assert "edited has G9 there" in comparison.describe()


def test_a_difference_cannot_be_overlooked() -> None:
    with pytest.raises(EnginesDiffer, match="from line 3 on"):
        verify(space(WHICH), engine(), without(2))


def test_comparing_the_first_lines_only() -> None:
    size = len(expected(WHICH))
    short = compare(space(WHICH), engine(), without(10), most=10)
    assert (short.agree, short.same, short.whole) == (True, 10, False)
    assert short.describe().endswith("agree on the first 10 lines; the rest was not compared.")
    assert not compare(space(WHICH), engine(), without(10), most=11).agree
    assert compare(space(WHICH), engine(), engine(), most=size).whole
    assert not compare(space(WHICH), engine(), engine(), most=size - 1).whole
    with pytest.raises(InputError):
        compare(space(WHICH), engine(), engine(), most=-1)


def test_engines_agree_that_there_is_no_line() -> None:
    assert compare(space("no line"), DEFAULT, "backtracking").describe().endswith("agree on all 0 lines.")
