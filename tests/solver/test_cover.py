"""Pair covers: every pair that can occur does, by a set that no smaller one replaces."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.solver.classes import Classes, classify
from everyline.solver.compiler import compile_rules
from everyline.solver.cover import Cover, _undominated, pair_cover
from everyline.solver.stratify import strata
from everyline.solver.varied import BEST_FOUND, OPTIMAL
from tests.spaces import TRIPLETS, TWO_FIVE_ONE, VAMP, rules


def classes(data: dict[str, Any], traits: list[str]) -> Classes:
    space = rules(data)
    return classify(space, compile_rules(space), traits)


def pairs_of(signature: Any) -> set[Any]:
    cells = [(place, value) for place, values in enumerate(signature) for value in sorted(values)]
    return {(a, b) for a, b in combinations(cells, 2) if a[0] != b[0]}


def check(parts: Classes, found: Cover) -> None:
    """By the lines alone: each is found again among all lines of its class."""
    where = {
        parts.line(which, place): signature
        for which, signature in enumerate(parts.signatures)
        for place in range(parts.counts[which])
    }
    wanted = set().union(*(pairs_of(signature) for signature in parts.signatures))
    seen: set[Any] = set()
    for (_, line), covered in zip(found.lines, found.covered, strict=True):
        seen |= pairs_of(where[line])
        assert len(seen) == covered
    assert seen == wanted
    assert found.pairs == len(wanted)


@pytest.mark.parametrize(
    "traits",
    [["start-degree", "direction"], ["target-degree", "figure"], ["start-note", "target", "outside-notes"]],
)
@pytest.mark.parametrize("data", [TWO_FIVE_ONE, TRIPLETS], ids=["two-five-one", "triplets"])
def test_every_pair_that_can_occur_does(data: dict[str, Any], traits: list[str]) -> None:
    parts = classes(data, traits)
    found = pair_cover([parts], traits)
    check(parts, found)
    assert found.status == OPTIMAL and found.gap == 0
    assert found.covered[0] == max(map(len, map(pairs_of, parts.signatures)))


def test_no_smaller_set_has_every_pair() -> None:
    traits = ["start-degree", "direction", "outside-notes", "highest-note"]
    parts = classes({**VAMP, "range": {"lowest": "C4", "highest": "E5"}}, traits)
    found = pair_cover([parts], traits)
    check(parts, found)
    sets = [pairs_of(signature) for signature in parts.signatures]
    wanted = set().union(*sets)
    fewer = combinations(sets, len(found.lines) - 1)
    assert not any(set().union(*some) == wanted for some in fewer)


def test_a_search_cut_short_states_its_gap() -> None:
    traits = ["start-note", "target", "figure"]
    parts = [classes(TRIPLETS, traits)]
    found = pair_cover(parts, traits, effort=0.0)
    assert found.covered[-1] == found.pairs
    assert 1 <= found.bound <= len(found.lines)
    assert found.status == (OPTIMAL if found.gap == 0 else BEST_FOUND)
    better = pair_cover(parts, traits)
    assert found.bound <= len(better.lines) <= len(found.lines)


@given(st.lists(st.integers(1, 255), min_size=1, max_size=30))
def test_sets_that_bring_nothing_are_left_out(sets: list[int]) -> None:
    kept = _undominated(sets)
    assert all(any(each | sets[place] == sets[place] for place in kept) for each in sets)
    for one, other in combinations(kept, 2):
        assert sets[one] | sets[other] not in (sets[one], sets[other])


def test_the_seed_picks_the_lines_not_the_number() -> None:
    traits = ["start-note", "target-degree"]
    parts = [classes(TRIPLETS, traits)]
    one, again, other = (pair_cover(parts, traits, seed) for seed in (1, 1, 2))
    assert one == again and one.lines != other.lines
    assert len(one.lines) == len(other.lines)


def test_key_as_a_trait_of_whole_spaces() -> None:
    parts = [classes(VAMP, ["direction"])] * 2
    keys = [(frozenset({"C"}),), (frozenset({"F"}),)]
    found = pair_cover(parts, ["key", "direction"], constants=keys)
    assert len(found.lines) == found.pairs == len(strata(parts, keys))


def test_one_trait_has_no_pairs() -> None:
    with pytest.raises(InputError, match="two traits"):
        pair_cover([classes(VAMP, ["direction"])], ["direction"])
    none = classes(
        {**TWO_FIVE_ONE, "limit": [{"kind": "largest-leap", "semitones": 0}]}, ["ending", "figure"]
    )
    assert pair_cover([none], ["ending", "figure"]).lines == ()
