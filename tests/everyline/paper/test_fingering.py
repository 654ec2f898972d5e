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
from tests.handmade import handmade
from tests.sweeps import sweep

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


def effort(path: list[tuple[int, int, int]], gap: int, frame: fingering._Frame) -> int:
    """The cost of one path, summed by the reader's definition."""
    cost = fingering._own_cost(path[0], frame)
    for before, place in pairwise(path):
        cost += fingering._own_cost(place, frame) + fingering._crossing(before, place[0], place[1], gap)
        cost += fingering._shift(place[2] - before[2], before[1] == 0, gap)
    return cost


@given(
    st.lists(st.integers(45, 62), min_size=2, max_size=4),
    st.sampled_from(["avoid", "allow", "prefer"]),
    st.sampled_from([240, 480]),
)
def test_the_path_is_the_cheapest_of_all(pitches: list[int], open_strings: str, gap: int) -> None:
    """Against every combination on a small neck: three strings, seven frets."""
    board = Fretboard("small neck", (55, 50, 45), 7)
    frame = fingering._Frame(board, (1, 2, 3), tuple(range(1, 8)), 5, 1, fingering.OPEN_COST[open_strings])
    found = fingering._best([fingering._Timed(pitch, gap) for pitch in pitches], frame)
    assert isinstance(found, Fingering)
    ways = [fingering._places(pitch, frame) for pitch in pitches]
    # While an open string sounds the hand stays.
    paths = [path for path in product(*ways) if all(b[1] > 0 or a[2] == b[2] for a, b in pairwise(path))]
    assert found.cost == min(effort(list(path), gap, frame) for path in paths)


def plainest(line: AnnotatedLine, board: Fretboard) -> tuple[int, int]:
    """Leaps and shifts of the best fingering by a plain dynamic program, which knows nothing else.

    It has the same hand: five frets from the position, and one back. Open strings count as shifts, since they
    are to be avoided.
    """
    onsets = [note.onset for note in line.notes]
    best: dict[tuple[int, int, int], tuple[int, int]] = {}
    for index, note in enumerate(line.notes):
        reached: dict[tuple[int, int, int], tuple[int, int]] = {}
        for string, low in enumerate(board.open, 1):
            fret = note.pitch - low
            if not 0 <= fret <= board.frets:
                continue
            for position in range(1, board.frets + 1):
                if fret and not max(1, position - 1) <= fret <= position + 4:
                    continue
                costs = [(0, 0)] if index == 0 else []
                for (string_before, fret_before, hand), (leaps, shifts) in best.items():
                    if fret == 0 and hand != position:
                        continue
                    leap = (
                        string == string_before
                        and fret > 0 < fret_before
                        and abs(fret - fret_before) >= 6
                        and onsets[index] - onsets[index - 1] <= 240
                    )
                    costs.append((leaps + leap, shifts + (hand != position)))
                if costs:
                    leaps, shifts = min(costs)
                    reached[string, fret, position] = (leaps, shifts + (fret == 0))
        best = reached
    return min(best.values())


def counted(line: AnnotatedLine, found: Fingering) -> tuple[int, int]:
    """Leaps and shifts of a fingering, open strings among the shifts."""
    leaps = sum(
        a.string == b.string and a.fret > 0 < b.fret and abs(a.fret - b.fret) >= 6 and after - before <= 240
        for (a, b), (before, after) in zip(
            pairwise(found.notes), pairwise(note.onset for note in line.notes), strict=True
        )
    )
    shifts = sum(a.position != b.position for a, b in pairwise(found.notes))
    return leaps, shifts + sum(note.fret == 0 for note in found.notes)


CHANGES = ("Dm7 | G7 | Cmaj7", "Fm7 | Bb7alt | Ebmaj7", "Bm7b5 | E7b9 | Am6", "Em7 A7 | Dmaj7 | Dmaj7")


def lines_to_finger(many: int) -> list[AnnotatedLine]:
    return [
        line
        for changes in CHANGES
        for line in parse(f'changes = "{changes}"\n[range]\ninstrument = "guitar"').sample(many, seed=4)
    ]


def test_leaps_and_shifts_are_as_few_as_a_plain_dynamic_program_has() -> None:
    lines = lines_to_finger(sweep(12, 50))
    assert any(counted(line, finger(line))[1] for line in lines)
    for line in lines:
        assert counted(line, finger(line)) == plainest(line, BOARD)


def test_a_phrase_that_one_position_holds_stays_low() -> None:
    """From B3 to D5 position 7 has every pitch (four frets on strings 1 to 4)."""
    space = parse(
        'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "guitar"\nlowest = "B3"\nhighest = "D5"'
    )
    for line in space.sample(20, seed=1):
        found = finger(line)
        assert len(found.positions) == 1 and max(note.fret for note in found.notes) <= 11


def test_frets_stay_comfortable_where_the_pitch_lets_them() -> None:
    """About the fifteenth fret is where a guitar without a cutaway ends for the hand (common practice)."""
    for line in lines_to_finger(3):
        assert max(note.fret for note in finger(line).notes) <= 15


def test_the_hand_moves_where_there_is_time() -> None:
    """From the bottom of the neck to the top, with a rest on the way: one shift, in the rest."""
    line = handmade("F2 A2 C3 E3 r4 B4 C5 E5 G5", range={"instrument": "guitar"})
    found = finger(line)
    assert [a.position != b.position for a, b in pairwise(found.notes)] == [False] * 3 + [True] + [False] * 3


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
