"""Lines in words: every note once, in its bar, with the word for what it does."""

from __future__ import annotations

from functools import cache

from hypothesis import given
from hypothesis import strategies as st

from everyline import Space, lines
from everyline.rules.analysis import APPROACH, ARPEGGIO, ENDING, ENTRY, HANDOFF, TARGET
from everyline.rules.words import bar_by_bar, explain, interval, note_by_note

MARKS = {
    ENTRY: "opens the line on",
    ARPEGGIO: "the arpeggio",
    APPROACH: ("begins the figure", "goes on"),
    TARGET: "is the target",
    HANDOFF: "hands the line over",
    ENDING: ("begins the ending", "in the ending", "ends the line on"),
}
CHANGES = "Dm7 | G7 | Cmaj7"


@cache
def space() -> Space:
    return lines(CHANGES, pickup=[1, 3], count=["0-2"])


@given(st.data())
def test_every_note_is_explained_once_by_its_role(data: st.DataObject) -> None:
    line = space().line(data.draw(st.integers(1, space().count)))
    words = note_by_note(line)
    assert [each.index for each in words] == list(range(len(line.notes)))
    for note, each in zip(line.notes, words, strict=True):
        marks = MARKS[note.role]
        assert any(mark in each.text for mark in ([marks] if isinstance(marks, str) else marks))
        assert each.name == note.name
        assert each.bar == note.onset // 1920 + 1
    bars = bar_by_bar(line)
    assert [each for bar in bars for each in bar.notes] == list(words)
    assert len(explain(line).splitlines()) == len(bars)


def test_a_line_reads_as_a_teacher_would_say_it() -> None:
    made = lines(CHANGES, endings=["plain"])
    number = made.number("D4 F4 Bb4 G#4 A4 F4 D4 C4 B3 D4 F4 G4 C5 A#4 B4 G4 E4:4")
    assert number is not None
    first, second, third = explain(made.line(number)).splitlines()
    assert first.startswith(
        "Bar 1 (Dm7): D4 opens the line on the 1 of Dm7; F4 is the b3 of Dm7, up the arpeggio; "
        "Bb4 begins the figure chromatic-above-below, a half step above A4; "
        "G#4 goes on a half step below A4; A4 is the target, the 5 of Dm7"
    )
    assert second.startswith("Bar 2 (G7): B3 hands the line over to G7 on its 3, a half step down; ")
    assert third == (
        "Bar 3 (Cmaj7): E4 hands the line over to Cmaj7 on its 3, a minor third down, "
        "and the line rests there."
    )


def test_intervals_are_named_with_their_direction() -> None:
    assert [interval(each) for each in (0, 1, -2, 6, -12, 14, -24)] == [
        "the same note",
        "a half step up",
        "a whole step down",
        "a tritone up",
        "an octave down",
        "an octave and a whole step up",
        "2 octaves down",
    ]
