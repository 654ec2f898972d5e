"""The Python face: a space counts, slices, iterates, knows its lines, and shows itself."""

import re

import pytest

from everyline import Chorus, Space, lines, load, load_plan, parse, parse_plan
from everyline.corpora.errors import InputError
from everyline.spaces.shown import Line


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


def test_a_part_knows_its_own_lines_alone(space) -> None:
    part = space[5:10]
    assert [part.number(line) for line in part] == [6, 7, 8, 9, 10]
    assert space[7] in part
    assert space[4] not in part
    assert part.number(space[10]) is None


@pytest.mark.parametrize("place", [10**9, -(10**9)])
def test_an_index_where_no_line_is(space, place) -> None:
    with pytest.raises(
        IndexError, match=f"no line has the index {place}; they go from 0 to {space.count - 1}"
    ):
        space[place]


def test_an_empty_space_has_no_index() -> None:
    with pytest.raises(IndexError, match="no line has the index 0; there are none"):
        lines("Dm7 | G7 | Cmaj7", endings=["plain"])[3:3][0]


NO_NUMBERS = ("x", 1.5, None, True, [1])
ASKED = {
    "index": lambda space, value: space[value],
    "line number": lambda space, value: space.line(value),
    "most": lambda space, value: space.sample(value),
    "seed": lambda space, value: space.samples(3, value),
}


@pytest.mark.parametrize("name", ASKED)
@pytest.mark.parametrize("value", NO_NUMBERS, ids=repr)
def test_what_is_no_whole_number_is_refused_at_once(space, name, value) -> None:
    with pytest.raises(InputError, match=f"^{name} = {re.escape(repr(value))}: it must be a whole number"):
        ASKED[name](space, value)


WRONG = [
    (lambda space: space[1.5:], "slice start 1.5: it must be a whole number"),
    (lambda space: space[:"x"], "slice stop 'x': it must be a whole number"),
    (lambda space: space[::0], "slice step 0: it must be a whole number other than 0"),
    (lambda space: space.sample(-1), "most = -1: it must be a whole number, 0 or more"),
    (lambda space: space.smoothest(-1), "most = -1: it must be a whole number, 0 or more"),
    (lambda space: space.smoothest("x"), "most = 'x'"),
    (lambda space: space.varied(1.5), "most = 1.5"),
    (lambda space: space.varied(3, pool=0), "pool = 0: it must be a whole number, 1 or more"),
    (lambda space: space.pick(0), "most = 0: it must be a whole number, 1 or more"),
    (lambda space: space.picked(3, pool=2), "pool = 2: it must be a whole number, 3 or more"),
    (lambda space: space.sample_by_taste(-1), "most = -1: it must be a whole number, 0 or more"),
    (lambda space: space.by("sols"), 'there is no taste "sols"'),
    (lambda space: space.most_varied(0), "most = 0: it must be a whole number, 1 or more"),
    (lambda space: space.most_varied(3, pool="x"), "pool = 'x'"),
    (lambda space: space.most_varied(3, budget=-1), "budget = -1: it must be a whole number, 0 or more"),
    (lambda space: space.number(5), "5 is not a line; give text such as"),
    (lambda space: space.number([(1, 2)]), "is not a line; give text such as"),
    (lambda space: space.number([("a", 62, 240)]), "is not a line; give text such as"),
    (lambda space: space.number(space), "is not a line; give text such as"),
    (lambda space: space.number("H9"), '"H9" is not a note'),
    (lambda space: None in space, "None is not a line"),
    (lambda space: list(space.shown(5)), "5 are not lines"),
    (lambda space: list(space.shown([(1, 2)])), "is not a numbered line"),
    (lambda space: Space(5), "5 are not rules; lines"),
    (lambda space: Space(space.rules, "x"), "slice start 'x'"),
    (lambda space: Chorus(space.rules), "is not a plan; load_plan"),
    (lambda space: load(5), "5 is not the path of a rule file"),
    (lambda space: load(b"x.toml"), "is not the path of a rule file"),
    (lambda space: load_plan(None), "None is not the path of a plan file"),
    (lambda space: lines(5), "changes = 5"),
    (lambda space: lines("Dm7 | G7", start=5), "start = 5"),
    (lambda space: parse(5), "5 is not a table"),
    (lambda space: parse_plan(5), "5 is not a table"),
]


@pytest.mark.parametrize(("call", "said"), WRONG, ids=[said for _, said in WRONG])
def test_wrong_values_are_one_sentence(space, call, said) -> None:
    with pytest.raises(InputError) as refusal:
        call(space)
    message = str(refusal.value)
    assert said in message
    assert message.endswith((".", "?", ")")) or said.startswith('"H9"')


def test_whole_numbers_of_other_libraries_are_taken(space) -> None:
    import numpy

    assert space[numpy.int64(4)].number == space.line(numpy.uint8(5)).number == 5
    assert len(space.sample(numpy.int32(3))) == 3


def test_more_than_there_are_is_all(space) -> None:
    few = space[:4]
    assert len(few.sample(10**30)) == len(list(few.smoothest(10**30))) == 4
    assert len(list(few.varied(10**30, pool=10**30))) == 4


def test_a_small_part_is_in_the_order_of_the_whole(space) -> None:
    part = space[1000:1030]
    places = range(1001, 1031)
    assert [line.number for line in part.ranked()] == sorted(
        places, key=lambda number: (space.line(number).roughness, number)
    )
    assert [line.number for line in part.idiomatic()] == sorted(
        places, key=lambda number: (space.line(number).strangeness, number)
    )


def test_what_comes_next_counts_the_lines_that_go_on() -> None:
    space = lines("Dm7 | G7 | Cmaj7", start="D4")
    after = space.after("D4 F4")
    assert after.count == sum(note.count for note in after.notes)
    assert not after.ends
    by_name = {note.name: note for note in after.notes}
    assert by_name["A4"].roles == ("arpeggio",)
    assert by_name["E4"].roles == ("approach",)
    assert by_name["A4"].count == space.after("D4 F4 A4").count
    assert space.after("").count == space.count
    whole = space.after(space[0].events)
    assert (whole.count, whole.ends, whole.notes) == (1, True, ())


@pytest.mark.parametrize(
    ("text", "said"), [("D4 F4 A5", "as far as D4 F4, and none goes on with A5"), ("E4", "begins with E4")]
)
def test_a_beginning_of_no_line_is_told_how_far_it_goes(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        lines("Dm7 | G7 | Cmaj7", start="D4").after(text)
