"""The rhythm of a body as a graph: the same notes as laying cells, or slots, one after another by hand."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.rhythm import OVER, Rhythm, rhythm_of
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Cell, Rules
from tests.spaces import CORPUS

Body = tuple[tuple[int, int], ...]
"""(onset, length) of each note."""

CELLS = ("8 8", "4", "r8 8", "8 r8", "8t 8t 8t", "4. 8", "2", "r4 4", "r4. 8")
ENDINGS = (("early", "b9 1 b7 5 | 3"), ("late", "b9 | 5"), ("off", "1 b9 1 | 5"))


def rules_with(cells: list[str], changes: str, beats: list[str], use: list[str]) -> Rules:
    own = [{"name": name, "notes": notes} for name, notes in ENDINGS]
    return parse_rules(
        {
            "changes": changes,
            "rhythm": {"cells": cells},
            "entry": {"beats": beats},
            "ending": {"use": use},
            "endings": own,
        },
        CORPUS,
    )


def fits(rules: Rules, cell: Cell, tick: int) -> bool:
    """Inside one bar, inside one chord, over before the resolution."""
    ticks = range(tick, tick + cell.ticks, rules.slot_ticks)
    bars = {at // (rules.progression.beats_per_bar * TICKS_PER_BEAT) for at in ticks}
    chords = {rules.progression.chord_index(at // rules.slot_ticks) for at in ticks}
    return len(bars) == len(chords) == 1 and tick + cell.ticks <= rules.resolution_tick


def by_hand(rules: Rules) -> set[tuple[Body, int | None]]:
    """Every body, with the tick on which an ending begins after it, or None with the plain resolution."""
    starts = {ending.start for ending in rules.endings}
    found: set[tuple[Body, int | None]] = set()

    def lay(tick: int, notes: Body, entry: int, cells: list[Cell]) -> None:
        for cell in cells:
            if not fits(rules, cell, tick):
                continue
            played = notes
            for part in cell.parts:
                at = tick + part.offset
                if played and at in starts:
                    found.add((played, at))
                if not part.rest and at >= entry:
                    played = (*played, (at, part.length))
            end = tick + cell.ticks
            if end in starts:
                found.add((played, end))
            if end == rules.resolution_tick and rules.plain:
                found.add(((*played, (end, TICKS_PER_BEAT)), None))
            lay(end, played, entry, list(rules.cells))

    for slot in rules.entry.slots:
        entry = slot * rules.slot_ticks
        for tick in range(0, entry + 1, TICKS_PER_BEAT):
            holding = [
                cell
                for cell in rules.cells
                if any(not p.rest and tick + p.offset == entry for p in cell.parts)
            ]
            lay(tick, (), entry, holding)
    return found


def paths(rhythm: Rhythm) -> Iterator[tuple[Body, int | None]]:
    """The same read from the graph."""
    left = [(((step.onset, step.length),), step) for step in rhythm.entries]
    while left:
        notes, last = left.pop()
        node = rhythm.nodes[last.node]
        yield from ((notes, stop.tick) for stop in node.stops)
        for step in node.steps:
            longer = (*notes, (step.onset, step.length))
            if step.node == OVER and not rhythm.nodes[step.node].steps:
                yield longer, None
            else:
                left.append((longer, step))


@settings(max_examples=40)
@given(
    cells=st.lists(st.sampled_from(CELLS), min_size=1, max_size=3, unique=True),
    changes=st.sampled_from(["G7 | Cmaj7", "Dm7 G7 | Cmaj7", "Am7 / D7 / | G", "Cmaj7 / Dm7 / | G7 Cmaj7"]),
    beats=st.lists(st.sampled_from(["1", "1&", "2"]), min_size=1, max_size=2, unique=True),
    use=st.sampled_from([["plain"], ["early", "plain"], ["late"], ["off", "late", "plain"]]),
)
def test_cells_follow_one_another_as_by_hand(
    cells: list[str], changes: str, beats: list[str], use: list[str]
) -> None:
    rules = rules_with(cells, changes, beats, use)
    last = rules.resolution_tick
    found = {each for each in paths(rhythm_of(rules)) if each[1] is not None or each[0][-1][0] == last}
    assert found == by_hand(rules)


@pytest.mark.parametrize(("subdivision", "notes"), [(1, 9), (2, 17), (3, 25), (4, 33)])
def test_a_note_on_every_slot_is_one_path(subdivision: int, notes: int) -> None:
    rules = parse_rules(
        {"changes": "Dm7 | G7 | Cmaj7", "subdivision": subdivision, "ending": {"use": ["plain"]}}, CORPUS
    )
    ((body, stop),) = paths(rhythm_of(rules))
    assert (len(body), stop) == (notes, None)
    assert body[-1] == (2 * 4 * TICKS_PER_BEAT, TICKS_PER_BEAT)


def test_what_lies_ahead_without_a_rest() -> None:
    """From beat 1 of a bar of eighths: one note more lands on beat 2, three on beat 3; seven more and the
    eighth is the next chord's first."""
    rules = parse_rules(
        {
            "changes": "Dm7 | G7 | Cmaj7",
            "approach": {"figures": ["enclosure-4"]},
            "passing": {"kinds": ["scale"]},
        },
        CORPUS,
    )
    rhythm = rhythm_of(rules)
    ahead = rhythm.ahead(rhythm.entries[0].node)
    assert {1, 3, 5} <= ahead.inside and not {0, 2, 4} & ahead.inside
    assert ahead.across == {7}
    assert ahead.filled == {0, 1}  # a passing note on the upbeat alone, and none on the beat after it
