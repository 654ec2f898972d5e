"""Fitted tastes: against sums over listed lines, and against a style that the rules can play."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.taste import Statistics, load_taste, strangeness
from everyline.rules.taste_statistics import counted, distances
from everyline.solver.compiler import compile_rules
from everyline.solver.fitting import fit
from everyline.solver.flow import expected
from everyline.solver.hearing import Hearing
from tests.spaces import CORPUS, TRIPLETS, TWO_FIVE_ONE, rules
from tests.tastes import KEPT_ASIDE, LEARNED_FROM


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, TRIPLETS], ids=["two-five-one", "triplets"])
def test_a_fitted_taste_is_nearer_by_what_listed_lines_play(data: dict[str, Any]) -> None:
    wanted = rules(data)
    diagram = compile_rules(wanted)
    found = fit(Hearing.of(wanted, diagram), LEARNED_FROM)
    assert sum(found.after) < sum(found.before) - 0.05
    assert LEARNED_FROM.statistics is not None
    for taste, told in ((LEARNED_FROM, found.before), (found.taste, found.after)):
        pairs: Counter[Any] = Counter()
        first: Counter[Any] = Counter()
        degrees: Counter[Any] = Counter()
        for events in diagram.walk():
            heard, weight = counted(wanted, [events]), 2 ** (-strangeness(wanted, events, taste) / 16)
            for counter, counts in ((pairs, heard.pairs), (first, heard.first), (degrees, heard.degrees)):
                for each, count in counts.items():
                    counter[each] += count * weight  # type: ignore[assignment]
        listed = distances(Statistics(pairs, first, degrees), LEARNED_FROM.statistics)
        assert tuple(listed) == pytest.approx(tuple(told), abs=1e-9)


def test_a_style_that_the_rules_can_play_is_met() -> None:
    """What the same lines play under another taste can be played, so the distance goes to nothing."""
    wanted = rules(TWO_FIVE_ONE)
    diagram = compile_rules(wanted)
    style = expected(wanted, diagram, KEPT_ASIDE)
    found = fit(Hearing.of(wanted, diagram), replace(load_taste("plain", CORPUS), statistics=style))
    assert sum(found.before) > 0.05
    assert sum(found.after) < 0.002


def test_a_fitted_taste_is_one_that_a_file_can_hold() -> None:
    wanted = rules(TRIPLETS)
    found = fit(Hearing.of(wanted, compile_rules(wanted)), LEARNED_FROM).taste
    costs = [cost for rows in (found.melody, found.harmony) for row in rows.values() for cost in row]
    assert all(isinstance(cost, int) and cost >= 0 for cost in costs)
    assert found.statistics == LEARNED_FROM.statistics


def test_long_lines_have_weights_too() -> None:
    """Weights that no floating number holds: more than a thousand notes."""
    wanted = rules({"changes": " | ".join(["Dm7 | G7"] * 80), "approach": {"count": ["0"]}})
    found = expected(wanted, compile_rules(wanted), KEPT_ASIDE)
    assert sum(found.first.values()) == pytest.approx(1)
    assert sum(found.pairs.values()) > 1000


def test_a_taste_without_statistics_cannot_be_fitted() -> None:
    wanted = rules(TRIPLETS)
    with pytest.raises(InputError, match="no statistics to be fitted to"):
        fit(Hearing.of(wanted, compile_rules(wanted)), replace(KEPT_ASIDE, statistics=None))
