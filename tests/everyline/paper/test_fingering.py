"""Fingering: every fret sounds its note, the cheapest path is the cheapest there is, wishes and rules are
obeyed.
"""

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline import parse
from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.paper import fingering
from everyline.paper.fingering import (
    Fingering,
    Hand,
    alternatives,
    default_span,
    finger,
    fretboard_of,
    in_octave,
)
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.ranges import Fretboard

INSTRUMENTS = load().instruments
FRETTED = [name for name, each in INSTRUMENTS.items() if each.fretted]
GUITAR = 'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "guitar"\n'
SPACE = parse(GUITAR)
LINES = [SPACE[index * SPACE.count // 8] for index in range(8)]
BOARD = fretboard_of(SPACE.rules)


def sounds_right(line: AnnotatedLine, found: Fingering, board: Fretboard) -> bool:
    pitches = [board.at(each.string, each.fret) for each in found.notes]
    return pitches == [note.pitch for note in line.notes] and all(
        0 <= each.fret <= board.frets for each in found.notes
    )


@pytest.mark.parametrize("name", FRETTED)
def test_every_fret_sounds_its_note(name: str) -> None:
    space = parse(f'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "{name}"\n')
    board = fretboard_of(space.rules)
    for line in space.sample(5, seed=5):
        assert sounds_right(line, finger(line), board)
        assert finger(line) == finger(line)


def effort(path: list[tuple[int, int, int]], frame: fingering._Frame) -> int:
    """The cost of one path, summed by the reader's definition."""
    cost = fingering._own_cost(path[0], frame)
    for before, place in pairwise(path):
        cost += fingering._own_cost(place, frame) + fingering._crossing(before, place[0], place[1])
        cost += fingering._shift(place[2] - before[2], before[1])
    return cost


@given(st.lists(st.integers(45, 62), min_size=2, max_size=4), st.sampled_from(["avoid", "allow", "prefer"]))
def test_the_path_is_the_cheapest_of_all(pitches: list[int], open_strings: str) -> None:
    """Against every combination on a small neck: three strings, five frets."""
    board = Fretboard("small neck", (55, 50, 45), 7)
    frame = fingering._Frame(board, (1, 2, 3), tuple(range(1, 8)), 4, 1, fingering.OPEN_COST[open_strings])
    found = fingering._cheapest(pitches, frame)
    assert isinstance(found, Fingering)
    ways = [fingering._places(pitch, frame) for pitch in pitches]
    # While an open string sounds the hand stays.
    paths = [path for path in product(*ways) if all(b[1] > 0 or a[2] == b[2] for a, b in pairwise(path))]
    assert found.cost == min(effort(list(path), frame) for path in paths)


def test_a_position_of_the_rule_file_is_obeyed() -> None:
    space = parse(GUITAR + "position = 5\nstrings = [1, 2, 3, 4]\nspan = 5\n")
    for line in space.sample(5, seed=2):
        found = finger(line)
        assert all(each.string <= 4 and 5 <= each.fret <= 9 for each in found.notes)
        assert found.positions == (5,)


def test_a_limit_to_one_position_is_obeyed() -> None:
    space = parse(GUITAR + '[[limit]]\nkind = "playable"\nstrings = [2, 3, 4, 5]\n')
    for line in space.sample(5, seed=2):
        found = finger(line)
        assert len(found.positions) == 1
        low = found.positions[0]
        assert all(low <= each.fret < low + 5 for each in found.notes)


def test_a_limit_to_one_position_says_how_wide_it_is_and_on_which_strings() -> None:
    space = parse(GUITAR + '[[limit]]\nkind = "playable"\nstrings = [3, 4, 5]\nspan = 6\n')
    frets = []
    for line in space.sample(8, seed=2):
        found = finger(line)
        assert all(each.string in (3, 4, 5) for each in found.notes)
        own = [each.fret for each in found.notes]
        assert max(own) - min(own) < 6
        frets.append(max(own) - min(own))
    assert max(frets) > 3


def test_open_strings_by_choice() -> None:
    line = next(line for line in LINES if any(e.fret == 0 for e in finger(line, hand=Hand("prefer")).notes))
    counts = {
        wish: sum(each.fret == 0 for each in finger(line, hand=Hand(wish)).notes)
        for wish in ("prefer", "allow", "avoid")
    }
    assert counts["prefer"] >= counts["allow"] >= counts["avoid"]
    high = next(line for line in LINES if min(note.pitch for note in line.notes) > 40)
    assert all(each.fret > 0 for each in finger(high, hand=Hand("never")).notes)


def test_a_hand_that_is_bound_stays_there() -> None:
    line = next(line for line in LINES if min(n.pitch for n in line.notes) >= 45)
    line = replace(line, notes=tuple(n for n in line.notes if 45 <= n.pitch <= 70))
    found = finger(line, hand=Hand(position=5))
    assert found.positions == (5,)
    on_three = finger(line, hand=Hand(strings=(3, 4, 5, 6)))
    assert {each.string for each in on_three.notes} <= {3, 4, 5, 6}


def test_alternatives_are_on_their_strings_and_sound_the_same() -> None:
    line = LINES[2]
    found = list(alternatives(line, 4))
    assert found and all(len(strings) == 4 for strings, _ in found)
    for strings, each in found:
        assert {note.string for note in each.notes} <= set(strings)
        assert sounds_right(line, each, BOARD)
    assert next(iter(alternatives(line, 6)))[1] == finger(line)


def test_another_octave_is_the_same_line_elsewhere() -> None:
    line = next(line for line in LINES if max(note.pitch for note in line.notes) <= 74)
    up = in_octave(line, 1)
    assert [n.pitch - 12 for n in up.notes] == [n.pitch for n in line.notes]
    assert up.notes[0].name[:-1] == line.notes[0].name[:-1] and up.number is None
    with pytest.raises(InputError, match="out of reach"):
        in_octave(line, -4)


def test_spans_follow_the_tuning() -> None:
    spans = {name: default_span(Fretboard.of(INSTRUMENTS[name])) for name in ("guitar", "mandolin")}  # type: ignore[arg-type]
    assert spans == {"guitar": 5, "mandolin": 6}


@pytest.mark.parametrize(
    ("hand", "message"),
    [
        (Hand(strings=(9,)), "string 9"),
        (Hand(strings=(1,), position=12), "cannot be reached"),
    ],
)
def test_what_cannot_be_played_says_so(hand: Hand, message: str) -> None:
    with pytest.raises(InputError, match=message):
        finger(LINES[0], hand=hand)


def test_no_frets_no_tablature() -> None:
    line = parse('changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "flute"')[0]
    with pytest.raises(InputError, match="no frets"):
        finger(line)
    with pytest.raises(InputError, match="open strings"):
        Hand("sometimes")
    with pytest.raises(InputError, match="out of reach"):
        Hand(span=40)
    with pytest.raises(InputError, match="set of 9"):
        list(alternatives(LINES[0], 9))
