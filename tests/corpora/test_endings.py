"""Stock endings: what is written, what follows from it, what is refused."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora import (
    DEFAULT_OVER,
    DEGREE_NAMES,
    EndingEvent,
    EndingNote,
    InputError,
    format_value,
    make_ending,
    parse_notes,
)
from everyline.corpora.note_lengths import NOTE_VALUES


def test_degrees_and_octave_marks() -> None:
    before, after = parse_notes("#5 b9' 1 b7,, | 5")
    assert before == (EndingNote("#5"), EndingNote("b9", 1), EndingNote("1"), EndingNote("b7", -2))
    assert after == (EndingNote("5"),)
    assert [str(note) for note in before] == ["#5", "b9'", "1", "b7,,"]


def test_unicode_accidentals_and_later_bar_lines() -> None:
    assert parse_notes("♯5 ♭9’|5|3") == parse_notes("#5 b9' | 5 3")


def test_a_rhythm_left_out_is_eighths() -> None:
    ending = make_ending("any", "b9 1 b7 | 3 1")
    assert ending.rhythm is None
    assert ending.rhythm_text == "8 8 8 | 8 8"
    assert ending.over == DEFAULT_OVER
    assert ending.events == (
        EndingEvent(-720, 240, "b9", 0, False),
        EndingEvent(-480, 240, "1", 0, False),
        EndingEvent(-240, 240, "b7", 0, False),
        EndingEvent(0, 240, "3", 0, True),
        EndingEvent(240, 240, "1", 0, True),
    )


def test_rests_take_time_and_no_note() -> None:
    ending = make_ending("any", "13 5 b9 | 5,", "8 8 r8 8 | r4 4.")
    assert [(event.offset, event.length) for event in ending.events] == [
        (-960, 240),
        (-720, 240),
        (-240, 240),
        (480, 720),
    ]
    assert ending.events[-1] == EndingEvent(480, 720, "5", -1, True)
    assert ending.lands_on is None
    assert ending.resolves_to == "5"


# (notes, rhythm): first degree, beat in 4/4, bars before the last chord's, ticks before it, whole length,
# last degree.
FACTS = {
    ("b9 | 5", "8 | 4."): ("b9", "4&", 1, 240, 960, "5"),
    ("#9 b9 1 3, | 3 5", "8t 8t 8t 4 | 4 4"): ("#9", "3", 1, 960, 1920, "5"),
    ("3 | 1", "8t | 4"): ("3", "4let", 1, 160, 640, "1"),
    ("9 b9 | 5", "8t 8t | 4"): ("9", "4trip", 1, 320, 800, "5"),
    ("5 11 3 | 1", "16 16 16 | 4"): ("5", "4e", 1, 360, 840, "1"),
    ("3 | 1", "16 | 4"): ("3", "4a", 1, 120, 600, "1"),
    ("1 3 5 1 | 3", "2 2 2 4 | 4"): ("1", "2", 2, 3360, 3840, "3"),
    ("1 3 | 1", "1 8 | r2 1"): ("1", "4&", 2, 2160, 5040, "1"),
    ("1 | 1", "1 | 1"): ("1", "1", 1, 1920, 3840, "1"),
    ("1 | 1", "32 | 4"): ("1", "4+7/8", 1, 60, 540, "1"),
}


@pytest.mark.parametrize(("written", "facts"), FACTS.items())
def test_facts_follow_from_what_is_written(written: tuple[str, str], facts: tuple[object, ...]) -> None:
    ending = make_ending("any", *written)
    assert facts == (
        ending.start_degree,
        ending.start_beat,
        ending.start_bar,
        ending.start_offset,
        ending.length,
        ending.resolves_to,
    )


def test_a_note_may_be_held_over_the_bar_line() -> None:
    ending = make_ending("any", "b9 7 13 | -")
    assert ending.events == (
        EndingEvent(-720, 240, "b9", 0, False),
        EndingEvent(-480, 240, "7", 0, False),
        EndingEvent(-240, 480, "13", 0, False),
    )
    assert (ending.held, ending.lands_on, ending.resolves_to) == (True, None, "13")
    assert (ending.start_offset, ending.length, ending.rhythm_text) == (720, 960, "8 8 8 | 8")


def test_after_a_held_note_the_ending_goes_on() -> None:
    ending = make_ending("any", "5 b9 | - 3, 1", "4 8 | 4. 8 4")
    assert [(event.offset, event.length, event.degree) for event in ending.events] == [
        (-720, 480, "5"),
        (-240, 240 + 720, "b9"),
        (720, 240, "3"),
        (960, 480, "1"),
    ]
    assert [event.after for event in ending.events] == [False, False, True, True]


REFUSED = {
    ("plain", "b9 | 5", None): "pick another name",
    ("  ", "b9 | 5", None): "needs a name",
    ("x", "b9 5", None): r"there is no \| in it",
    ("x", "| 5", None): r"no note before the \|",
    ("x", "b9 |", None): r"no note after the \|",
    ("x", "b9 h | 5", None): '"h" is not a degree',
    ("x", "b10 | 5", None): '"b10" is not a degree: write one of 1 b2 b9',
    ("x", "9b | 5", None): "Did you mean",
    ("x", "b9 | 5", "8 4"): r"there is no \| in it",
    ("x", "b9 | 5", "8 8 | 4"): r"before the \| it has 2 note values .* for 1 note",
    ("x", "b9 | 5", "8 | 8 8"): r"after the \| it has 2 note values",
    ("x", "b9 | 5", "r8 8 | 4"): "begins with its first note",
    ("x", "b9 | 5", "8 | 5"): 'ending "x", rhythm "8 | 5": "5" is not a rhythm value'.replace("|", r"\|"),
    ("x", "1 " * 300 + "| 1", None): "256 is the most",
    ("x", "5 - | 1", None): r"right after the first \|",
    ("x", "5 | 1 -", None): r"right after the first \|",
    ("x", "- | 1", None): r"right after the first \|",
    ("x", "5 | - -", None): r"right after the first \|",
    ("x", "5 | -'", None): "is not a degree",
    ("x", "5 b9 | -", "8 8 r8 | 4"): "a rest parts the -",
    ("x", "5 b9 | - 3", "8 8 | r8 4 4"): "a rest parts the -",
    ("x", "5 b9 | -", "8 8 | 4 4"): "for 1 note",
}


@pytest.mark.parametrize(("written", "message"), REFUSED.items())
def test_refused(written: tuple[str, str, str | None], message: str) -> None:
    with pytest.raises(InputError, match=message):
        make_ending(*written)


def test_an_empty_list_of_qualities_is_refused() -> None:
    with pytest.raises(InputError, match="over is empty"):
        make_ending("x", "b9 | 5", over=())


notes = st.builds(
    lambda degree, octave: str(EndingNote(degree, octave)), st.sampled_from(DEGREE_NAMES), st.integers(-2, 2)
)
values = st.builds(
    lambda value, mark: f"{value}{mark}", st.sampled_from(NOTE_VALUES), st.sampled_from(["", ".", "t"])
)
rests = st.lists(values.map(lambda value: f"r{value}"), max_size=2)
side = st.lists(st.tuples(rests, notes, values), min_size=1, max_size=5)


@given(st.sampled_from(DEGREE_NAMES), values, side, side)
def test_events_fill_the_rhythm_in_order(
    first: str, value: str, before: list[tuple[list[str], str, str]], after: list[tuple[list[str], str, str]]
) -> None:
    def written(part: list[tuple[list[str], str, str]]) -> tuple[str, str]:
        return (
            " ".join(note for _, note, _ in part),
            " ".join(" ".join([*gaps, length]) for gaps, _, length in part),
        )

    (notes_before, rhythm_before), (notes_after, rhythm_after) = written(before), written(after)
    ending = make_ending(
        "any", f"{first} {notes_before} | {notes_after}", f"{value} {rhythm_before} | {rhythm_after}"
    )
    events = ending.events
    assert len(events) == 1 + len(before) + len(after)
    assert events[0].offset == -ending.start_offset < 0
    for event, following in pairwise(events):
        assert event.offset + event.length <= following.offset
    assert all(event.after == (event.offset >= 0) for event in events)
    assert ending.length == events[-1].offset + events[-1].length - events[0].offset
    rest_ticks = sum(beat.ticks for beat in ending.beats.before + ending.beats.after if beat.rest)
    assert sum(event.length for event in events) + rest_ticks == ending.length
    assert all(format_value(event.length) for event in events)
