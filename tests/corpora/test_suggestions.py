"""What a sentence suggests for a slip: something that is allowed there and was not typed, nothing silly."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.cli.main import COMMANDS
from everyline.corpora import load
from everyline.corpora.errors import MOST_NEAR, did_you_mean, nearest
from everyline.rules.limits import LIMITS
from everyline.rules.rulefile import OPTIONS
from everyline.rules.scales import ALIASES, SCALES

CORPUS = load()
PLACES = {
    "commands": tuple(COMMANDS),
    "limits": tuple(LIMITS),
    "options": tuple(OPTIONS),
    "scales": (*SCALES, *ALIASES),
    "figures": (*CORPUS.figures, *CORPUS.families),
    "endings": ("plain", *CORPUS.endings),
    "instruments": tuple(CORPUS.instruments),
    "rule files": tuple(CORPUS.rulefiles),
}
SLIPS = [
    ("commands", "cuont", ["count"]),
    ("commands", "LIST", ["list"]),
    ("commands", "help", []),
    ("limits", "lagest-leap", ["largest-leap"]),
    ("limits", "avoid_degrees", ["avoid-degrees"]),
    ("limits", "leap largest", ["largest-leap"]),
    ("limits", "peak", ["single-peak"]),
    ("limits", "zzz", []),
    ("figures", "enclosure-5", ["enclosure-2", "enclosure-3", "enclosure-4"]),
    ("figures", "above-blow", ["above-below"]),
    ("figures", "aboveBelow", ["above-below"]),
    ("endings", "plian", ["plain"]),
    ("endings", "rise", []),
    ("instruments", "guitr", ["guitar"]),
    ("instruments", "tenor saxophone", ["tenor-saxophone"]),
    ("instruments", "bass", ["bass-guitar", "bass-voice"]),
    ("scales", "mixo", ["mixolydian"]),
    ("scales", "minor melodic", ["melodic minor"]),
    ("scales", "dorain", ["dorian"]),
    ("options", "strat", ["start"]),
    ("options", "subdivison", ["subdivision"]),
]


@pytest.mark.parametrize(("place", "typed", "meant"), SLIPS)
def test_what_a_slip_stands_for(place: str, typed: str, meant: list[str]) -> None:
    assert nearest(typed, PLACES[place]) == meant


def test_letters_in_another_order_go_first_and_ties_are_all_named() -> None:
    assert did_you_mean("sgv", ("csv", "svg")) == ' Did you mean "svg"?'
    assert did_you_mean("d", ("+d", "-d", "+1")) == ' Did you mean "+d" or "-d"?'


@pytest.mark.parametrize("place", PLACES)
def test_nothing_is_suggested_for_what_is_right(place: str) -> None:
    assert not [name for name in PLACES[place] if did_you_mean(name, PLACES[place])]


@pytest.mark.parametrize("place", PLACES)
@given(data=st.data())
def test_only_what_is_allowed_and_not_what_was_typed(place: str, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(PLACES[place]))
    at = data.draw(st.integers(0, len(name)))
    typed = name[:at] + data.draw(st.text(max_size=2)) + name[data.draw(st.integers(at, len(name))) :]
    found = nearest(typed, PLACES[place])
    assert len(found) <= MOST_NEAR
    assert set(found) <= set(PLACES[place])
    said = did_you_mean(typed, PLACES[place])
    assert f'"{typed}"' not in said or typed not in PLACES[place]
    assert bool(said) == (bool(found) and typed not in found)
