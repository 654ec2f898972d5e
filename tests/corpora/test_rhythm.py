"""The rhythm notation: values, rests, bar line, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora import Beat, InputError, Rhythm, format_rhythm, format_value, parse_rhythm, parse_value
from everyline.corpora.note_lengths import MOST_DOTS, NOTE_VALUES

TOKENS = [
    f"{rest}{value}{'.' * dots}{triplet}"
    for rest in ("", "r")
    for value in NOTE_VALUES
    for dots in range(MOST_DOTS + 1)
    for triplet in ("", "t")
]

# Common practice: a whole note is four quarters, a dot adds half, a second dot a quarter of the value, and
# three triplet notes take the time of two. 480 ticks to a quarter note, as in a Standard MIDI File.
PRACTICE = {
    "1": 1920,
    "2": 960,
    "4": 480,
    "8": 240,
    "16": 120,
    "32": 60,
    "2.": 1440,
    "4.": 720,
    "8.": 360,
    "4..": 840,
    "4t": 320,
    "8t": 160,
    "16t": 80,
}


@pytest.mark.parametrize(("token", "ticks"), PRACTICE.items())
def test_note_values(token: str, ticks: int) -> None:
    assert parse_value(token) == Beat(ticks)
    assert parse_value(f"r{token}") == Beat(ticks, rest=True)
    assert format_value(ticks) == token


@pytest.mark.parametrize("token", TOKENS)
def test_every_token_is_a_whole_number_of_ticks(token: str) -> None:
    plain = parse_value(token.replace("t", "").replace(".", "")).ticks
    dots = token.count(".")
    exact = plain * (2 ** (dots + 1) - 1) * (2 if "t" in token else 1)
    assert parse_value(token).ticks * 2**dots * (3 if "t" in token else 1) == exact
    assert parse_value(token).rest == token.startswith("r")


def test_first_bar_line_parts_the_rhythm_and_later_ones_are_for_the_eye() -> None:
    rhythm = parse_rhythm("8 r8 8t 8t 8t | 4 | 4.")
    assert rhythm == Rhythm(
        (Beat(240), Beat(240, True), Beat(160), Beat(160), Beat(160)), (Beat(480), Beat(720))
    )
    assert (rhythm.ticks_before, rhythm.ticks_after) == (960, 1200)
    assert parse_rhythm("8 8|4|4") == parse_rhythm("8 8 | 4 4")


def test_no_bar_line_is_told() -> None:
    rhythm = parse_rhythm("8 8")
    assert not rhythm.bar_line
    assert format_rhythm(rhythm) == "8 8"


@pytest.mark.parametrize(
    "text", ["", " ", "|", "8 9", "8x", "r", "8...", "8rt", "8t.", "64", "-8", "8,8", "8 x |"]
)
def test_refused(text: str) -> None:
    with pytest.raises(InputError, match="a note value 1, 2, 4, 8, 16 or 32"):
        parse_rhythm(text)


def test_a_wrong_value_is_named_with_its_rhythm() -> None:
    with pytest.raises(InputError, match=r'rhythm "8 7 \| 4": "7" is not a rhythm value'):
        parse_rhythm("8 7 | 4")


@given(st.lists(st.sampled_from(TOKENS), min_size=1), st.lists(st.sampled_from(TOKENS)))
def test_text_of_a_rhythm_reads_back(before: list[str], after: list[str]) -> None:
    rhythm = parse_rhythm(f"{' '.join(before)} | {' '.join(after)}")
    assert (len(rhythm.before), len(rhythm.after)) == (len(before), len(after))
    assert parse_rhythm(format_rhythm(rhythm)) == rhythm
    assert rhythm.ticks_before == sum(parse_value(token).ticks for token in before)


def test_a_length_without_a_token() -> None:
    assert format_value(7) is None
    with pytest.raises(ValueError, match="no note value"):
        format_rhythm(Rhythm((Beat(7),), (Beat(480),)))


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        rhythm = parse_rhythm(text)
    except InputError:
        return
    assert all(beat.ticks > 0 for beat in rhythm.before + rhythm.after)
