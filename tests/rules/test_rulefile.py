"""Reading a rule file: what each key means, what stands for one left out, and what names the set of lines."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.canonical import fingerprint
from everyline.rules.keys import DEFAULT_RANGE, SCHEMA, SECTIONS
from everyline.rules.own import StepRule
from everyline.rules.pitch import parse_pitch
from everyline.rules.rulefile import OPTIONS, load_rules, parse_rules, rules_from_options
from everyline.rules.ruleset import Approach, Arpeggio, Entry, Passing, Position, Rules, Weights
from everyline.rules.schema import KeyType
from tests.rules.limit_cases import bind, corpus

WHOLE = """
title = "One enclosure on the ii"
changes = "Dm7 | G7 | Cmaj7"
key = "C"
meter = "4/4"
subdivision = 2
[scales]
"G7" = "altered"
"D-7" = ["1", "2", "b3", "4", "5", "b6", "b7"]
[range]
instrument = "guitar"
position = 5
strings = [1, 2, 3, 4]
span = 5
[entry]
beats = ["1", "2&"]
pickup = [1, 3]
start = ["D4", "F"]
degrees = ["1", "b3"]
[arpeggio]
direction = "up"
turns = 2
skips = 1
[passing]
kinds = ["chromatic", "scale"]
place = "any"
count = ["1", "0-2"]
[approach]
figures = ["enclosure-2", "above-double-below", "wide-below"]
count = ["1", "0-2", 0]
targets = ["5"]
reach = 5
after = 2
[handoff]
rule = "guide"
[ending]
use = ["plain", "mine"]
lead_in = 3
[[endings]]
name = "mine"
notes = "#5 b9' 1 b7 | 5"
rhythm = "8 8 8 8 | 4"
over = ["7"]
[[endings]]
name = "spare"
notes = "b9 1 | 5"
over = ["m7"]
[[figures]]
name = "wide-below"
steps = "-2 +1 -1"
[[limit]]
kind = "largest-leap"
semitones = 9
[[limit]]
kind = "must-target"
degree = "5"
[roughness]
repeat = 7
unfilled = 0
"""


def read(**keys: Any) -> Rules:
    return parse_rules({"changes": "Dm7 | G7 | Cmaj7", **keys}, corpus())


def test_every_key_is_read() -> None:
    rules = parse_rules(WHOLE, corpus())
    assert (rules.title, rules.key) == ("One enclosure on the ii", "C")
    assert rules.scales == ((0, 2, 3, 5, 7, 8, 10), (0, 1, 3, 4, 6, 8, 10), (0, 2, 4, 5, 7, 9, 11))
    assert rules.position == Position(5, (1, 2, 3, 4), 5)
    assert rules.instrument is not None and rules.instrument.name == "guitar"
    f_notes = {pitch for pitch in rules.pitches if pitch % 12 == 5}
    assert rules.entry == Entry(
        slots=(-3, -1, 0, 3),
        pitches=frozenset({62} | f_notes),
        degrees=frozenset({0, 3}),
        any_octave=frozenset({5}),
        with_octave=frozenset({62}),
    )
    assert rules.arpeggio == Arpeggio("up", 2, 1)
    assert rules.passing == Passing(("scale", "chromatic"), "any", ((1, 1), (0, 2)))
    steps = {figure.text for figure in rules.approach.figures}
    assert len(steps) == 8 + 2 and {"+d -2 -1", "-2 +1 -1"} < steps
    assert rules.approach.count == ((1, 1), (0, 2), (0, 0))
    assert (rules.approach.targets, rules.approach.reach, rules.approach.after) == (frozenset({7}), 5, 2)
    assert (rules.handoff, rules.lead_in, rules.plain) == ("guide", 3, True)
    assert [ending.name for ending in rules.endings] == ["mine"]
    assert [limit.kind for limit in rules.limits] == ["largest-leap"]
    assert [target.describe() for target in rules.must_targets] == ["an approach figure lands on the 5"]
    assert rules.weights == Weights(bands=((0, 7), (2, 0), (4, 1), (7, 3), (12, 6)), unfilled=0)


def test_what_is_left_out_takes_the_default() -> None:
    rules = read()
    assert (rules.title, rules.key, rules.handoff, rules.lead_in, rules.plain) == (
        "",
        None,
        "nearest",
        4,
        True,
    )
    assert (str(rules.progression.meter), rules.progression.subdivision) == ("4/4", 2)
    low, high = map(parse_pitch, DEFAULT_RANGE)
    assert rules.pitches == frozenset(range(low, high + 1))
    assert rules.entry == Entry((0,), None, None)
    assert rules.arpeggio == Arpeggio("either", 1, 0)
    assert (rules.passing, rules.cells) == (Passing((), "off", ((0, 99),)), ())
    figures = tuple(figure for figure in corpus().figures.values() if figure.two_sided)
    assert rules.approach == Approach(figures, ((0, 1),), None, 7, 1)
    assert rules.weights == Weights()
    assert (rules.limits, rules.must_targets) == ((), ())


def test_default_figures_are_the_two_sided_ones_of_the_catalogue() -> None:
    # Common practice: an enclosure has notes on both sides of its target; the catalogue has twelve of them.
    names = {figure.name for figure in read().approach.figures}
    assert len(names) == 12
    assert "above-below" in names and "double-chromatic-below" not in names


@pytest.mark.parametrize(("family", "size"), [("enclosure-2", 8), ("enclosure-3", 12)])
def test_a_family_stands_for_its_members(family: str, size: int) -> None:
    assert len(read(approach={"figures": [family]}).approach.figures) == size


def test_equal_figures_count_once() -> None:
    # chromatic-above-below is +1 -1, which the family holds as well.
    assert len(read(approach={"figures": ["enclosure-2", "chromatic-above-below"]}).approach.figures) == 8


def test_pickup_alone_replaces_the_default_beat() -> None:
    assert read(entry={"pickup": [3, 1]}).entry.slots == (-3, -1)
    assert read(entry={"pickup": [1], "beats": ["1"]}).entry.slots == (-1, 0)
    assert read(entry={"beats": ["3", 2]}).entry.slots == (2, 4)


def test_start_without_an_octave_means_all_octaves_of_the_range() -> None:
    entry = read(entry={"start": ["F", "D4"]}, range={"lowest": "E3", "highest": "E5"}).entry
    assert entry.pitches == {53, 65, 62}


@pytest.mark.parametrize(
    ("written", "read_as"), [("1", (1, 1)), ("0-2", (0, 2)), (1, (1, 1)), (" 1 - 2 ", (1, 2))]
)
def test_counts(written: str | int, read_as: tuple[int, int]) -> None:
    assert read(approach={"count": [written]}).approach.count == (read_as,)


def test_a_scale_serves_every_occurrence_of_its_chord() -> None:
    rules = read(changes="Dm7 | G7 | Dm7 | G7 | Cmaj7", scales={"G7": "lydian dominant"})
    altered = tuple(index for index, scale in enumerate(rules.scales) if 6 in scale)
    assert altered == (1, 3)


def test_roman_numerals_may_name_a_scale_or_a_chord() -> None:
    rules = read(changes="ii7 | V7 | Imaj7", key="Eb", scales={"V7": "altered"})
    assert rules.scales[1] == (0, 1, 3, 4, 6, 8, 10)


def test_default_endings_are_plain_the_corpus_and_the_files_own() -> None:
    rules = read(endings=[{"name": "mine", "notes": "#5 b9' | 5"}])
    assert rules.plain
    names = [ending.name for ending in rules.endings]
    assert names[-1] == "mine"
    assert set(names[:-1]) <= set(corpus().endings)


def test_plain_alone() -> None:
    rules = read(ending={"use": ["plain"]})
    assert rules.plain and rules.endings == ()


def test_without_plain() -> None:
    rules = read(ending={"use": ["mine", "mine"]}, endings=[{"name": "mine", "notes": "#5 b9' | 5"}])
    assert not rules.plain and len(rules.endings) == 1


def test_a_vamp_ends_plainly() -> None:
    rules = read(changes="Dm7 | %")
    assert rules.plain and rules.endings == ()


def test_file_and_text_read_alike(tmp_path: Path) -> None:
    path = tmp_path / "lesson.toml"
    path.write_text(WHOLE, encoding="utf-8")
    assert load_rules(path, corpus()) == parse_rules(WHOLE, corpus())


def test_every_rule_file_of_the_corpus_is_read() -> None:
    assert len(corpus().rulefiles) >= 10
    for entry in corpus().rulefiles.values():
        rules = load_rules(entry.path, corpus())
        assert rules.title == entry.title
        assert rules.plain or rules.endings


def test_options_stand_for_keys() -> None:
    from_options = rules_from_options(
        corpus(), changes="Dm7 | G7 | Cmaj7", start=("D4",), handoff="guide", endings=["plain"], key=None
    )
    from_file = read(entry={"start": ["D4"]}, handoff={"rule": "guide"}, ending={"use": ["plain"]})
    assert from_options == from_file
    with pytest.raises(InputError, match=r'"chnages".*Did you mean "changes"'):
        rules_from_options(corpus(), chnages="Dm7")


def test_every_option_is_a_key_and_no_name_stands_for_two() -> None:
    assert set(OPTIONS.values()) <= set(SCHEMA)
    own = ("endings.", "figures.", "roughness.")
    keys = [path for path in SCHEMA if not path.startswith(own)]
    assert len(OPTIONS) == len(keys) + len(("handoff", "endings"))


def test_schema_covers_every_section() -> None:
    assert {path.rpartition(".")[0] for path in SCHEMA} == set(SECTIONS) - {"scales", "limit"}
    assert all(key.help for key in SCHEMA.values())
    assert all(section.help for section in SECTIONS.values())


def test_every_default_in_the_schema_is_a_value_that_a_file_may_hold() -> None:
    tables: dict[str, Any] = {"changes": "Dm7 | G7 | Cmaj7"}
    for path, key in SCHEMA.items():
        section, _, name = path.rpartition(".")
        if key.default not in (None, "") and not SECTIONS[section].many:
            (tables.setdefault(section, {}) if section else tables)[name] = key.default
    assert parse_rules(tables, corpus()) == read()


def test_key_types_have_examples_of_their_own_shape() -> None:
    assert len({kind.words for kind in KeyType}) == len(KeyType)


# Rules in Python


def test_own_rules_are_refused_unless_allowed() -> None:
    with pytest.raises(InputError, match=r"own_rules.*only when allowed"):
        read(own_rules=["mine.py"])


def test_own_rules_are_handed_to_the_loader(tmp_path: Path) -> None:
    asked: list[tuple[list[str], Path]] = []

    def loader(names: Any, base: Path, context: Any) -> tuple[StepRule, ...]:
        asked.append((list(names), base))
        peak = bind({"kind": "single-peak"}, context.progression)
        return (StepRule("peak", "peak:0", "one peak", peak, context.progression),)

    data = {"changes": "Dm7 | G7 | Cmaj7", "own_rules": ["mine.py"]}
    rules = parse_rules(data, corpus(), base=tmp_path, own_rules=loader)
    assert asked == [(["mine.py"], tmp_path)]
    assert [limit.kind for limit in rules.limits] == ["peak"]
    assert fingerprint(rules) != fingerprint(read())


NAMES = sorted({*SECTIONS, *(key.name for key in SCHEMA.values()), "kind", "x"})
JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(NAMES), inner, max_size=4),
    max_leaves=8,
)


def ends_well(tables: Any) -> None:
    """Reading answers with rules, or with one clear error that names the file."""
    try:
        assert isinstance(parse_rules(tables, corpus(), name="junk.toml"), Rules)
    except InputError as error:
        assert str(error).startswith("junk.toml")


@given(JUNK)
def test_junk_ends_in_rules_or_in_one_clear_error(data: Any) -> None:
    ends_well({"changes": "Dm7 | G7", **data} if isinstance(data, dict) else data)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The path to every value of a file."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [
        *([path] if path else []),
        *(each for name, item in inner for each in places(item, (*path, name))),
    ]


@given(st.data())
def test_one_wrong_value_anywhere_ends_in_rules_or_in_one_clear_error(data: st.DataObject) -> None:
    tables = tomllib.loads(WHOLE)
    *path, last = data.draw(st.sampled_from(places(tables)))
    table: Any = tables
    for name in path:
        table = table[name]
    table[last] = data.draw(JUNK)
    ends_well(tables)


@given(st.text())
def test_any_text_ends_in_one_clear_error(text: str) -> None:
    ends_well(text)
