"""The lines that begin in one way, and how one of them is finished, against the listed lines."""

from __future__ import annotations

import pytest

from everyline.rules.line import Event
from everyline.solver.beginning import beginning_with
from everyline.solver.compiler import compile_rules
from everyline.solver.smooth import smoothest
from everyline.solver.strange import least_strange
from everyline.spaces.building import finish
from everyline.spaces.space import Space
from tests.spaces import TRIPLETS, TWO_FIVE_ONE, rules


@pytest.mark.parametrize("tables", [TWO_FIVE_ONE, TRIPLETS], ids=["two-five-one", "triplets"])
def test_lines_that_begin_so_are_those_of_the_list(tables: dict[str, object]) -> None:
    diagram = compile_rules(rules(tables))
    lines = list(diagram.walk())
    for line in lines[:: max(1, len(lines) // 5)]:
        for size in (0, 1, 4, len(line)):
            begun = beginning_with(diagram, line[:size])
            wanted = [each for each in lines if each[:size] == line[:size]]
            assert list(begun.walk()) == wanted and begun.count == len(wanted)
    with pytest.raises(ValueError):
        beginning_with(diagram, [Event(0, 1, 1)])


def test_a_line_is_finished_as_asked() -> None:
    space = Space(rules(TWO_FIVE_ONE))
    begun = space.line(space.count // 2).events[:3]
    smooth = next(line for line in smoothest(space.diagram, space.rules.weights) if line.events[:3] == begun)
    plain = next(
        line for line in least_strange(space.rules, space.diagram, space.taste) if line.events[:3] == begun
    )
    assert finish(space, begun, "smooth").number == smooth.number
    assert finish(space, begun, "strange").number == plain.number
    drawn = {finish(space, begun, "random", seed).number for seed in range(40)}
    assert len(drawn) > 1 and all(space.line(number).events[:3] == begun for number in drawn if number)
