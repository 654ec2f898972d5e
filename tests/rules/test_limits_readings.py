"""Cases written by hand where the words of a limit could be read in two ways."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.limits import Context, bind_limit
from tests.rules import limit_cases as cases

II_V_I = "Dm7 | G7 | Cmaj7"

# (rule, line, whether the line meets it, what the case is about)
CASES: tuple[tuple[dict[str, Any], str, bool, str], ...] = (
    ({"kind": "largest-leap", "semitones": 12}, "D4 D5 D4", True, "an octave is 12 semitones"),
    ({"kind": "largest-leap", "semitones": 11}, "D4 r4 D5", False, "a rest between does not soften a leap"),
    ({"kind": "largest-leap", "semitones": 0}, "D4 D4 D4", True, "repeated notes are no leap"),
    ({"kind": "ambitus", "semitones": 7}, "A4 D4 E4 A4", True, "a fifth"),
    ({"kind": "ambitus", "semitones": 6}, "A4 F4 E4 D4", False, "a fifth, in steps"),
    ({"kind": "direction-changes", "most": 0}, "D4 D4 E4 E4 F4", True, "repeated notes do not turn"),
    (
        {"kind": "direction-changes", "least": 1, "most": 1},
        "D4 E4 E4 E4 D4",
        True,
        "up, same, down: one turn",
    ),
    ({"kind": "direction-changes", "least": 1}, "D4 E4 E4 F4", False, "up, same, up: no turn"),
    ({"kind": "direction-changes", "least": 2}, "D4 E4 D4 E4 D4", True, "more than the least is enough"),
    ({"kind": "direction-changes", "least": 4, "most": 4}, "D4 E4 D4 E4 D4", False, "three turns"),
    (
        {"kind": "outside-notes", "most": 0},
        "D4 F4 A4 C5 | A4 F4 D4 C4 | B3 D4",
        True,
        "each over its own chord",
    ),
    (
        {"kind": "outside-notes", "most": 0},
        "D4 F4 A4 C5 | A4 F4 D4 C4 | C4",
        False,
        "C over G7, though of Dm7",
    ),
    ({"kind": "outside-notes", "least": 2, "most": 2}, "D4 E4 G4 A4", True, "exactly two"),
    ({"kind": "strong-beats", "beats": ["2"]}, "D4:2 E4", True, "a long note sounds on beat 2"),
    ({"kind": "strong-beats", "beats": ["2"]}, "D4 E4:4. F4", False, "it began before the beat"),
    ({"kind": "strong-beats", "beats": ["2"]}, "D4 E4 r4 F4", True, "a rest on the beat"),
    ({"kind": "strong-beats", "beats": ["2"]}, "D4 E4 F4", True, "a note that ends on the beat"),
    ({"kind": "strong-beats", "beats": ["1"]}, "@4& C5:2 B4", False, "C, tied over, is no tone of G7"),
    ({"kind": "strong-beats", "beats": ["1"]}, "@4& D5:2 B4", True, "D, tied over, is the fifth of G7"),
    ({"kind": "strong-beats", "beats": ["4"]}, "@-3 E4 F4 E4", True, "beat 4& of the pickup is not beat 4"),
    ({"kind": "strong-beats", "beats": ["4"]}, "@-2 E4 D4 F4", False, "beat 4 of the pickup"),
    ({"kind": "strong-beats", "beats": ["2&"]}, "D4 E4 F4 G4", False, "an upbeat may be named"),
    ({"kind": "strong-beats", "beats": [1, 3]}, "D4 E4 F4 G4 A4", True, "a beat may be written as a number"),
    ({"kind": "avoid-degrees", "degrees": ["4"]}, "D4 F4 G4", False, "every chord when none is named"),
    (
        {"kind": "avoid-degrees", "degrees": ["4"], "chord": "G7"},
        "D4 F4 G4",
        True,
        "only over the chord named",
    ),
    ({"kind": "avoid-degrees", "degrees": ["#9"], "chord": "D-7"}, "D4 F4", False, "#9 and b3 are one tone"),
    (
        {"kind": "require-degrees", "degrees": ["b3", "3"]},
        "D4:1 | F4 G4 B4",
        False,
        "b3 is not heard over Dm7",
    ),
    ({"kind": "require-degrees", "degrees": ["5", "3"]}, "A4:1 | B4", True, "each over some chord"),
    (
        {"kind": "require-degrees", "degrees": ["3"], "chord": "G7"},
        "B4 r8 r2. B4",
        True,
        "over the chord named",
    ),
    (
        {"kind": "require-degrees", "degrees": ["3"], "chord": "G7"},
        "B4 D4 F4",
        False,
        "B over Dm7 is no third",
    ),
    ({"kind": "landing", "degrees": ["b3"]}, "F4 A4", True, "a chord without a note is satisfied"),
    ({"kind": "landing", "degrees": ["b3"]}, "F4:1 | B4", False, "each chord, where none is named"),
    (
        {"kind": "landing", "degrees": ["3"], "chord": "G7"},
        "D4:1 | r4 B4",
        True,
        "the first note after a rest",
    ),
    (
        {"kind": "landing", "degrees": ["3"], "chord": "G7"},
        "D4:1. B4",
        True,
        "a note held over begins before",
    ),
    (
        {"kind": "landing", "degrees": ["3"], "chord": "G7"},
        "D4:1 | D4 B4",
        False,
        "the second note is too late",
    ),
    (
        {"kind": "landing", "degrees": ["1"], "chord": "Dm7"},
        "@-1 D4 F4",
        True,
        "a pickup is of the first chord",
    ),
    ({"kind": "rhythm", "pattern": "8 8", "most": 0}, "@1& D4 E4", True, "only from a beat on"),
    ({"kind": "rhythm", "pattern": "8 8 8 8", "least": 2}, "D4 E4 F4 G4 A4 C5", True, "overlapping"),
    ({"kind": "rhythm", "pattern": "4", "most": 0}, "D4:4. E4:8", True, "another length"),
    ({"kind": "rhythm", "pattern": "4", "least": 2, "most": 2}, "D4:4 E4:4 F4", True, "two quarters"),
    ({"kind": "rhythm", "pattern": "r8 8", "least": 1}, "@1& D4", True, "silence before the first note"),
    ({"kind": "rhythm", "pattern": "r4 4", "least": 1}, "D4:4 E4", True, "from the beat before bar 1"),
    ({"kind": "rhythm", "pattern": "8 r8", "least": 1}, "D4", True, "silence after the last note"),
    ({"kind": "rhythm", "pattern": "4 r4", "most": 0}, "D4:4 r8 E4", True, "a silence that is too short"),
    ({"kind": "rhythm", "pattern": "r8 8", "most": 0}, "D4:4. E4", True, "a note held into the pattern"),
    ({"kind": "rhythm", "pattern": "8 8", "most": 0}, "D4 E4:4", True, "a note held out of the pattern"),
    ({"kind": "rhythm", "pattern": "8 8", "least": 1}, "@-2 D4 E4:8 F4:2", True, "in a pickup"),
    ({"kind": "rhythm", "pattern": "8t 8t 8t", "least": 1}, "D4:8t E4:8t F4:8t", True, "triplets"),
    ({"kind": "notes", "least": 2, "most": 2}, "D4 r4 E4", True, "a rest is not a note"),
    ({"kind": "notes", "least": 3}, "D4 E4", False, "too few"),
    ({"kind": "rests", "least": 1, "most": 1}, "D4 r8 r4 E4", True, "two rests are one silence"),
    ({"kind": "rests", "least": 1}, "@3 D4 E4", False, "no silence before the first note"),
    ({"kind": "rests", "most": 1}, "D4 r8 E4 r2 F4", False, "two silences"),
    ({"kind": "standing", "notes": 3, "semitones": 9}, "D4 E4", True, "fewer notes than that"),
    ({"kind": "standing", "notes": 3, "semitones": 3}, "D4 E4 F4", True, "a minor third"),
    ({"kind": "standing", "notes": 3, "semitones": 3}, "D4 E4 F4 E4", False, "the last three stand"),
    ({"kind": "standing", "notes": 2, "semitones": 1}, "D4 D4", False, "a repeated note"),
    ({"kind": "single-peak"}, "D4 A4 A4 D4", False, "a repeated highest note is heard twice"),
    ({"kind": "single-peak"}, "A4 A4 D4 B4", True, "a lower note may come back"),
    ({"kind": "no-return", "notes": 2}, "D4 E4 D4 E4", True, "two successive notes differ"),
    ({"kind": "no-return", "notes": 2}, "D4 D4", False, "a repeated note"),
    ({"kind": "no-return", "notes": 4}, "D4 E4 F4 D4", False, "the fourth note is within four"),
    ({"kind": "no-return", "notes": 3}, "D4 E4 F4 D4 E4 F4", True, "the fourth note is not within three"),
    ({"kind": "no-return", "notes": 4}, "D4 E4 F4 D5", True, "an octave away is another pitch"),
    ({"kind": "forbid-intervals", "intervals": [1, 1, 2]}, "C4 C#4 D4 D#4 F4", False, "overlapping starts"),
    ({"kind": "forbid-intervals", "intervals": [2]}, "D4 C4 B3", True, "down is not up"),
    (
        {"kind": "require-intervals", "intervals": [0]},
        "D4 E4 E4",
        True,
        "a repeated note is an interval of 0",
    ),
    ({"kind": "require-intervals", "intervals": [-1, -1]}, "D4 C#4 D4 C#4 C4", True, "at last"),
    (
        {"kind": "last-degree", "degrees": ["3"]},
        "D4 F4 E4",
        True,
        "over the last chord, wherever the line stops",
    ),
    ({"kind": "last-degree", "degrees": ["5"]}, "D4 F4 A4", False, "A is not the fifth of Cmaj7"),
    (
        {"kind": "playable", "fret": 0, "span": 4},
        "E2 G#2",
        False,
        "G#2 is fret 4; from fret 0 the hand covers 0 to 3",
    ),
    ({"kind": "playable", "fret": 0}, "E2 G2 A2", True, "open strings belong to the position at fret 0"),
    ({"kind": "playable", "span": 5, "fret": 0}, "E2 G#2", True, "0 to 4"),
    ({"kind": "playable", "strings": [6]}, "E2 A2", False, "frets 0 and 5 are a span of six"),
    ({"kind": "playable", "strings": [6, 5]}, "E2 A2", True, "the open A string"),
    ({"kind": "playable"}, "D2", False, "below the lowest string"),
    ({"kind": "playable", "strings": [1], "span": 12}, "E4 E5", False, "fret 0 to fret 12 are 13 frets"),
)


@pytest.mark.parametrize(("rule", "text", "meets", "about"), CASES, ids=[case[3] for case in CASES])
def test_reading(rule: dict[str, Any], text: str, meets: bool, about: str) -> None:
    changes = cases.progression(II_V_I)
    limit, notes = cases.bind(rule, changes), cases.line(text, changes)
    assert limit.holds(notes) is meets, about
    assert cases.accepts(limit, notes) is meets
    assert (limit.explain(notes) == ()) is meets


def test_breach_names_bar_beat_and_note() -> None:
    changes = cases.progression(II_V_I)
    line = cases.line("D4 F4 A4 C5 D5 C5 A4 F4 | G4 Ab4", changes)
    (breach,) = cases.bind({"kind": "avoid-degrees", "degrees": ["b9"], "chord": "G7"}, changes).explain(line)
    assert breach.index == 9
    assert "Ab4" in breach.message and "bar 2, beat 1&" in breach.message and "b9 of G7" in breach.message


def test_breach_in_a_pickup_is_in_bar_0() -> None:
    changes = cases.progression(II_V_I)
    limit = cases.bind({"kind": "largest-leap", "semitones": 3}, changes)
    (breach,) = limit.explain(cases.line("@-2 D4 A4 F4", changes)[:2])
    assert "D4 (bar 0, beat 4) to A4 (bar 0, beat 4&) is a leap of 7 semitones" in breach.message


def test_spelling_follows_the_chord() -> None:
    changes = cases.progression("Fm7 | Bb7 | Ebmaj7")
    (breach,) = cases.bind({"kind": "largest-leap", "semitones": 2}, changes).explain(
        cases.line("F4 Ab4", changes)
    )
    assert "Ab4" in breach.message


def test_a_settled_state_needs_no_memory() -> None:
    """Once nothing more can go wrong all lines share one state, which keeps the space of lines small."""
    changes = cases.progression(II_V_I)
    for rule, texts in (
        ({"kind": "direction-changes", "least": 1}, ("D4 E4 D4", "A4 G4 A4 C5")),
        ({"kind": "require-intervals", "intervals": [1]}, ("D4 Eb4", "A4 Bb4 D4")),
        ({"kind": "outside-notes", "least": 1}, ("E4", "E4 G4 E4")),
        ({"kind": "rests", "least": 1}, ("D4 r8 E4", "D4 r4 A4 C5")),
        ({"kind": "notes", "least": 2}, ("D4 E4", "D4 F4 A4 C5")),
        ({"kind": "rhythm", "pattern": "8 8", "least": 1}, ("D4 E4", "A4:4 C5 D5 E5")),
    ):
        limit = cases.bind(rule, changes)
        states = set()
        for text in texts:
            state = limit.start()
            for note in cases.line(text, changes):
                after = limit.step(state, note)
                assert after is not None
                state = after
            states.add(state)
        assert len(states) == 1, rule


# (rule, what the message must say)
FAULTS: tuple[tuple[dict[str, Any], tuple[str, ...]], ...] = (
    ({"kind": "largest-leep", "semitones": 3}, ("largest-leep", 'Did you mean "largest-leap"?')),
    ({"semitones": 3}, ("kind is missing", "largest-leap")),
    ({"kind": 3}, ("kind = 3", "largest-leap")),
    ({"kind": "largest-leap", "semitone": 3}, ('"semitone"', "semitones", 'Did you mean "semitones"?')),
    ({"kind": "largest-leap", "semitones": -1}, ("semitones = -1", "from 0 to 127")),
    ({"kind": "largest-leap", "semitones": "9"}, ('semitones = "9"', "without quotation marks")),
    ({"kind": "largest-leap", "semitones": 9.5}, ("semitones = 9.5", "whole number")),
    ({"kind": "no-return", "notes": 1}, ("notes = 1", "from 2 to 64")),
    ({"kind": "outside-notes", "least": 3, "most": 2}, ("least = 3", "above most = 2")),
    ({"kind": "direction-changes"}, ("least or most",)),
    ({"kind": "strong-beats", "beats": ["5"]}, ('beats = ["5"]', "1 1& 2 2& 3 3& 4 4&")),
    ({"kind": "strong-beats", "beats": "1"}, ('beats = "1"', "square brackets")),
    ({"kind": "avoid-degrees", "degrees": ["b4"]}, ('degrees = ["b4"]', "b3")),
    ({"kind": "avoid-degrees", "degrees": [4]}, ("degrees = [4]", "quotation marks")),
    ({"kind": "avoid-degrees", "degrees": ["4"], "chord": "Em7"}, ('chord = "Em7"', "Dm7, G7 and Cmaj7")),
    ({"kind": "avoid-degrees", "degrees": ["4"], "chord": "Hm7"}, ('"Hm7"', "A to G")),
    ({"kind": "forbid-intervals", "intervals": []}, ("intervals = []", "empty")),
    ({"kind": "forbid-intervals", "intervals": [200]}, ("intervals = [200]", "from -127 to 127")),
    ({"kind": "rhythm", "pattern": "8 8"}, ("least or most",)),
    ({"kind": "rhythm", "pattern": "8 | 8", "most": 1}, ('pattern = "8 | 8"', "leave the | out")),
    ({"kind": "rhythm", "pattern": "r4", "most": 1}, ('pattern = "r4"', "only rests")),
    ({"kind": "rhythm", "pattern": "8 9", "most": 1}, ('"9" is not a rhythm value',)),
    ({"kind": "rhythm", "pattern": "4", "least": 2, "most": 1}, ("least = 2", "swap")),
    ({"kind": "standing", "notes": 1, "semitones": 3}, ("notes = 1", "from 2")),
    ({"kind": "landing", "degrees": ["3"], "chord": "Em7"}, ("Em7", "Dm7, G7 and Cmaj7")),
    ({"kind": "playable", "strings": [7]}, ("strings = [7]", "1 (the highest) to 6")),
    ({"kind": "playable", "fret": 40}, ("fret = 40", "frets")),
    ({"kind": "playable", "span": 0}, ("span = 0", "from 1 to 12")),
    ({"kind": "must-target", "degree": "5", "beat": "5"}, ('beat = "5"',)),
    ({"kind": "must-target", "degree": 5}, ("degree = 5", "quotation marks")),
)


@pytest.mark.parametrize(("rule", "says"), FAULTS, ids=[str(fault[0]) for fault in FAULTS])
def test_fault_is_explained(rule: dict[str, Any], says: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as caught:
        bind_limit(rule, Context(cases.progression(II_V_I), cases.corpus()))
    for words in says:
        assert words in str(caught.value)


def test_chord_may_be_a_roman_numeral_where_there_is_a_key() -> None:
    from everyline.rules.progression import parse_progression

    changes = parse_progression("ii7 | V7 | Imaj7", key="Eb")
    rule = {"kind": "avoid-degrees", "degrees": ["4"], "chord": "V7"}
    assert not cases.bind(rule, changes).holds(cases.line("F4:1 | Eb4", changes))
    with pytest.raises(InputError, match="Fm7, Bb7 and Ebmaj7"):
        cases.bind({**rule, "chord": "vi7"}, changes)
