"""Limits joined to a diagram that is kept: the same diagram as compiling the rules afresh."""

from __future__ import annotations

from dataclasses import fields

import pytest

from everyline.corpora import load
from everyline.corpora.loader import parse_toml
from everyline.rules.limits import LIMITS
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.reuse import join_limits, without_limits
from tests.sweeps import sweep

CORPUS = load()
FILES = {name: parse_toml(each.text().encode(), name) for name, each in CORPUS.rulefiles.items()}
II_V_I = {"changes": "Dm7 | G7 | Cmaj7", "title": "one title"}


def same(one: Diagram, other: Diagram) -> bool:
    """Whether two diagrams are the same, node by node."""
    return all(getattr(one, each.name) == getattr(other, each.name) for each in fields(Diagram))


OF_TABLES = [name for name, tables in FILES.items() if "own_rules" not in tables]


@pytest.mark.parametrize("name", OF_TABLES[:: sweep(small=2, full=1)])
def test_a_rule_file_joined_is_the_rule_file_compiled(name: str) -> None:
    rules = parse_rules(FILES[name], CORPUS, name=name)
    assert same(join_limits(compile_rules(without_limits(rules)), rules), compile_rules(rules))


@pytest.mark.parametrize("kind", [kind for kind in LIMITS if kind != "must-target"])
def test_one_base_serves_every_limit(kind: str) -> None:
    plain = parse_rules(II_V_I, CORPUS)
    base = without_limits(plain)
    limited = parse_rules({**II_V_I, "title": "another", "limit": [LIMITS[kind].example.rule]}, CORPUS)
    assert without_limits(limited) == base
    assert same(join_limits(compile_rules(base), limited), compile_rules(limited))


def test_what_is_part_of_the_anatomy_has_a_base_of_its_own() -> None:
    """A demanded target is met within one analysis, so it is no limit that can be joined later."""
    plain = parse_rules(II_V_I, CORPUS)
    limited = parse_rules({**II_V_I, "limit": [LIMITS["must-target"].example.rule]}, CORPUS)
    assert without_limits(limited) != without_limits(plain)
