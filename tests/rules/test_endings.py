"""Endings on changes: where they start, what they end on, which thirds they suit."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.corpora import make_ending
from everyline.corpora.errors import InputError
from everyline.rules.chords import parse_chord
from everyline.rules.ending_facts import ending_level, rests_on
from everyline.rules.endings import EndingDoesNotFit, colour_tones, place, suits_third, thirds
from everyline.rules.progression import parse_progression
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from tests.rules.limit_cases import corpus

MAJOR, MINOR = parse_progression("Dm7 | G7 | Cmaj7"), parse_progression("Dm7b5 | G7 | Cm7")


def read(**keys: Any) -> Rules:
    return parse_rules({"changes": "Dm7 | G7 | Cmaj7", **keys}, corpus())


def test_a_held_note_is_one_longer_note() -> None:
    placed = place(make_ending("held", "b9 7 13 | -", "8 8 8 | 2"), MAJOR)
    events = placed.after(67)
    assert [tuple(event) for event in events] == [(3120, 68, 240), (3360, 66, 240), (3600, 64, 240 + 960)]


def test_a_held_last_note_must_be_a_chord_tone_of_the_last_chord() -> None:
    # 13 of G7 is E, the third of Cmaj7; 9 of G7 is A, no chord tone.
    assert place(make_ending("x", "b9 13 | -"), MAJOR)
    with pytest.raises(
        EndingDoesNotFit, match="ends on 9 of G7, which is not one of the chord tones of Cmaj7"
    ):
        place(make_ending("x", "b9 9 | -"), MAJOR)
    with pytest.raises(EndingDoesNotFit, match="13 of G7"):
        place(make_ending("x", "b9 13 | -"), MINOR)


def test_octave_marks_on_the_first_degree_mean_nothing() -> None:
    marked, plain = (place(make_ending("x", f"{first} 1' | 5"), MAJOR) for first in ("b9''", "b9"))
    assert marked == plain
    assert [event.pitch for event in marked.after(67)] == [68, 67 + 12, 79]


# (notes, rhythm): the last chords that it suits. G7 leads to C, whose minor third is Eb and major third E.
THIRDS: dict[tuple[str, str | None], str] = {
    ("b9 1 b7 | 5", None): "both",
    ("b9 1 b7 | 3", None): "major",
    ("b9 1 b7 | b3", None): "minor",
    ("13 1 b7 | 5", None): "major",  # E over G7 already tells the major third
    ("#5 b9 1 b7 | 5", None): "both",  # Eb over G7 is no note from the resolution on
    ("b9 | b3 3", "8 | 8 4"): "neither",
    ("b9 | 5 b3 3", "8 | 8 8 4"): "major",  # Eb off the beat leads to E
    ("b9 | 5 b3 1", "8 | 8 8 4"): "both",
    ("b9 | 5 b3 1", "8 | 8 4. 4"): "minor",  # held over the next beat
    ("b9 #5 | - 5", "8 8 | 8 4"): "minor",  # Eb held over the resolution
    ("b9 #5 | -", "8 8 | 4"): "minor",
    ("b9 1 | -", "8 8 | 4"): "both",
    ("b9 5 | -", "8 8 | 4"): "neither",  # the nine is no chord tone
}


@pytest.mark.parametrize(("written", "suits"), THIRDS.items())
def test_thirds_follow_from_the_notes(written: tuple[str, str | None], suits: str) -> None:
    """Common practice: the third decides major and minor, and must not be contradicted where it counts."""
    ending = make_ending("x", *written)
    assert thirds(ending) == suits
    for changes, third in ((MAJOR, "major"), (MINOR, "minor")):
        try:
            fits = suits_third(place(ending, changes), changes)
        except EndingDoesNotFit:
            fits = False
        if ending.resolves_to in ("5", "1") and not ending.held:
            assert fits == (suits in (third, "both"))


@pytest.mark.parametrize(("last", "notes"), [("C7sus4", "13 b9 | b3 1"), ("C7#9", "b9 | b3 1")])
def test_a_chord_without_a_third_or_with_both_suits_any(last: str, notes: str) -> None:
    changes = parse_progression(f"Dm7 | G7 | {last}")
    assert suits_third(place(make_ending("x", notes), changes), changes)
    assert not suits_third(place(make_ending("x", "b9 | b3 1"), MAJOR), MAJOR)


def test_only_what_the_file_does_not_name_is_sorted_out() -> None:
    mine = {"name": "mine", "notes": "b9 1 | b3 1"}
    assert "mine" in {ending.name for ending in read(endings=[mine]).endings}
    assert [ending.name for ending in read(endings=[mine], ending={"use": ["mine"]}).endings] == ["mine"]
    for changes in ("Dm7 | G7 | Cmaj7", "Dm7b5 | G7 | Cm7"):
        rules = read(changes=changes)
        offered = {ending.name for ending in rules.endings}
        assert offered
        for name, ending in corpus().endings.items():
            try:
                fits = suits_third(place(ending, rules.progression), rules.progression)
            except EndingDoesNotFit:
                fits = False
            assert (name in offered) == (fits and not ending.colour)
        named = next(name for name in corpus().endings if name in offered)
        assert [each.name for each in read(changes=changes, ending={"use": [named]}).endings] == [named]


def test_with_cells_an_ending_starts_where_a_cell_is_cut() -> None:
    late = {"name": "late", "notes": "b9 1 | 5", "rhythm": "16 8 | 4"}
    keys: dict[str, Any] = {"endings": [late], "ending": {"use": ["late"]}}
    for cell in ("16 16 8", "16 r8.", "4 r16 8.", "16 8. 2"):
        (ending,) = read(rhythm={"cells": ["8 8", cell]}, **keys).endings
        assert ending.start == 2 * 1920 - 360
    for cells in (["8 16 16"], ["8t 8t 8t"], ["8 8", "4"]):
        assert not compile_rules(read(rhythm={"cells": cells}, **keys)).count


def test_an_ending_may_start_on_a_place_finer_than_any_subdivision() -> None:
    fine = {"name": "fine", "notes": "b9 1 | 5", "rhythm": "32 8 | 4"}
    keys: dict[str, Any] = {"endings": [fine], "ending": {"use": ["fine"]}}
    (ending,) = read(rhythm={"cells": ["4", "16 32 32 8"]}, **keys).endings
    assert ending.start == 2 * 1920 - 300


def test_a_colour_ending_rests_on_a_tone_of_the_scale_that_does_not_rub() -> None:
    nine = make_ending("x", "b7 13 | 9", colour=True)
    assert place(nine, MAJOR).notes[-1].degree == "9"
    assert thirds(nine) == "major"
    with pytest.raises(EndingDoesNotFit, match="as a colour tone it needs colour = true"):
        place(make_ending("x", "b7 13 | 9"), MAJOR)
    # Common practice: the fourth rubs against a major third and not against a minor one.
    eleven = make_ending("x", "1 b13 | 11", colour=True)
    assert place(eleven, MINOR) and thirds(eleven) == "minor"
    with pytest.raises(
        EndingDoesNotFit, match=r"neither a chord tone of Cmaj7 \(.*\) nor a colour tone \(9, 13\)"
    ):
        place(eleven, MAJOR)
    # A chord tone will do as well.
    assert place(make_ending("x", "9 b7 | 3", colour=True), MAJOR)


@pytest.mark.parametrize(
    ("chord", "colours"),
    [
        ("Cmaj7", {2, 9}),
        ("C6", {2, 11}),
        ("C7", {2, 9}),
        ("Cm7", {2, 5, 9}),
        ("Cm6", {2, 5, 11}),
        ("Cm7b5", {5, 8}),
        ("C7sus4", {2, 4, 9}),
    ],
)
def test_colour_tones(chord: str, colours: set[int]) -> None:
    # Common practice: a scale tone a semitone above a chord tone is an avoid note, the others are tensions.
    assert colour_tones(parse_chord(chord)) == colours


def test_colour_tones_follow_the_scale_that_the_file_names() -> None:
    lydian = {"endings": [{"name": "x", "notes": "9 1 | #11", "colour": True}], "ending": {"use": ["x"]}}
    assert read(**lydian, scales={"Cmaj7": "lydian"}).endings
    with pytest.raises(InputError, match="nor a colour tone"):
        read(**lydian)


def test_colour_endings_are_used_only_where_they_are_named() -> None:
    names = {ending.name for ending in corpus().endings.values() if ending.colour}
    assert names and not names & {ending.name for ending in read().endings}
    assert [ending.name for ending in read(ending={"use": ["scale-down-to-nine"]}).endings] == [
        "scale-down-to-nine"
    ]


# (notes, rhythm, colour): the level, and what it rests on.
FACTS: dict[tuple[str, str | None, bool], tuple[int, str]] = {
    ("b7 | 3", None, False): (1, "3"),
    ("b9 | 5", None, False): (2, "5"),
    ("b9 1 b7 | 3", None, False): (3, "3"),
    ("1 1' b7 5 | 3", None, False): (3, "3"),
    ("b7 13 | -", "8 8 | 4.", False): (2, "3, held over the bar line"),
    ("b7 13 | 9", None, True): (2, "9"),
    ("b7 13 5 | 9", "8t 8t 8t | 4", True): (4, "9"),
    ("#9 b9 1 b7 #5 b5 | 1", None, False): (5, "1"),
}


@pytest.mark.parametrize(("written", "facts"), FACTS.items())
def test_facts(written: tuple[str, str | None, bool], facts: tuple[int, str]) -> None:
    notes, rhythm, colour = written
    ending = make_ending("x", notes, rhythm, colour=colour)
    assert (ending_level(ending), rests_on(ending)) == facts
