"""Left-hand fingers: one to a fret in a position, the fewest hops and no crossing, none for open strings."""

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.paper.fingers import Placed, _change, _choices, fingers

POSITION = 5


def placed(text: str, position: int = POSITION) -> list[Placed]:
    """Notes as ``string:fret``, all from one position."""
    return [Placed(int(string), int(fret), position) for string, fret in (w.split(":") for w in text.split())]


@pytest.mark.parametrize(
    ("notes", "span", "wanted"),
    [
        ("1:5 1:6 1:7 1:8", 4, (1, 2, 3, 4)),
        ("6:5 5:8 4:7 3:0", 4, (1, 4, 3, 0)),
        ("1:5 1:8 1:9", 5, (1, 3, 4)),
        ("1:5 1:7 1:8 1:9", 5, (1, 2, 3, 4)),
        ("1:4 1:5 1:7 1:8", 5, (1, 1, 3, 4)),
        ("1:5 2:5", 4, (1, 1)),
        ("1:5 1:7 1:8 1:10", 6, (1, 2, 3, 4)),
        ("", 4, ()),
    ],
)
def test_a_finger_to_a_fret(notes: str, span: int, wanted: tuple[int, ...]) -> None:
    """Common practice; on short strings in fifths each finger serves two frets."""
    assert fingers(placed(notes), span) == wanted


def test_the_same_finger_leads_the_hand_along_a_string() -> None:
    notes = [Placed(1, 5, 5), Placed(1, 8, 5), Placed(1, 10, 7), Placed(1, 12, 9)]
    assert fingers(notes, 4) == (1, 4, 4, 4)


@given(st.lists(st.tuples(st.integers(1, 3), st.integers(4, 9)), min_size=1, max_size=5), st.integers(5, 6))
def test_the_cheapest_of_all(notes: list[tuple[int, int]], span: int) -> None:
    places = [Placed(string, fret, POSITION) for string, fret in notes]
    choices = [_choices(place, span) for place in places]

    def cost(way: tuple[int, ...]) -> int:
        own = sum(each[finger] for each, finger in zip(choices, way, strict=True))
        steps = zip(pairwise(places), pairwise(way), strict=True)
        return own + sum(_change(a, first, b, second) for (a, b), (first, second) in steps)

    assert cost(fingers(places, span)) == min(cost(way) for way in product(*choices))
