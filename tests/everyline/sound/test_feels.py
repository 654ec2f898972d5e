"""Feels: which goes with which meter, and the pulses that they count. All common practice."""

from __future__ import annotations

from itertools import pairwise

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.progression import Progression, parse_progression
from everyline.sound.feels import FEELS, feel_of, fitting
from everyline.sound.performance import perform
from everyline.sound.pulses import bar_ticks, pulses
from everyline.sound.sound_options import SoundOptions, ladder
from tests.everyline.sound.sounding import in_meter, two_five_one

METERS = [f"{beats}/{unit}" for unit in (2, 4, 8) for beats in range(1, 16)]


def form(meter: str, subdivision: int = 2) -> Progression:
    return parse_progression("Dm7 | G7 | Cmaj7 | %", meter, subdivision)


@pytest.mark.parametrize("meter", METERS)
def test_pulses_fill_the_bar_in_groups_of_two_and_three(meter: str) -> None:
    there = pulses(form(meter))
    assert there[0].start == 0 and there[-1].end == bar_ticks(form(meter))
    assert all(one.end == two.start for one, two in pairwise(there))
    assert {pulse.size for pulse in there} <= {1, 2, 3}
    assert there[0].place == 0
    assert there[-1].place == there[-1].size - 1
    assert all(pulse.start < pulse.upbeat < pulse.end for pulse in there)


@pytest.mark.parametrize(
    ("meter", "starts", "groups"),
    [
        ("4/4", [0, 1, 2, 3], [0, 2]),
        ("3/4", [0, 1, 2], [0]),
        ("5/4", [0, 1, 2, 3, 4], [0, 3]),
        ("7/4", [0, 1, 2, 3, 4, 5, 6], [0, 2, 4]),
        ("2/2", [0, 0.5, 1, 1.5], [0, 1]),
        ("6/8", [0, 3], [0]),
        ("9/8", [0, 3, 6], [0]),
        ("12/8", [0, 3, 6, 9], [0, 6]),
        ("7/8", [0, 2, 4], [0]),
        ("5/8", [0, 2], [0]),
    ],
)
def test_pulses_as_they_are_counted(meter: str, starts: list[float], groups: list[float]) -> None:
    there = pulses(form(meter))
    assert [pulse.start / 480 for pulse in there] == starts
    assert [pulse.start / 480 for pulse in there if pulse.place == 0] == groups


@pytest.mark.parametrize(
    ("meter", "tempo", "usual"),
    [
        ("4/4", 120, "swing"),
        ("4/4", 60, "ballad"),
        ("2/2", 120, "swing"),
        ("2/2", 35, "ballad"),
        ("5/4", 150, "swing"),
        ("3/4", 60, "waltz"),
        ("6/4", 160, "waltz"),
        ("6/8", 180, "eighths"),
        ("12/8", 180, "eighths"),
        ("7/8", 180, "eighths"),
    ],
)
def test_the_usual_feel_of_a_meter_and_a_tempo(meter: str, tempo: float, usual: str) -> None:
    assert feel_of(form(meter), tempo).name == usual


@pytest.mark.parametrize("meter", METERS)
def test_every_meter_has_its_feels_and_the_usual_one_is_among_them(meter: str) -> None:
    names = fitting(form(meter))
    assert "plain" in names and len(names) > 1
    assert {feel_of(form(meter), tempo).name for tempo in (30, 60, 120, 400)} <= set(names)
    for feel in FEELS.values():
        if feel.name not in names:
            with pytest.raises(InputError, match=f'feel "{feel.name}" does not go with {meter}; allowed'):
                feel_of(form(meter), 120, feel.name)


def test_a_ladder_keeps_the_feel_of_the_tempo_that_it_leads_to() -> None:
    performance = perform(two_five_one()[0], SoundOptions(tempi=ladder(50, 120, 3)))
    assert {each.feel.name for each in performance.passes} == {"swing"}


def test_a_bossa_is_even_unless_a_ratio_is_asked_for() -> None:
    line = two_five_one()[0]
    assert perform(line, SoundOptions(feel="bossa")).passes[0].map.ratio == 1
    assert perform(line, SoundOptions(feel="bossa", swing=1.5)).passes[0].map.ratio == 1.5
    assert perform(line, SoundOptions(feel="swing")).passes[0].map.ratio == 1.7


def test_a_feel_that_does_not_go_with_the_meter_is_refused() -> None:
    line = in_meter("3/4", "Em7 | A7 | Dmaj7 | %", 2)[0]
    with pytest.raises(InputError, match="allowed there are by-meter, swing, ballad, waltz, plain"):
        perform(line, SoundOptions(feel="bossa"))
