"""The Python face: a space counts, slices, iterates, knows its lines, and shows itself."""

import pytest

from corpora.errors import InputError
from everyline import lines, parse
from everyline.line import Line


@pytest.fixture(scope="module")
def space():
    return lines("Dm7 | G7 | Cmaj7", start="D4", endings=["plain"], figures=["enclosure-2"])


def test_a_space_is_a_sequence(space) -> None:
    assert len(space) == space.count > 100
    assert space[0].number == 1
    assert space[-1].number == space.count
    assert [line.number for line in space[10:13]] == [11, 12, 13]
    assert [line.number for line in space[::-1][:2]] == [space.count, space.count - 1]
    assert space[5:50:7].count == len(list(space[5:50:7])) == 7
    with pytest.raises(IndexError):
        space[space.count]


def test_iteration_is_lazy_and_in_order(space) -> None:
    numbers = [line.number for line, _ in zip(space, range(5), strict=False)]
    assert numbers == [1, 2, 3, 4, 5]


def test_a_space_knows_its_lines(space) -> None:
    line = space[41]
    assert line in space
    assert line.events in space
    assert space.number(line) == 42
    assert "D4 D4 D4" not in space
    with pytest.raises(InputError, match="numbered from 1"):
        space.line(space.count + 1)


def test_huge_spaces_have_a_count_but_no_len() -> None:
    huge = lines(" | ".join(["Dm7 | G7 | Cmaj7 | A7"] * 8), endings=["plain"])
    assert huge.count > 10**30
    assert huge[10**30].number == 10**30 + 1
    assert huge[10**30 : 10**30 + 2].count == 2
    with pytest.raises(OverflowError):
        len(huge)


def test_a_line_draws_itself(space) -> None:
    line = space[0]
    assert isinstance(line, Line)
    assert "chord  | Dm7" in str(line)
    assert line._repr_svg_().startswith("<svg")
    assert "lines over Dm7 | G7 | Cmaj7" in str(space)
    assert repr(space) == f"<{space.count} lines over Dm7 | G7 | Cmaj7>"


def test_an_empty_space_is_false() -> None:
    empty = parse('changes = "Dm7 | G7 | C"\n[[limit]]\nkind = "ambitus"\nsemitones = 0\n')
    assert not empty
    assert list(empty) == []
    assert empty.sample(3) == []


def test_samples_are_distinct_and_seeded(space) -> None:
    drawn = [line.number for line in space.sample(20, seed=5)]
    assert len(set(drawn)) == 20
    assert drawn == [line.number for line in space.sample(20, seed=5)]
    assert drawn != [line.number for line in space.sample(20, seed=6)]
