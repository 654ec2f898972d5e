"""New lines: none that was had, no copy by octave or key, until there are no more."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.practice.copies import tune
from everyline.practice.fresh import fresh
from everyline.practice.kept import RuleFile
from everyline.practice.records import GivenLine
from everyline.rules.line import Event, Events
from everyline.rules.ruleset import Rules
from everyline.rules.transpose import transpose_tables
from everyline.spaces.space import Space, parse
from tests.spaces import CORPUS
from tests.sweeps import sweep

SMALL = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": {"lowest": "D3", "highest": "C6"},
    "entry": {"start": ["D", "F"]},
    "approach": {"count": ["0"]},
    "ending": {"use": ["plain"]},
    "arpeggio": {"turns": 1},
}
"""292 lines, most of them in two octaves."""


def space_of(key: str = "C") -> tuple[RuleFile, Space]:
    tables = SMALL if key == "C" else transpose_tables(SMALL, key)
    source = RuleFile.of(tables, "small", CORPUS, None)
    return source, Space(source.rules)


def copies(one: tuple[Rules, Events], other: tuple[Rules, Events]) -> bool:
    """The definition in its plainest form, written from the documentation alone: the same onsets and lengths,
    the same interval from each note to the next, and each note as far above the root of its chord."""

    def steps(events: Events) -> list[int]:
        return [after.pitch - before.pitch for before, after in pairwise(events)]

    def above(rules: Rules, event: Event) -> int:
        progression = rules.progression
        at = max(
            place
            for place, start in enumerate(progression.starts)
            if start <= max(0, event.onset // rules.slot_ticks)
        )
        return (event.pitch - progression.chords[at].root_class) % 12

    (rules, events), (its_rules, its) = one, other
    return (
        [(each.onset, each.length) for each in events] == [(each.onset, each.length) for each in its]
        and steps(events) == steps(its)
        and [above(rules, each) for each in events] == [above(its_rules, each) for each in its]
    )


def given_from(source: RuleFile, space: Space, numbers: list[int]) -> list[GivenLine]:
    return [source.line(space.line(number), date(2026, 11, 26)) for number in numbers]


@settings(max_examples=sweep(6, 40))
@given(st.data())
def test_no_line_is_had_twice_and_none_is_a_copy(data: st.DataObject) -> None:
    """Whatever was had, in whichever key, and however many are asked for."""
    _, space = space_of()
    key = data.draw(st.sampled_from(["C", "F", "Bb", "F#"]))
    its_source, its_space = space_of(key)
    numbers = data.draw(st.lists(st.integers(1, its_space.count), max_size=30, unique=True))
    had = given_from(its_source, its_space, numbers)
    most = data.draw(st.integers(1, 12))
    found = fresh(space, had, most, seed=data.draw(st.integers(1, 99)))
    heard = [(its_space.rules, its_space.line(number).events) for number in numbers]
    for line in found.lines:
        assert space.number(line.events) == line.number
        assert not any(copies((space.rules, line.events), other) for other in heard)
        heard.append((space.rules, line.events))
    assert len(found.lines) == most or found.whole


def test_all_are_had_in_the_end_and_then_there_are_no_more() -> None:
    source, space = space_of()
    kinds: list[tuple[Rules, Events]] = []
    for line in space:
        if not any(copies((space.rules, line.events), other) for other in kinds):
            kinds.append((space.rules, line.events))
    assert 1 < len(kinds) < space.count, "some are octave copies of others"
    had: list[GivenLine] = []
    while True:
        found = fresh(space, had, 7)
        had += given_from(source, space, [line.number for line in found.lines])
        if len(found.lines) < 7:
            assert found.whole
            break
    assert len(had) == len(kinds) == len({line.tune for line in had})
    assert fresh(space, had, 7).lines == ()


def test_the_same_seed_and_the_same_past_give_the_same_lines() -> None:
    source, space = space_of()
    had = given_from(source, space, [1, 2, 3])
    once = fresh(space, had, 3, seed=5)
    assert once == fresh(space, had, 3, seed=5)
    assert once != fresh(space, given_from(source, space, [line.number for line in once.lines]), 3, seed=5)


def test_new_lines_are_unlike_each_other_and_unlike_the_last() -> None:
    from everyline.solver.picking import Look
    from everyline.solver.strange import Strange

    text = 'changes = "Dm7 | G7 | Cmaj7"\nending.use = ["plain"]\n'
    space = parse(text)
    source = RuleFile.of({"changes": "Dm7 | G7 | Cmaj7", "ending": {"use": ["plain"]}}, "x", CORPUS, None)
    first = fresh(space, [], 4)
    had = given_from(source, space, [line.number for line in first.lines])
    looks = [Look(space.rules, line) for line in (*first.lines, *fresh(space, had, 4).lines)]
    assert len(looks) == 8
    for place, look in enumerate(looks):
        assert not any(look.is_near(other) for other in looks[:place])
    assert isinstance(first.lines[0], Strange)


@pytest.mark.parametrize(
    ("change", "is_copy"),
    [
        (lambda line: [(o, p + 12, n) for o, p, n in line], True),
        (lambda line: [(o, p, n) for o, p, n in line[:-1]] + [(line[-1][0], line[-1][1], 960)], False),
        (lambda line: [(o + 240, p, n) for o, p, n in line], False),
        (lambda line: [(o, p + 2, n) for o, p, n in line], False),
        (lambda line: [(o, p + 12 * (place > 2), n) for place, (o, p, n) in enumerate(line)], False),
    ],
    ids=["octave", "held longer", "begins later", "other degrees", "turned by an octave within"],
)
def test_what_counts_as_a_copy(change, is_copy: bool) -> None:
    _, space = space_of()
    events = space.line(1).events
    other = tuple(Event(*each) for each in change([tuple(each) for each in events]))
    assert (tune(space.rules, other) == tune(space.rules, events)) is is_copy
    assert copies((space.rules, other), (space.rules, events)) is is_copy


def test_a_line_in_another_key_is_a_copy_and_other_qualities_do_not_matter() -> None:
    _, here = space_of()
    _, there = space_of("Eb")
    assert tune(here.rules, here.line(5).events) == tune(there.rules, there.line(5).events)
    other = parse('changes = "Dm9 G13 | C6"').rules
    assert tune(other, here.line(5).events) == tune(here.rules, here.line(5).events)
    moved = parse('changes = "Dm7 G7 | Am7"').rules
    assert tune(moved, here.line(5).events) != tune(here.rules, here.line(5).events)
