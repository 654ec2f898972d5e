"""Lines to hand out: when two are alike, which lines are good, and what is chosen from a pool."""

from __future__ import annotations

import itertools
import random

import pytest

from everyline import lines
from everyline.rules.line import Events, make_events
from everyline.rules.line_text import parse_line
from everyline.rules.taste import default_taste, strangeness
from everyline.solver.picking import (
    FOR_EACH,
    POOL,
    Look,
    guide_arrivals,
    in_turn,
    pick,
    stands_still,
)
from everyline.solver.strange import Strange
from everyline.spaces.space import Space

SPACE = lines("Dm7 | G7 | Cmaj7", endings=["plain", "flat-nine-runs-to-third", "anticipated-third"])
RULES = SPACE.rules
TASTE = default_taste()


def look(text: str, number: int = 1) -> Look:
    return Look(RULES, Strange(0, number, parse_line(text, RULES)[0]))


BASE = "D4 F4 A4 C5 A4 F4 D4 C4 | B3 D4 F4 A4 G4 F4 D4 F4 | E4:4"


@pytest.mark.parametrize(
    ("other", "near", "copy"),
    [
        # An octave lower.
        ("D3 F3 A3 C4 A3 F3 D3 C3 | B2 D3 F3 A3 G3 F3 D3 F3 | E3:4", True, True),
        # The same first bar, and then something else; and that bar an octave lower.
        ("D4 F4 A4 C5 A4 F4 D4 C4 | B3 G3 B3 D4 F4 D4 B3 D4 | C4:4", True, True),
        ("D3 F3 A3 C4 A3 F3 D3 C3 | B2 G2 B2 D3 F3 D3 B2 D3 | C3:4", True, True),
        # More than half of the notes are the same.
        ("F4 A4 C5 A4 F4 D4 F4 D4 | B3 D4 F4 A4 G4 F4 D4 F4 | E4:4", True, False),
        # Nothing in common but the key.
        ("C5 A4 F4 D4 C4 A3 F3 A3 | G3 B3 D4 F4 D4 B3 G3 B3 | C4:4", False, False),
    ],
)
def test_when_lines_are_alike(other: str, near: bool, copy: bool) -> None:
    assert look(BASE).is_near(look(other)) is near
    assert look(BASE).is_copy(look(other)) is copy
    assert look(other).is_near(look(BASE)) is near


def test_a_copy_in_all_but_the_ending() -> None:
    short = lines("Dm7 G7 | Cmaj7", endings=["plain", "flat-nine-runs-to-third", "anticipated-third"])
    endings = {ending.name: len(ending.notes) for ending in short.rules.endings}
    assert len(endings) == 2
    found = [Look(short.rules, Strange(0, line.number or 0, line.events)) for line in short[:2000]]
    with_run = next(each for each in found if len(each.ending) == endings["flat-nine-runs-to-third"])
    body = [event for event in with_run.line.events if event.onset < with_run.body_ends]
    alike = Look(
        short.rules, Strange(0, 0, make_events([*body, (with_run.body_ends, body[-1].pitch + 3, 480)]))
    )
    assert with_run.is_copy(alike)


def test_the_first_bar_leaves_a_pickup_out() -> None:
    pickups = lines("Dm7 | G7 | Cmaj7", pickup=[1, 2], endings=["plain"])
    one = make_events([(-240, 60, 240), (0, 62, 240), (240, 65, 240), (1920, 67, 480)])
    two = make_events([(0, 62, 240), (240, 65, 240), (1920, 71, 480)])
    bars = [Look(pickups.rules, Strange(0, 0, events)).first_bar for events in (one, two)]
    assert bars[0] == bars[1] == ((0, 2), (240, 5))


def test_standing_still() -> None:
    still = parse_line("D4 E4 F4 E4 D4 E4 F4 E4 A4 C5", RULES)[0]
    assert stands_still(still)
    assert not stands_still(still, semitones=2)
    assert not stands_still(still[1:])
    assert not stands_still(parse_line(BASE, RULES)[0])


def test_guide_arrivals() -> None:
    # Common practice: the guide tones are the third and the seventh.
    assert guide_arrivals(RULES, parse_line(BASE, RULES)[0]) == (2, 2)
    assert guide_arrivals(RULES, parse_line("D4:1 | F4:1 | C4:4", RULES)[0]) == (1, 2)
    assert guide_arrivals(RULES, parse_line("D4:1 | G4:1 | C4:4", RULES)[0]) == (0, 2)


def strange(space: Space, events: Events, number: int) -> Strange:
    return Strange(strangeness(space.rules, events, TASTE), number, events)


def pool(space: Space, size: int, seed: int) -> list[Strange]:
    drawn = [strange(space, line.events, line.number or 0) for line in space.sample(size, seed)]
    random.Random(seed).shuffle(drawn)
    return drawn


@pytest.mark.parametrize("seed", range(5))
def test_a_pick_is_the_least_strange_that_are_unlike(seed: int) -> None:
    drawn = pool(SPACE, 300, seed)
    found = pick(RULES, drawn, 8, 300)
    assert found.drawn == 300 and len(found.lines) == 8
    looks = [Look(RULES, line) for line in found.lines]
    assert not any(a.is_near(b) for a, b in itertools.combinations(looks, 2))
    assert all(each.is_good for each in looks)
    assert list(found.lines) == sorted(found.lines)
    # The slow twin: every line before the last is left out for a reason.
    endings = [each.ending for each in looks]
    for line in drawn:
        other = Look(RULES, line)
        if line < found.lines[-1] and line not in found.lines and other.is_good:
            before = [each for each in looks if each.line < line]
            assert any(other.is_near(each) for each in before) or other.ending in endings


def test_the_order_of_drawing_decides_nothing() -> None:
    drawn = pool(SPACE, 200, 3)
    assert pick(RULES, drawn, 8, 200) == pick(RULES, sorted(drawn), 8, 200)


def test_more_are_drawn_while_there_are_too_few() -> None:
    # All of the first draws begin alike: they have numbers next to each other.
    alike = [strange(SPACE, line.events, line.number or 0) for line in SPACE[1000 : 1000 + POOL]]
    assert len({Look(RULES, line).first_bar for line in alike}) == 1
    drawn = [*alike, *pool(SPACE, 500, 1)]
    found = pick(RULES, drawn, 8)
    assert found.drawn > POOL and len(found.lines) == 8
    assert pick(RULES, drawn, 8, POOL).lines != found.lines
    assert len(pick(RULES, drawn, 8, POOL).lines) == 1
    many = pick(RULES, pool(SPACE, 1000, 2), 150)
    assert many.drawn >= 150 * FOR_EACH


def test_a_small_space_gives_what_it_has() -> None:
    small = lines(
        "Dm7 | G7 | Cmaj7", start="D4", endings=["plain"], figures=["above-below"], count=["1", "0"]
    )
    drawn = [strange(small, line.events, line.number or 0) for line in small]
    found = pick(small.rules, drawn, 50)
    assert found.whole and found.drawn == small.count
    looks = [Look(small.rules, line) for line in found.lines]
    assert not any(a.is_copy(b) for a, b in itertools.combinations(looks, 2))
    # Nothing more could be taken.
    taken = set(found.lines)
    rest = [Look(small.rules, line) for line in drawn if line not in taken]
    assert len(looks) == 50 or all(any(each.is_copy(other) for other in looks) for each in rest)


def test_in_turn_gives_all_and_begins_with_a_pick() -> None:
    drawn = pool(SPACE, 120, 4)
    turns = list(in_turn(RULES, drawn))
    assert sorted(turns) == sorted(drawn)
    assert set(turns[:8]) == set(pick(RULES, drawn, 8, 120).lines)
