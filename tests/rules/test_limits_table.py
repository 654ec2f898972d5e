"""Every row of the table of limits: its example is met and broken as it says, and its definitions agree."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules import analysis
from everyline.rules.limits import LIMITS, Context, MustTarget, bind_limit
from everyline.rules.line_text import parse_line
from everyline.rules.rulefile import parse_rules
from tests.rules import limit_cases as cases


@pytest.mark.parametrize("kind", cases.PITCH_LIMITS)
def test_example_is_accepted_and_refused(kind: str) -> None:
    example = LIMITS[kind].example
    changes = cases.progression(example.changes)
    limit = cases.bind(dict(example.rule), changes)
    meets, breaks = cases.line(example.meets, changes), cases.line(example.breaks, changes)
    assert cases.accepts(limit, meets) and limit.holds(meets) and limit.explain(meets) == ()
    assert not cases.accepts(limit, breaks) and not limit.holds(breaks)
    breaches = limit.explain(breaks)
    assert breaches
    for breach in breaches:
        assert breach.rule == kind
        assert breach.message.endswith(".") and len(breach.message) > 20


def test_must_target_is_met_and_missed_by_valid_lines() -> None:
    example = LIMITS["must-target"].example
    file = {"changes": example.changes, "ending": {"use": ["plain"]}}
    free = parse_rules(file, cases.corpus())
    bound = parse_rules({**file, "limit": [dict(example.rule)]}, cases.corpus())
    (meets,), (breaks,) = parse_line(example.meets, free), parse_line(example.breaks, free)
    assert analysis.holds(free, meets) and analysis.holds(bound, meets)
    assert analysis.holds(free, breaks) and not analysis.holds(bound, breaks)


@pytest.mark.parametrize("kind", LIMITS)
def test_row_speaks_for_itself(kind: str) -> None:
    row = LIMITS[kind]
    assert row.kind == kind == row.example.rule["kind"]
    assert row.title and row.summary.endswith(".")
    assert all(key.help and key.allowed for key in row.keys)
    assert set(row.one_of) <= {key.name for key in row.keys}
    limit = bind_limit(row.example.rule, Context(cases.progression(row.example.changes), cases.corpus()))
    assert limit.kind == kind
    assert limit.describe()


@pytest.mark.parametrize("kind", cases.PITCH_LIMITS)
@settings(max_examples=60)
@given(data=st.data())
def test_acceptor_checker_and_explanation_agree(kind: str, data: st.DataObject) -> None:
    text, meter, subdivision = data.draw(st.sampled_from(cases.CHANGES))
    changes = cases.progression(text, meter, subdivision)
    limit = cases.bind(data.draw(cases.rule_tables(LIMITS[kind], changes)), changes)
    notes = cases.rules_over(changes).notes(data.draw(cases.melodies(changes)))
    holds = limit.holds(notes)
    assert cases.accepts(limit, notes) == holds
    breaches = limit.explain(notes)
    assert bool(breaches) != holds
    assert all(breach.index is None or 0 <= breach.index < len(notes) for breach in breaches)
    assert limit.describe()


@pytest.mark.parametrize("kind", cases.PITCH_LIMITS)
@settings(max_examples=25)
@given(data=st.data())
def test_equal_limits_are_equal_values(kind: str, data: st.DataObject) -> None:
    changes = cases.progression()
    table = data.draw(cases.rule_tables(LIMITS[kind], changes))
    assert cases.bind(table, changes) == cases.bind(dict(table), changes)
    assert hash(cases.bind(table, changes)) == hash(cases.bind(table, changes))


@pytest.mark.parametrize("kind", LIMITS)
def test_missing_required_keys_are_named(kind: str) -> None:
    row = LIMITS[kind]
    context = Context(cases.progression(row.example.changes), cases.corpus())
    for key in row.keys:
        if key.required:
            table = {name: value for name, value in row.example.rule.items() if name != key.name}
            with pytest.raises(InputError, match=rf"{kind}.*the key {key.name} is missing"):
                bind_limit(table, context)
    if row.one_of:
        with pytest.raises(InputError, match=" or ".join(row.one_of)):
            bind_limit(
                {"kind": kind} | {key.name: row.example.rule[key.name] for key in row.keys if key.required},
                context,
            )


@pytest.mark.parametrize("kind", LIMITS)
def test_unknown_key_is_refused(kind: str) -> None:
    row = LIMITS[kind]
    context = Context(cases.progression(row.example.changes), cases.corpus())
    with pytest.raises(InputError, match=rf'{kind}.*there is no key "colour"'):
        bind_limit({**row.example.rule, "colour": 1}, context)


@pytest.mark.parametrize("kind", LIMITS)
def test_wrong_type_is_refused(kind: str) -> None:
    row = LIMITS[kind]
    context = Context(cases.progression(row.example.changes), cases.corpus())
    for key in row.keys:
        for wrong in (True, 1.5, {"a": 1}, [[1]], []):
            with pytest.raises(InputError, match=key.name):
                bind_limit({**row.example.rule, key.name: wrong}, context)


def test_must_target_meets_exactly_what_it_names() -> None:
    changes = cases.progression("Dm7 | G7 | Dm7 | Cmaj7")
    limit = bind_limit({"kind": "must-target", "degree": "5", "chord": "D-7", "beat": 3}, Context(changes))
    assert isinstance(limit, MustTarget)
    assert limit.meets(0, 7, 4) and limit.meets(2, 7, 20)
    assert not limit.meets(1, 7, 12), "another chord"
    assert not limit.meets(0, 3, 4), "another degree"
    assert not limit.meets(0, 7, 6), "another beat"
    anywhere = bind_limit({"kind": "must-target", "degree": "5"}, Context(changes))
    assert isinstance(anywhere, MustTarget)
    assert anywhere.meets(1, 7, 12) and anywhere.meets(0, 7, 6)
