"""Balanced samples: to within one line as far as the lines allow, and what is said where they do not."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import combinations
from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.solver.classes import Classes, classify
from everyline.solver.compiler import compile_rules
from everyline.solver.stratify import Balanced, stratified
from everyline.solver.varied import OPTIMAL
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules

WIDE = {**VAMP, "range": {"lowest": "C4", "highest": "E5"}}


def classes(data: dict[str, Any], traits: list[str]) -> Classes:
    space = rules(data)
    return classify(space, compile_rules(space), traits)


def spread(found: Balanced, trait: str, spent: bool = False) -> Fraction:
    """The difference between the most and the least; values with no more lines left out unless ``spent``."""
    shares = [s for s in found.shares if s.trait == trait and (spent or s.lines < s.exists)]
    return max(s.lines for s in shares) - min(s.lines for s in shares)


@pytest.mark.parametrize("most", [1, 7, 40, 300])
@pytest.mark.parametrize("trait", ["start-note", "highest-note", "target-degree", "entry-beat"])
def test_one_trait_is_balanced_to_within_one_line(trait: str, most: int) -> None:
    found = stratified([classes(PICKUPS, [trait])], [trait], most)
    assert found.status == OPTIMAL
    assert len(set(found.lines)) == len(found.lines) == most
    assert spread(found, trait) <= 1
    assert sum(share.lines for share in found.shares) == most


def test_two_traits_are_balanced_at_once() -> None:
    traits = ["entry-beat", "ending"]
    space = rules(PICKUPS)
    found = stratified([classes(PICKUPS, traits)], traits, 99)
    assert [spread(found, trait, spent=True) <= 1 for trait in traits] == [True, True]
    assert found.remarks == ()
    # The lines themselves say the same as the shares.
    slots = Counter(line[0].onset // space.slot_ticks for _, line in found.lines)
    assert sorted(slots.values()) == [49, 50]


def test_no_sample_of_a_small_space_is_more_even() -> None:
    traits = ["start-degree", "direction"]
    parts = classes(WIDE, traits)
    lines = [
        (signature, n)
        for signature, count in zip(parts.signatures, parts.counts, strict=True)
        for n in range(count)
    ]
    assert 6 <= len(lines) <= 40

    def squares(some: Any) -> int:
        counts = [Counter(signature[place] for signature, _ in some) for place in range(2)]
        return sum(count * count for counter in counts for count in counter.values())

    best = min(squares(some) for some in combinations(lines, 4))
    found = stratified([parts], traits, 4)
    assert found.status == OPTIMAL
    assert sum(share.lines**2 for share in found.shares) == best


def test_values_without_enough_lines_are_used_up_and_named() -> None:
    found = stratified([classes(TWO_FIVE_ONE, ["start-degree"])], ["start-degree"], 300)
    used_up = [share for share in found.shares if share.lines == share.exists]
    assert used_up and spread(found, "start-degree") <= 1
    (remark,) = found.remarks
    assert "start-degree" in remark and "all lines there are with" in remark and used_up[0].value in remark


def test_traits_that_are_at_odds_are_told_of() -> None:
    traits = ["start-degree", "direction"]
    found = stratified([classes(TWO_FIVE_ONE, traits)], traits, 100)
    assert found.status == OPTIMAL
    assert any(
        "direction" in remark and "no sample of this size is more even" in remark for remark in found.remarks
    )


def test_more_lines_than_there_are_gives_all_and_says_so() -> None:
    found = stratified([classes(TRIPLETS, ["ending"])], ["ending"], 9999)
    assert len(set(found.lines)) == 2377
    assert found.remarks[0] == "9999 lines were asked for; there are only 2377 lines, and all are here."


def test_the_seed_decides() -> None:
    parts = [classes(TRIPLETS, ["start-note"])]
    one, again, other = (stratified(parts, ["start-note"], 20, seed) for seed in (1, 1, 2))
    assert one == again
    assert one.lines != other.lines


def test_several_spaces_with_constants_of_their_own() -> None:
    parts = [classes(TRIPLETS, ["direction"]), classes(TWO_FIVE_ONE, ["direction"])]
    keys = [(frozenset({"G"}),), (frozenset({"C"}),)]
    found = stratified(parts, ["key", "direction"], 30, constants=keys)
    assert Counter(source for source, _ in found.lines) == {0: 15, 1: 15}


def test_lines_of_one_class_are_equally_likely() -> None:
    """Pearson's chi-square over the 12 lines of one class, 11 degrees of freedom: 31.26 is exceeded once in a
    thousand (the 0.999 quantile, NIST/SEMATECH e-Handbook of Statistical Methods, table of critical values).
    The seeds are fixed, so the test gives one answer for ever."""
    parts = classes(WIDE, ["entry-beat"])
    assert parts.counts == (12,)
    draws = 1200
    seen = Counter(stratified([parts], ["entry-beat"], 1, seed).lines[0] for seed in range(draws))
    assert len(seen) == 12
    assert sum((count - draws / 12) ** 2 / (draws / 12) for count in seen.values()) < 31.26


def test_what_cannot_be_balanced_is_refused() -> None:
    parts = classes(VAMP, ["ending"])
    with pytest.raises(InputError, match="1 to 100000"):
        stratified([parts], ["ending"], 0)
    none = classes({**TWO_FIVE_ONE, "limit": [{"kind": "largest-leap", "semitones": 0}]}, ["ending"])
    assert stratified([none], ["ending"], 3).lines == ()
