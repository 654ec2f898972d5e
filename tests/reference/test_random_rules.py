"""The random rule files: the same for the same seed, of every option and limit, and countable in two ways."""

from __future__ import annotations

import functools
import itertools
from typing import Any

import pytest

from tests.reference import count, solve
from tests.reference.anatomy import openings
from tests.reference.count import COUNTED
from tests.reference.random_limits import KINDS, MORE_KINDS
from tests.reference.random_rules import random_rules
from tests.reference.result import Search
from tests.reference.rulefile import KNOWN, parse_rules
from tests.reference.vocabulary import FAMILIES

MOST = 2_000
PLAIN = 64  # from here on the files are without passing notes, cells and what came with them
SEEDS = range(80)
PASSED = ("passing", "arpeggio", "handoff")
HANDOFFS = {"nearest", "nearest-or-common", "step", "guide", "any"}


@functools.cache
def rule_file(seed: int) -> dict[str, Any]:
    return random_rules(seed, most=MOST, extended=seed < PLAIN)


def without_limits(table: dict[str, Any]) -> dict[str, Any]:
    """The same space without its limits, but for those that are counted along."""
    kept = [limit for limit in table.get("limit", []) if limit["kind"] in COUNTED]
    return {**table, "limit": kept}


@pytest.mark.parametrize("seed", SEEDS)
def test_listing_agrees_with_counting(seed: int) -> None:
    table = without_limits(rule_file(seed))
    lines = solve(table).lines
    assert len(lines) == len(set(lines)) == count(table) <= MOST


@pytest.mark.parametrize("seed", SEEDS[::6])
def test_the_same_seed_gives_the_same_file(seed: int) -> None:
    assert random_rules(seed, most=MOST, extended=seed < PLAIN) == rule_file(seed)


def test_every_key_and_kind_is_used() -> None:
    files = [rule_file(seed) for seed in SEEDS]
    for name, keys in KNOWN.items():
        used = set(itertools.chain.from_iterable(table.get(name, {}) if name else table for table in files))
        assert used == keys - {"title"}
    limits = [limit["kind"] for table in files for limit in table.get("limit", [])]
    assert set(limits) == {*KINDS, *MORE_KINDS}
    assert {table["handoff"]["rule"] for table in files if "handoff" in table} == HANDOFFS


def test_some_lines_have_stock_endings_and_some_have_several_analyses() -> None:
    results = [solve(rule_file(seed)) for seed in SEEDS]
    analyses = [result.analyses(line) for result in results for line in result.lines[:200]]
    assert any("ending" in roles for found in analyses for roles in found)
    assert any(len(found) > 1 for found in analyses)


@pytest.mark.parametrize("seed", SEEDS[::6])
def test_roles_follow_the_anatomy(seed: int) -> None:
    result = solve(rule_file(seed))
    for line in result.lines[:200]:
        for roles in result.analyses(line):
            assert roles[0] in ("entry", "approach") and "entry" not in roles[1:]
            pairs = list(itertools.pairwise(roles))
            assert all(after in ("approach", "target") for before, after in pairs if before == "approach")
            assert all(after in PASSED for before, after in pairs if before == "passing")
            assert all(before == "approach" for before, after in pairs if after == "target")
            assert all(after == "ending" for before, after in pairs if before == "ending")


def test_families_have_as_many_members_as_can_be_counted_by_hand() -> None:
    # 2: a side for the first note, a size for each side. 3: the place of the lone step among three, its side,
    # its size. 4: the places of the two upper steps among four.
    assert {name: len(steps) for name, steps in FAMILIES.items()} == {
        "enclosure-2": 2 * 2 * 2,
        "enclosure-3": 3 * 2 * 2,
        "enclosure-4": 6,
    }


def test_what_lies_ahead_is_never_a_dead_end() -> None:
    rules = parse_rules(rule_file(0))
    search = Search(rules)
    for _, _, state in openings(rules):
        for _, _, after in search.ahead(state):
            assert after.over or search.ahead(after)
