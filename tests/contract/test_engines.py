"""One suite for all engines: whatever the rules say, each engine lists the same lines under the same numbers.

The lines expected are those of `tests.reference`, a plain solver that shares no code with the program. The
counts of the larger spaces come from it too.
"""

from __future__ import annotations

from typing import Any

import pytest

from everyline.rules.analysis import holds
from everyline.rules.limits import LIMITS as KINDS
from everyline.solver.compiler import compile_rules
from everyline.solver.contract import DEFAULT, ENGINES, engine
from tests.contract.small_spaces import HANDOFFS, LIMITS, NOTHING, SPACES, Table, expected, found, space
from tests.reference import count
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, rules

every_engine = pytest.mark.parametrize("name", ENGINES)
every_space = pytest.mark.parametrize("which", [*SPACES, *NOTHING])
a_few_spaces = pytest.mark.parametrize("which", ["handoff any", "endings alone", "must-target", "no line"])


@every_space
@every_engine
def test_the_lines_are_those_of_the_reference_in_the_same_order(name: str, which: str) -> None:
    assert found(name, which) == expected(which)


# Engines that list the same lines share what is true of them, so the rest is asked once for each space.


@every_space
def test_no_line_comes_twice_and_all_are_sorted(which: str) -> None:
    lines = found(DEFAULT, which)
    assert len(set(lines)) == len(lines)
    assert list(lines) == sorted(lines)
    assert bool(lines) == (which in SPACES)


@every_space
def test_each_line_passes_the_plain_checker(which: str) -> None:
    assert all(holds(space(which), line) for line in found(DEFAULT, which))


@every_space
def test_the_number_of_line_n_is_n(which: str) -> None:
    diagram = compile_rules(space(which))
    assert diagram.count == len(found(DEFAULT, which))
    for number, line in enumerate(found(DEFAULT, which), 1):
        assert diagram.number(line) == number
        assert diagram.line(number) == line


@a_few_spaces
@every_engine
def test_the_count_is_the_number_of_lines(name: str, which: str) -> None:
    assert engine(name).count(space(which)) == len(expected(which))


@a_few_spaces
@every_engine
@pytest.mark.parametrize("most", [0, 1, 7, 10_000])
def test_the_first_lines_begin_the_list(name: str, which: str, most: int) -> None:
    assert engine(name).first(space(which), most) == expected(which)[:most]


@every_engine
def test_an_engine_can_be_asked_again_about_other_rules(name: str) -> None:
    one = engine(name)
    for which in ("handoff step", "no line", "handoff step", "handoff guide"):
        assert tuple(one.lines(space(which))) == expected(which)
        assert one.count(space(which)) == len(expected(which))


def test_every_handoff_rule_makes_a_space_of_its_own() -> None:
    assert len({expected(which) for which in HANDOFFS}) == len(HANDOFFS)


@pytest.mark.parametrize("which", LIMITS)
def test_every_limit_refuses_some_lines_and_lets_others_pass(which: str) -> None:
    kept = len(expected(which))
    free = {key: table for key, table in LIMITS[which].items() if key != "limit"}
    assert 0 < kept < compile_rules(rules(free)).count


def test_every_kind_of_limit_is_in_some_space() -> None:
    used = {limit["kind"] for table in LIMITS.values() for limit in table["limit"]}
    assert used == set(KINDS)


@pytest.mark.slow
@pytest.mark.parametrize(("data", "total"), [(TWO_FIVE_ONE, 1758), (TRIPLETS, 2377)])
@every_engine
def test_whole_lessons(name: str, data: Table, total: int) -> None:
    lines = tuple(engine(name).lines(rules(data)))
    assert len(set(lines)) == len(lines) == total == count(data)
    assert lines == tuple(engine(DEFAULT).lines(rules(data)))


WITHIN_TWO_FIVE_ONE: list[tuple[int, list[dict[str, Any]]]] = [
    (
        1092,
        [
            {"kind": "largest-leap", "semitones": 6},
            {"kind": "direction-changes", "most": 7},
            {"kind": "single-peak"},
        ],
    ),
    (
        127,
        [
            {"kind": "must-target", "degree": "5", "chord": "Dm7", "beat": "3"},
            {"kind": "playable", "span": 5},
        ],
    ),
    (
        13,
        [
            {"kind": "require-intervals", "intervals": [-1, -1]},
            {"kind": "playable", "strings": [1, 2, 3], "span": 4},
        ],
    ),
]


@pytest.mark.slow
@pytest.mark.parametrize(("total", "limits"), WITHIN_TWO_FIVE_ONE)
@every_engine
def test_whole_lessons_with_limits(name: str, total: int, limits: list[dict[str, Any]]) -> None:
    assert engine(name).count(rules(TWO_FIVE_ONE, limit=limits)) == total


def test_the_default_engine_counts_millions() -> None:
    assert engine().count(rules(PICKUPS)) == 6003697
