"""What comes next in a line that is being built, against the listed lines and their analyses."""

from __future__ import annotations

import random
from collections import defaultdict
from functools import cache
from typing import Any

import pytest

from everyline import parse
from everyline.corpora.errors import InputError
from everyline.rules.analysis import analyses
from everyline.rules.line import Event, Events
from everyline.solver.compiler import compile_rules
from everyline.spaces.building import build
from everyline.spaces.space import Space
from everyline.spaces.why_not import why_not
from tests.solver.test_onward import SPACES
from tests.spaces import rules

LEAPS = '[[limit]]\nkind = "largest-leap"\nsemitones = 5\n'
PEAK = '[[limit]]\nkind = "single-peak"\n'
II_V_I = (
    'changes = "Dm7 | G7 | Cmaj7"\nkey = "C"\n[range]\nlowest = "E3"\nhighest = "E5"\n'
    '[approach]\nfigures = ["enclosure-2", "enclosure-3"]\ncount = ["0-1"]\n'
)


spaces = cache(parse)


@cache
def figures_of(name: str) -> dict[Events, set[tuple[str, Event]]]:
    """For every beginning of every line, the figures that begin on its last note in some analysis, each with
    the note that it lands on."""
    wanted = rules(SPACES[name])
    found: dict[Events, set[tuple[str, Event]]] = defaultdict(set)
    for line in compile_rules(wanted).walk():
        for analysis in analyses(wanted, line):
            for figure in analysis.figures:
                found[line[: figure.first + 1]].add((figure.name, line[figure.target]))
    return found


@pytest.mark.parametrize("name", [name for name in SPACES if name != "filled"])
def test_figures_that_begin_and_where_they_land_are_those_of_all_analyses(name: str) -> None:
    space, expected = Space(rules(SPACES[name])), figures_of(name)
    begun = sorted({line[:-1] for line in expected})
    for beginning in [(), *begun[:: max(1, len(begun) // 60)]]:
        for note in space.after(beginning).notes:
            assert set(note.figures) == expected.get((*beginning, note.event), set())


def test_a_next_note_says_what_it_begins() -> None:
    """E4 Eb4 leads down to D4, and B3 C4 up: the root and the third of Dm7 are enclosed from either side
    (common practice)."""
    steps = {step.name: step for step in build(spaces(II_V_I), "D4 F4").steps}
    assert steps["A4"].words == ("arpeggio up",)
    assert steps["E4"].words == ("begins an enclosure of the root or the 3rd",)
    assert {each.target for each in steps["E4"].figures} == {"D4", "F4"}
    assert steps["E4"].as_row()["figures"][0]["figure"].startswith("enclosure")


def test_counts_come_without_what_the_notes_would_be() -> None:
    space = spaces(II_V_I)
    bare, full = build(space, "D4 F4", words=False), build(space, "D4 F4")
    assert [(step.event, step.count) for step in bare.steps] == [(s.event, s.count) for s in full.steps]
    assert all(not step.words for step in bare.steps)


REASONS: tuple[tuple[str, str, str, str], ...] = (
    (II_V_I, "D4 F4", "D6", "D6 (bar 1, beat 2) is out of range; the range is E3 to E5."),
    (II_V_I, "D4", "C5", "up from D4 (bar 1, beat 1) the next chord tone of Dm7 is F4"),
    (II_V_I, "D4 F4", "F4", "repeats the note before it; the arpeggio would go on to A4 or D4"),
    (II_V_I, "D4 F4 E4", "C5", "an approach figure is under way and goes on with"),
    (II_V_I, "D4 F4 A4 C5 A4 F4 D4 C4", "F4", "from C4 the new chord G7 is entered on the nearest other"),
)


@pytest.mark.parametrize(("text", "begun", "wanted", "said"), REASONS)
def test_why_a_note_is_not_offered(text: str, begun: str, wanted: str, said: str) -> None:
    found = why_not(spaces(text), begun, wanted)
    assert found.count == 0 and said in found.sentence


@pytest.mark.parametrize(("limit", "said"), [(LEAPS, "the largest allowed is 5"), (PEAK, "highest note")])
def test_a_limit_is_named(limit: str, said: str) -> None:
    """Of what the limit alone forbids the sentence speaks of the limit."""
    free, bound = spaces(II_V_I), spaces(II_V_I + limit)
    found = 0
    for line in bound.samples(12, 3):
        for size in range(2, len(line.notes)):
            allowed = {note.event for note in bound.after(line.events[:size], roles=False).notes}
            for note in free.after(line.events[:size], roles=False).notes:
                if note.event not in allowed:
                    assert said in why_not(bound, line.events[:size], note.event).sentence
                    found += 1
                    if found == 8:
                        return
    assert found, "no note that the limit alone forbids was met"


@pytest.mark.parametrize("name", SPACES)
def test_every_note_has_an_answer(name: str) -> None:
    """An offered one its count; any other one sentence that names it or its figure."""
    space = Space(rules(SPACES[name]))
    draw = random.Random(7)
    for line in space.samples(6, 5):
        begun = line.events[: draw.randrange(len(line.notes))]
        counts = {note.event: note.count for note in space.after(begun).notes}
        if not counts:
            continue
        for pitch in draw.sample(sorted(space.rules.pitches), min(6, len(space.rules.pitches))):
            event = min(counts)._replace(pitch=pitch)
            found = why_not(space, begun, event)
            assert found.count == counts.get(event, 0)
            assert found.sentence.endswith(".") and "\n" not in found.sentence
            assert ("may come next" in found.sentence) == bool(found.count)


@pytest.mark.parametrize("wanted", ["H4", "", "Eb", 128, None, True])
def test_what_is_no_note_is_refused(wanted: Any) -> None:
    with pytest.raises(InputError, match="is no note; write a pitch with its octave, such as Eb4"):
        why_not(spaces(II_V_I), "D4", wanted)


def test_nothing_comes_after_the_end() -> None:
    space = spaces(II_V_I)
    with pytest.raises(InputError, match="the line is over here"):
        why_not(space, space[0].events, "D4")
