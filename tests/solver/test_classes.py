"""Classes of lines against the facets, which count the same things in another way, and against listing."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.parallel.facet_columns import NOTE_FACETS, READING_FACETS
from everyline.rules.ruleset import Rules
from everyline.solver.classes import Classes, TooManyStates, classify
from everyline.solver.compiler import compile_rules
from everyline.solver.facets import KINDS, facets
from everyline.solver.properties.table import PROPERTIES, TRAITS
from everyline.solver.tally import KINDS as TALLIES
from everyline.solver.tally import tallies
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules

SPACES = {"two-five-one": TWO_FIVE_ONE, "triplets": TRIPLETS, "vamp": VAMP}


def test_every_property_is_of_some_use_and_named_once() -> None:
    assert set(TRAITS) | set(KINDS) | set(TALLIES) == PROPERTIES.keys()
    columns = [each.column for each in PROPERTIES.values() if each.column is not None]
    assert len(set(columns)) == len(columns)
    assert set(columns) < {each.name for each in (*NOTE_FACETS, *READING_FACETS)}


def marginals(classes: Classes) -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = {name: Counter() for name in classes.traits}
    for signature, count in zip(classes.signatures, classes.counts, strict=True):
        for name, values in zip(classes.traits, signature, strict=True):
            for value in values:
                found[name][value] += count
    return found


@pytest.mark.parametrize("data", SPACES.values(), ids=SPACES.keys())
@pytest.mark.parametrize("kind", [kind for kind in TRAITS if kind in KINDS and kind != "position"])
def test_classes_count_what_the_facets_count(data: dict[str, Any], kind: str) -> None:
    space = rules(data)
    diagram = compile_rules(space)
    found = marginals(classify(space, diagram, [kind]))[kind]
    counted = facets(space, diagram, [kind])
    if kind == "handoff":
        assert sorted(found.values()) == sorted(v.count for facet in counted for v in facet.values if v.count)
    else:
        (facet,) = counted
        assert dict(found) == {value.label: value.count for value in facet.values if value.count}


@pytest.mark.parametrize("data", SPACES.values(), ids=SPACES.keys())
@pytest.mark.parametrize("kind", [kind for kind in TRAITS if kind in TALLIES])
def test_classes_count_what_the_tallies_count(data: dict[str, Any], kind: str) -> None:
    space = rules(data)
    diagram = compile_rules(space)
    (tally,) = tallies(space, diagram, [kind])
    found = marginals(classify(space, diagram, [kind]))[kind]
    assert dict(found) == {entry.label: entry.count for entry in tally.entries}


def test_classes_of_a_large_space_count_what_the_facets_count() -> None:
    space = rules(PICKUPS)
    diagram = compile_rules(space)
    names = ["entry-beat", "ending", "target"]
    classes = classify(space, diagram, names)
    assert sum(classes.counts) == diagram.count > 6_000_000
    for facet in facets(space, diagram, names):
        counts = {value.label: value.count for value in facet.values if value.count}
        assert dict(marginals(classes)[facet.kind]) == counts


@pytest.mark.parametrize("data", SPACES.values(), ids=SPACES.keys())
def test_every_line_is_in_one_class_once(data: dict[str, Any]) -> None:
    space = rules(data)
    diagram = compile_rules(space)
    classes = classify(space, diagram, ["start-degree", "direction", "figure", "position"])
    lines = [classes.line(c, n) for c, count in enumerate(classes.counts) for n in range(count)]
    assert sorted(lines) == list(diagram.walk())
    with pytest.raises(IndexError):
        classes.line(0, classes.counts[0])


def test_the_notes_of_a_line_show_its_values() -> None:
    space: Rules = rules(TWO_FIVE_ONE)
    names = ["direction", "highest-note", "outside-notes"]
    classes = classify(space, compile_rules(space), names)
    for which, (direction, highest, outside) in enumerate(classes.signatures):
        for place in (0, classes.counts[which] - 1):
            notes = space.notes(classes.line(which, place))
            pitches = [note.pitch for note in notes]
            way = (pitches[-1] > pitches[0]) - (pitches[-1] < pitches[0])
            assert direction == {("level", "up", "down")[way]}
            assert outside == {str(sum(not note.chord_tone for note in notes))}
            assert any(name.endswith(str(max(pitches) // 12 - 1)) for name in highest)


def test_what_cannot_be_told_apart_is_refused() -> None:
    space = rules(TWO_FIVE_ONE)
    diagram = compile_rules(space)
    with pytest.raises(InputError, match='Did you mean "start-degree"'):
        classify(space, diagram, ["start-degre"])
    with pytest.raises(TooManyStates, match="name fewer traits"):
        classify(space, diagram, ["start-note", "highest-note"], most_states=100)


def test_no_line_has_no_class() -> None:
    none = rules(TWO_FIVE_ONE, limit=[{"kind": "largest-leap", "semitones": 0}])
    assert classify(none, compile_rules(none), ["start-note", "figure"]).counts == ()
