"""The diagram: counts, numbering both ways, order, and its agreement with the plain parser."""

import random
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.rules.analysis import holds
from everyline.rules.line import Event
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules

KNOWN = [(TWO_FIVE_ONE, 1758), (PICKUPS, 6003697), (TRIPLETS, 2377)]
SMALL = [TWO_FIVE_ONE, TRIPLETS, VAMP]


@pytest.mark.parametrize(("data", "count"), KNOWN)
def test_counts_that_an_independent_solver_gave(data: dict, count: int) -> None:
    assert compile_rules(rules(data)).count == count


@pytest.mark.parametrize("data", SMALL)
def test_walking_gives_every_line_once_in_order_and_each_is_valid(data: dict) -> None:
    space = rules(data)
    diagram = compile_rules(space)
    lines = list(diagram.walk())
    assert len(lines) == diagram.count == len(set(lines))
    assert lines == sorted(lines)
    assert all(holds(space, line) for line in lines)


@pytest.mark.parametrize("data", SMALL)
def test_number_and_line_are_each_other_s_inverse(data: dict) -> None:
    diagram = compile_rules(rules(data))
    for number, line in enumerate(diagram.walk(), 1):
        assert diagram.line(number) == line
        assert diagram.number(line) == number


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, PICKUPS])
def test_a_walk_may_start_anywhere(data: dict) -> None:
    diagram = compile_rules(rules(data))
    for first in (1, 2, diagram.count // 3, diagram.count - 5, diagram.count):
        walked = list(islice(diagram.walk(first), 10))
        assert walked == [diagram.line(n) for n in range(first, min(first + 10, diagram.count + 1))]
    assert list(diagram.walk(diagram.count + 1)) == list(diagram.walk(0)) == []


@pytest.mark.parametrize("number", [0, -1, 1759, 10**30])
def test_no_line_outside_the_numbers(number: int) -> None:
    with pytest.raises(IndexError):
        compile_rules(rules(TWO_FIVE_ONE)).line(number)


@pytest.mark.parametrize("data", SMALL)
def test_a_line_changed_in_one_note_is_in_the_diagram_exactly_when_the_plain_checker_says_so(
    data: dict,
) -> None:
    space = rules(data)
    diagram = compile_rules(space)
    rng = random.Random(7)
    verdicts = set()
    for line in diagram.walk():
        place = rng.randrange(len(line))
        moved = line[place]._replace(pitch=line[place].pitch + rng.choice((-12, -3, -2, -1, 1, 2, 3, 12)))
        changed = (*line[:place], moved, *line[place + 1 :])
        inside = diagram.number(changed) is not None
        assert inside == holds(space, changed)
        verdicts.add(inside)
    if data is not VAMP:
        assert verdicts == {True, False}


@given(number=st.integers(1, 6003697))
def test_any_number_of_a_large_space_comes_back(number: int) -> None:
    diagram = _pickups()
    assert diagram.number(diagram.line(number)) == number


_CACHE: list[Diagram] = []


def _pickups() -> Diagram:
    if not _CACHE:
        _CACHE.append(compile_rules(rules(PICKUPS)))
    return _CACHE[0]


def test_every_path_of_the_diagram_ends_in_a_line() -> None:
    diagram = _pickups()
    assert all(total > 0 for total in diagram.totals)
    assert all(child < node for node, children in enumerate(diagram.children) for child in children)


def test_reach_tells_how_far_a_line_can_be_followed() -> None:
    diagram = compile_rules(rules(VAMP))
    line = diagram.line(1)
    assert diagram.reach(line) == (len(line), 0)
    broken = (*line[:3], Event(line[3].onset, 1, line[3].length), *line[4:])
    assert diagram.reach(broken)[0] == 3


def test_the_vamp_by_hand() -> None:
    """The rungs in range are D4 F4 A4 C5 D5. Seven moves with one turn fit them only as four and three, or
    three and four. The fourth such body, F4 up to D5 and down to D4, cannot go on: the chord tone nearest to
    D4 is the C4 below it, which is out of range. Without a turn nothing fits.
    """
    assert compile_rules(rules(VAMP, arpeggio={"turns": 0})).count == 0
    bodies = {tuple(event.pitch for event in line[:-1]) for line in compile_rules(rules(VAMP)).walk()}
    assert bodies == {
        (62, 65, 69, 72, 74, 72, 69, 65),
        (74, 72, 69, 65, 62, 65, 69, 72),
        (72, 69, 65, 62, 65, 69, 72, 74),
    }


def test_a_huge_space_is_exact() -> None:
    changes = " | ".join(["Dm7 | G7 | Cmaj7 | A7"] * 8)
    diagram = compile_rules(rules({"changes": changes, "ending": {"use": ["plain"]}}))
    assert diagram.count > 10**30
    for number in (1, diagram.count // 7, diagram.count):
        assert diagram.number(diagram.line(number)) == number
