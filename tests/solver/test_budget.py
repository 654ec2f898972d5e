"""Diagrams that would explode are stopped early, and the sentence names the rule that does it."""

from __future__ import annotations

import pytest

from everyline.corpora import load
from everyline.corpora.errors import InputError, Stopped
from everyline.rules.rulefile import parse_rules
from everyline.solver.budget import TooManyNodes, at_most, most_nodes
from everyline.solver.compiler import compile_rules

CHANGES = "Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 C7 | Fmaj7 Fm7 | Dm7 G7 | Cmaj7"
LIGHT = {"kind": "largest-leap", "semitones": 9}
HEAVY = {"kind": "outside-notes", "least": 3, "most": 9}


def rules(*limits: dict[str, object]):
    return parse_rules({"changes": CHANGES, "limit": list(limits)}, load())


def test_the_limit_that_multiplies_the_nodes_is_named() -> None:
    within = sum(compile_rules(rules(LIGHT)).size)
    with at_most(max(1000, 2 * within)), pytest.raises(TooManyNodes) as stopped:
        compile_rules(rules(LIGHT, HEAVY))
    assert '"outside-notes"' in str(stopped.value)
    assert "--most-nodes" in str(stopped.value)
    assert isinstance(stopped.value, Stopped)


def test_a_body_that_is_too_large_is_stopped_on_the_way() -> None:
    with at_most(3000), pytest.raises(TooManyNodes, match=r"figures .* by bar [2-7] of 8"):
        compile_rules(rules())


def test_what_fits_is_as_without_a_limit_and_the_allowance_ends_with_its_block() -> None:
    before = most_nodes()
    free = compile_rules(rules(LIGHT, HEAVY))
    with at_most(200_000):
        assert most_nodes() == 200_000
        assert compile_rules(rules(LIGHT, HEAVY)).count == free.count
    assert most_nodes() == before


def test_too_small_an_allowance_is_refused() -> None:
    with pytest.raises(InputError, match="999 nodes is too low"), at_most(999):
        pass
