"""Breaches: none exactly where a line holds, and every reason with its place and its cure."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline import Space, lines
from everyline.rules.analysis import UNEXPLAINED, holds
from everyline.rules.breaches import breaches, judge
from everyline.rules.line import Event, Events
from everyline.rules.line_text import parse_line

SPACES = {
    "defaults": lambda: lines("Dm7 | G7 | Cmaj7"),
    "strict": lambda: lines(
        "Dm7 | G7 | Cmaj7",
        endings=["plain"],
        count=["1", "0-1"],
        targets=["5"],
        reach=4,
        limit=[{"kind": "must-target", "degree": "5"}, {"kind": "largest-leap", "semitones": 7}],
    ),
    "two figures": lambda: lines("Dm7 | G7 | Cmaj7", count=["0-2"], after=3, pickup=[1, 3], turns=1),
    "own endings only": lambda: lines("Gm7 C7 | F6", endings=["leading-note-home"], degrees=["1", "b3"]),
    "one way": lambda: lines("Dm7 | G7 | Cmaj7", direction="up", handoff="guide", count=["0"]),
    "triplets": lambda: lines("Dm7 G7 | Cmaj7", subdivision=3, endings=["plain"]),
    "sixteenths": lambda: lines("Dm7 G7 | Cmaj7", subdivision=4, handoff="any"),
    "vamp": lambda: lines("Gm7 | % | %", figures=["chromatic-below"], count=["0-4"]),
    "waltz": lambda: lines("Bm7b5 | E7b9 | Am6", meter="3/4", figures=["enclosure-3"], handoff="step"),
}


@cache
def space(name: str) -> Space:
    made = SPACES[name]()
    assert made.count > 0
    return made


@st.composite
def spoilt(draw: st.DrawFn) -> tuple[str, Events]:
    """A valid line with some notes moved, dropped, doubled, delayed, shortened or added."""
    name = draw(st.sampled_from(list(SPACES)))
    made = space(name)
    events = list(made.diagram.line(draw(st.integers(1, made.count))))
    for _ in range(draw(st.integers(0, 4))):
        place = draw(st.integers(0, len(events) - 1))
        event = events[place]
        kind = draw(st.sampled_from(["pitch", "pitch", "pitch", "drop", "late", "length", "stop", "more"]))
        if kind == "pitch":
            events[place] = event._replace(pitch=max(0, event.pitch + draw(st.integers(-13, 13))))
        elif kind == "drop" and len(events) > 1:
            del events[place]
        elif kind == "late":
            by = draw(st.sampled_from([-240, 120, 160, 240, 480]))
            events[place:] = [each._replace(onset=each.onset + by) for each in events[place:]]
        elif kind == "length":
            events[place] = event._replace(length=draw(st.sampled_from([120, 240, 480, 720])))
        elif kind == "stop":
            del events[place + 1 :]
        elif kind == "more":
            last = events[-1]
            events.append(
                Event(last.end, last.pitch + draw(st.integers(-3, 3)), draw(st.sampled_from([240, 480])))
            )
    return name, tuple(events)


@st.composite
def arbitrary(draw: st.DrawFn) -> tuple[str, Events]:
    """Notes at random."""
    name = draw(st.sampled_from(list(SPACES)))
    onset = draw(st.sampled_from([-240, 0, 0, 240]))
    events = []
    for pitch in draw(st.lists(st.integers(45, 80), min_size=1, max_size=20)):
        length = draw(st.sampled_from([240, 240, 240, 160, 120, 480]))
        events.append(Event(onset, pitch, length))
        onset += length
    return name, tuple(events)


@settings(max_examples=300)
@given(st.one_of(spoilt(), arbitrary()))
def test_no_breach_exactly_where_the_line_holds(case: tuple[str, Events]) -> None:
    name, events = case
    rules = space(name).rules
    verdict = judge(rules, events)
    assert verdict.valid == holds(rules, events)
    assert not any(breach.rule == "anatomy" for breach in verdict.breaches), "a breach without a reason"
    for breach in verdict.breaches:
        assert breach.index is None or 0 <= breach.index < len(events)
        assert breach.message.endswith(".") and "None" not in breach.message
    if verdict.reading is not None:
        assert len(verdict.reading.roles) == len(events)
        assert 0 <= verdict.explained <= len(events)


CHANGES = "Dm7 | G7 | Cmaj7"
PLAIN = {"endings": ["plain"]}
# A valid line to start from: an enclosure of the 5 on beat 3, a run down, a handoff to B, a run up, an
# enclosure of the 3 on beat 4, and the plain ending.
VALID = "D4 F4 Bb4 G#4 A4 F4 D4 C4 B3 D4 F4 G4 C5 A#4 B4 G4 E4:4"
HOME = {"endings": ["leading-note-home"]}
LEADING = "D4 F4 Bb4 G#4 A4 F4 D4 C4 B3 D4 F4 G4 C5 A#4 B4 "
FOUR = {"endings": ["plain", "dominant-arpeggio-up-to-five"]}


def target(degree: str) -> dict[str, object]:
    return {"limit": [{"kind": "must-target", "degree": degree}]}


def leap(semitones: int) -> dict[str, object]:
    return {"limit": [{"kind": "largest-leap", "semitones": semitones}]}


CASES = [
    # options, line, rule, place of the note (from 0), words in the sentence
    ({}, "", "entry", None, "no notes"),
    ({}, "E4 F4 A4 C5", "entry", 0, "is not a chord tone of Dm7 (D F A C)"),
    ({"start": ["F4"]}, "D4 F4 A4 C5", "entry", 0, "may not start on D4 (bar 1, beat 1)"),
    ({"beats": ["2"]}, "@1 D4 F4 A4", "entry", 0, "it has to start on bar 1, beat 2"),
    ({}, "D4 A4 C5 D5 F5 D5 C5 A4", "arpeggio", 1,
     "skips a rung: up from D4 (bar 1, beat 1) the next chord tone of Dm7 is F4"),
    ({}, "D4 F4 F4 A4", "arpeggio", 2, "repeats the note before it; the arpeggio would go on to A4 or D4"),
    ({"turns": 0}, "D4 F4 D4 C4", "arpeggio", 2,
     "the run turns down at D4 (bar 1, beat 2); a run goes one way"),
    ({"turns": 1}, "D4 F4 D4 F4 A4 C5 D5 F5", "arpeggio", 3, "a run may turn 1 time"),
    ({"direction": "up"}, "A4 F4 D4", "arpeggio", 1, "runs go up only"),
    ({}, "D4 F4 G4 C5 D5 F5", "arpeggio", 2, "from F4 (bar 1, beat 1&) the arpeggio would go to A4 or D4"),
    ({}, "D4 F4 Bb4 C5 D5 F5", "arpeggio", 2,
     "does not start any approach figure in use (one on it would go on"),
    ({"count": ["0"]}, "D4 F4 G4 C5", "arpeggio", 2, "no approach figure may begin over Dm7"),
    ({}, "D4 Bb4 G#4 A4 C5 D5 F5 A5", "parity", 3,
     "starts on 1& at Bb4 (bar 1, beat 1&) and has 2 notes, so it lands on 2&, off the beat"),
    ({}, "D4 Bb4 G#4 A4 C5 D5 F5 A5", "parity", 3,
     "an odd number of notes, or a start on the beat, would land it"),
    ({"figures": ["chromatic-below"]}, "D4 F4 G#4 A4 C5 D5", "parity", 3,
     "an even number of notes, or a start on an upbeat, would land it"),
    ({"subdivision": 3}, "D4 Bb4 G#4 A4 C5 D5 F5", "parity", 3, "a figure of 2 or 5 notes from there"),
    ({"targets": ["1"]}, VALID, "targets", 4,
     "lands on A4 (bar 1, beat 3), the 5 of Dm7; figures land on 1"),
    ({"reach": 4}, VALID, "reach", 2, "5 semitones from the note before it; the reach allowed is 4"),
    ({"after": 3, "count": ["2"]}, "Bb4 G#4 A4 C5 E5 C#5 D5 F5", "after", 4,
     "after 2 chord tones since the last figure"),
    ({}, "Bb4 G#4 A4 C5 E5 C#5 D5 F5", "count", 4, "Dm7 takes at most 1 approach figure"),
    ({"count": ["2"]}, VALID, "count", 8, "Dm7 has 1 approach figure; the rules ask for exactly 2"),
    ({}, VALID.replace("C4 B3 D4", "C4 F4 G4"), "handoff", 8,
     "from C4 the new chord G7 is entered on the nearest other chord tone, B3"),
    ({"handoff": "step"}, VALID.replace("C4 B3 D4", "C4 F4 G4"), "handoff", 8, "a chord tone a step away"),
    ({}, VALID.replace("C4 B3 D4", "C4 E4 D4"), "handoff", 8, "E4 (bar 2, beat 1) is not a chord tone of G7"),
    (PLAIN, VALID.replace("E4:4", "E4:2"), "ending", 16, "lasts 2 beats; without a stock ending it lasts 1"),
    (PLAIN, VALID + " G4:2 C4", "resolution", 17, "2 notes follow the resolution on bar 3, beat 1"),
    (PLAIN, "D4 F4 A4 C5", "resolution", 3, "it has to go on to its resolution on bar 3, beat 1"),
    (HOME, VALID, "ending", 16, "these rules ask for one: leading-note-home"),
    (HOME, LEADING + "B3 C4:4.", "lead-in", 15,
     "12 semitones from the note before it; the lead-in allowed is 4"),
    (HOME, VALID.replace("C5 A#4 B4 G4 E4:4", "C5 C#5 D5 B4 C5:4"), "ending", 16,
     "it lasts 1.5"),
    ({"endings": ["four-three-and-home"]}, VALID.replace("A#4 B4 G4 E4:4", "B4 C5 B4 D5:4."), "ending", 16,
     "is not the note of the ending four-three-and-home, which has C5 there"),
    (PLAIN, VALID.replace("G4 C5 A#4 B4 G4", "G4:8t C5:8t A#4:8t B4:4 G4"), "ending", 11,
     "no ending in use has the notes from G4"),
    (FOUR, "D4 F4 Bb4 G#4 A4 F4 D4 C4 B3 G3 B3 D4 F4 G4:4.", "ending", 9,
     "not in its place and rhythm: it starts on bar 2, beat 3"),
    ({}, VALID.replace("A4 F4 D4", "A4 r8 D4"), "rhythm", 5, "nothing begins on bar 1, beat 3&"),
    ({}, "D4:4 F4 A4 C5", "rhythm", 0, "lasts 1 beat; up to its ending every note of a line lasts one slot"),
    ({}, "D4:16 F4:16 A4 C5", "rhythm", 1, "begins between two slots"),
    ({"lowest": "E3", "highest": "Bb4"}, VALID, "range", 12,
     "C5 (bar 2, beat 3) is out of range; the range is E3 to Bb4"),
    (target("1"), VALID, "must-target", None, "no approach figure lands on the 1"),
    (leap(4), VALID, "largest-leap", 2, "is a leap of 5 semitones"),
]  # fmt: skip


def test_the_line_that_the_cases_spoil_is_valid() -> None:
    made = lines(CHANGES, **PLAIN)
    (events,) = parse_line(VALID, made.rules)
    assert breaches(made.rules, events) == ()
    assert made.number(events) is not None


@pytest.mark.parametrize(("options", "text", "rule", "place", "words"), CASES)
def test_each_reason_is_given_with_its_place(
    options: dict[str, object], text: str, rule: str, place: int | None, words: str
) -> None:
    rules = lines(CHANGES, **options).rules
    events = parse_line(text, rules)[0] if text else ()
    found = breaches(rules, events)
    fitting = [breach for breach in found if breach.rule == rule and breach.index == place]
    said = [f"{breach.rule} {breach.index}: {breach.message}" for breach in found]
    assert any(words in breach.message for breach in fitting), said


def test_overlapping_notes_are_named() -> None:
    rules = lines(CHANGES).rules
    events = (Event(0, 62, 480), Event(240, 65, 240), Event(480, 69, 240))
    messages = [breach.message for breach in breaches(rules, events)]
    assert any("begins before the note before it has ended" in message for message in messages)


def test_a_single_slip_is_a_single_breach_and_the_rest_is_still_read() -> None:
    """One wrong enclosure note must not spoil the reading of what follows."""
    rules = lines(CHANGES, **PLAIN).rules
    (events,) = parse_line(VALID.replace("A4 F4 D4 C4", "A4 F4 Eb4 C4"), rules)
    verdict = judge(rules, events)
    assert [breach.index for breach in verdict.breaches] == [6]
    assert verdict.explained == 6
    assert verdict.reading is not None
    assert verdict.reading.ending == "plain"
    assert [place for place, role in enumerate(verdict.reading.roles) if role == UNEXPLAINED] == [6]
    assert [(figure.first, figure.target) for figure in verdict.reading.figures] == [(2, 4), (12, 14)]


def test_a_broken_limit_leaves_the_analysis_standing() -> None:
    rules = lines(CHANGES, **PLAIN, limit=[{"kind": "largest-leap", "semitones": 4}]).rules
    (events,) = parse_line(VALID, rules)
    verdict = judge(rules, events)
    assert not verdict.valid
    assert verdict.analysis is not None
    assert verdict.reading is None
