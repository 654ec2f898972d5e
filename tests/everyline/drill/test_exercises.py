"""Exercises against brute force and the plain checkers."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from everyline.drill.difficulty import WEIGHTS, counts, difficulty, position_shifts
from everyline.drill.exercises import KINDS, Wishes, make
from everyline.rules.analysis import best_analysis, holds
from everyline.rules.annotate import AnnotatedLine, annotate
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.fill import Fill, continuations
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, rules

LIMITS = [
    {"kind": "largest-leap", "semitones": 7},
    {"kind": "outside-notes", "most": 4},
    {"kind": "avoid-degrees", "degrees": ["4"], "chord": "Dm7"},
]


@cache
def space(limited: bool = False) -> tuple[Rules, Diagram]:
    found = rules(TWO_FIVE_ONE, limit=LIMITS) if limited else rules(TWO_FIVE_ONE)
    return found, compile_rules(found)


def line(number: int, limited: bool = False) -> AnnotatedLine:
    found, diagram = space(limited)
    return annotate(found, diagram.line(number), number)


def agree(one: Events, other: Events, blanks: tuple[int, ...]) -> bool:
    times = [[(e.onset, e.length) for e in each] for each in (one, other)]
    return times[0] == times[1] and all(
        a.pitch == b.pitch for place, (a, b) in enumerate(zip(one, other, strict=True)) if place not in blanks
    )


@pytest.mark.parametrize("number", [1, 99, 485, 1000, 1758])
@pytest.mark.parametrize("blanks", [(0,), (3, 4), (2, 5, 9), tuple(range(4, 12)), ()])
def test_fills_equal_brute_force(number: int, blanks: tuple[int, ...]) -> None:
    _, diagram = space()
    wanted = diagram.line(number)
    fill = Fill(diagram, wanted, blanks)
    expected = [other for other in diagram.walk() if agree(wanted, other, blanks)]
    assert list(fill.lines()) == expected
    assert fill.count == len(expected) >= 1


def test_blanks_are_drawn_over_sixty_four_bars() -> None:
    """More than five hundred notes: what goes note by note must not recurse."""
    found = rules(
        {
            "changes": " | ".join(["Dm7 | G7 | Cmaj7 | A7"] * 16),
            "range": {"lowest": "A3", "highest": "A5"},
            "approach": {"count": ["0"]},
            "ending": {"use": ["plain"]},
        }
    )
    diagram = compile_rules(found)
    whole = annotate(found, diagram.line(diagram.count))
    exercise = make("complete", whole, diagram, 1, Wishes(blanks=2, completions=50))
    assert (exercise.kind, len(exercise.blanks), len(whole.notes)) == ("complete", 2, 505)


def test_continuations_equal_brute_force() -> None:
    _, diagram = space()
    for given in (diagram.line(485)[:8], diagram.line(1)[:3], ()):
        assert continuations(diagram, given) == sum(o[: len(given)] == given for o in diagram.walk())
    assert continuations(diagram, diagram.line(1)[1:]) == 0


@pytest.mark.parametrize("seed", range(6))
def test_complete_has_every_way_and_no_more_than_allowed(seed: int) -> None:
    _, diagram = space()
    wishes = Wishes(blanks=4, completions=5)
    made = make("complete", line(250 * seed + 7), diagram, seed, wishes)
    assert made.kind == "complete" and len(made.blanks) == 4
    expected = [n for n, o in enumerate(diagram.walk(), 1) if agree(made.shown, o, made.blanks)]
    assert made.key["answers"] == expected and made.key["completions"] == len(expected) <= 5
    assert made.key["blanks"] == [place + 1 for place in made.blanks]
    text = made.text(line(250 * seed + 7))
    assert text.count("__") == 4 and len(made.answer) == len(expected) + 1


@pytest.mark.parametrize("limited", [False, True])
@pytest.mark.parametrize("seed", range(8))
def test_a_slip_breaks_the_rule_that_it_names_and_no_other(seed: int, limited: bool) -> None:
    found, diagram = space(limited)
    original = line(1 + seed * (diagram.count // 9), limited)
    made = make("slip", original, diagram, seed, Wishes())
    if made.kind != "slip":
        assert made.key["instead_of"] == "slip"
        return
    place = made.key["note"] - 1
    changed = [n for n, (a, b) in enumerate(zip(made.shown, original.events, strict=True)) if a != b]
    assert changed == [place]
    assert not holds(found, made.shown)
    notes = found.notes(made.shown)
    broken = [limit.kind for limit in found.limits if not limit.holds(notes)]
    if best_analysis(found, made.shown) is not None:
        assert broken == [made.key["rule"]]
        # Without that one rule the line is valid: the other rules all hold.
        rest = tuple(limit for limit in found.limits if limit.kind != made.key["rule"])
        assert holds(replace(found, limits=rest), made.shown)
    else:
        assert broken == []
        assert made.key["rule"] not in {limit.kind for limit in found.limits}
    assert made.key["now"] in made.text(original).split()[place]


def test_slips_of_limits_and_of_anatomy_both_occur() -> None:
    found, diagram = space(limited=True)
    named = {
        make("slip", line(number, limited=True), diagram, number, Wishes()).key.get("rule")
        for number in range(1, diagram.count, max(1, diagram.count // 40))
    }
    limits = {limit.kind for limit in found.limits}
    assert named & limits and named - limits - {None}


def test_continue_gives_the_first_bar() -> None:
    _, diagram = space()
    made = make("continue", line(485), diagram, 1, Wishes())
    assert [event.onset for event in made.shown] == list(range(0, 1920, 240))
    assert made.key == {"given": 8, "continuations": continuations(diagram, made.shown)}


def test_what_is_not_possible_says_why() -> None:
    _, diagram = space()
    whole = make("complete", line(1), diagram, 1, Wishes(blanks=99, completions=3))
    assert whole.kind == "play" and whole.key["instead_of"] == "complete"
    assert "more than 3 ways" in whole.key["because"]


@pytest.mark.parametrize("kind", KINDS)
def test_the_seed_alone_decides(kind: str) -> None:
    _, diagram = space()
    assert make(kind, line(700), diagram, 5, Wishes()) == make(kind, line(700), diagram, 5, Wishes())


def test_difficulty_is_its_stated_sum() -> None:
    for data in (TWO_FIVE_ONE, PICKUPS, TRIPLETS):
        found = rules({**data, "key": "Eb"})
        events = compile_rules(found).line(200)
        shown = annotate(found, events)
        number = counts(shown)
        assert number["accidentals in the signature"] == 3
        pitches = [event.pitch for event in events]
        assert number["leaps"] == sum(abs(b - a) >= 5 for a, b in pairwise(pitches))
        assert number.keys() == WEIGHTS.keys()
        assert difficulty(shown) == sum(number[name] * WEIGHTS[name] for name in WEIGHTS)


def test_position_shifts_are_the_fewest() -> None:
    free = rules(TWO_FIVE_ONE)
    assert position_shifts(free, [40, 76]) == 0
    guitar = rules(TWO_FIVE_ONE, range={"instrument": "guitar"})
    # Open low E, then the same string's twelfth fret, back, and again: every move is a shift.
    assert position_shifts(guitar, [40, 86, 40, 86]) == 3
    assert position_shifts(guitar, [60, 62, 64, 65]) == 0
