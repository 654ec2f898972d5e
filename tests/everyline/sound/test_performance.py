"""Lines laid out in time: count-in, pickups, loops, ladders."""

from __future__ import annotations

from itertools import pairwise

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.annotate import AnnotatedLine
from everyline.sound.performance import ACCENT_KEY, CLICK_KEY, perform
from everyline.sound.sound_options import SoundOptions, ladder
from tests.everyline.sound.sounding import in_meter, pickups, some_lines, two_five_one


def with_pickup() -> AnnotatedLine:
    """A line that starts before bar 1."""
    return next(line for line in pickups().sample(50, 2) if line.notes[0].onset == -720)


def test_no_line_is_refused() -> None:
    with pytest.raises(InputError, match="no line to play"):
        perform([])


def test_a_count_in_and_then_the_line() -> None:
    line = two_five_one()[0]
    performance = perform(line, SoundOptions(tempi=(120,), count_in=2, swing="straight"))
    (only,) = performance.passes
    assert (only.lead, only.bars) == (2, 3)
    # Two bars and then three of four beats, at half a second a beat.
    assert performance.seconds == pytest.approx(10)
    times = list(performance.timed_notes())
    assert times[0].start == pytest.approx(4)
    assert times[1].start == pytest.approx(4.25)
    clicks = [(note.start, note.pitch) for note in only.notes if note.part == "click"]
    # One, two, one two three four: common practice.
    wanted = (-8, -6, -4, -3, -2, -1)
    assert clicks == [(beat, ACCENT_KEY if beat % 4 == 0 else CLICK_KEY) for beat in wanted]
    assert min(note.start for note in only.notes if note.part != "click") >= 0


@pytest.mark.parametrize(
    ("click", "beats"), [("count-in", []), ("every-beat", [0, 1, 2, 3]), ("backbeat", [1, 3])]
)
def test_where_the_click_goes_on(click: str, beats: list[int]) -> None:
    performance = perform(two_five_one()[0], SoundOptions(click=click))
    heard = [
        note.start for note in performance.passes[0].notes if note.part == "click" and 0 <= note.start < 4
    ]
    assert heard == beats


def test_every_note_of_a_line_is_timed_by_the_swing_map() -> None:
    for line in some_lines():
        performance = perform(line, SoundOptions(tempi=(137.0,)))
        (only,) = performance.passes
        zero = only.start + only.lead_beats * 60 / 137
        found = [(time.start, time.end) for time in performance.timed_notes()]
        for (start, end), note in zip(found, line.notes, strict=True):
            first, last = (zero + only.map.seconds(tick) for tick in (note.onset, note.onset + note.length))
            assert start == pytest.approx(first)
            assert first + 0.75 * (last - first) < end <= last + 1e-9
        assert found[0][0] >= 0


def test_a_pickup_finds_room_without_a_count_in() -> None:
    performance = perform(with_pickup(), SoundOptions(count_in=0, mute=frozenset()))
    (only,) = performance.passes
    assert only.lead == 1
    assert not [note for note in only.notes if note.part == "click"]
    assert min(time.start for time in performance.timed_notes()) > 0


def test_a_loop_without_count_in_goes_straight_on() -> None:
    performance = perform(two_five_one()[0], SoundOptions(repeats=3, count_in_each=False))
    assert [each.lead for each in performance.passes] == [1, 0, 0]
    assert [each.end for each in performance.passes[:-1]] == [each.start for each in performance.passes[1:]]
    basses = [[n for n in each.notes if n.part == "bass" and n.start >= 8] for each in performance.passes]
    assert [len(bass) for bass in basses] == [4, 4, 1], "the bass walks on until the last time"


def test_a_loop_with_count_in_counts_each_time() -> None:
    performance = perform(two_five_one()[0], SoundOptions(repeats=2))
    assert [each.lead for each in performance.passes] == [1, 1]
    for each in performance.passes:
        assert len([note for note in each.notes if note.part == "bass" and note.start >= 8]) == 1


def test_a_pickup_of_a_loop_sounds_in_the_bar_before_when_it_is_free() -> None:
    line = with_pickup()
    performance = perform(line, SoundOptions(repeats=2, count_in_each=False))
    end = max(note.onset + note.length for note in line.notes)
    room = performance.passes[0].bars * 1920 - end >= 720
    assert performance.passes[1].lead == (0 if room else 1)
    times = sorted((time.start, time.end) for time in performance.timed_notes())
    assert all(before[1] <= after[0] + 1e-9 for before, after in pairwise(times))


def test_a_practice_ladder_plays_each_line_at_each_tempo() -> None:
    lines = [two_five_one()[0], two_five_one()[9]]
    performance = perform(lines, SoundOptions(tempi=ladder(60, 120, 3)))
    assert [(each.index, each.map.tempo) for each in performance.passes] == [
        (0, 60), (0, 90), (0, 120), (1, 60), (1, 90), (1, 120)
    ]  # fmt: skip
    assert performance.seconds == pytest.approx(2 * 16 * (1 + 60 / 90 + 0.5))


@pytest.mark.parametrize("tempo", [30, 61, 120, 399])
def test_the_tail_lasts_a_bar_and_two_seconds_at_least(tempo: float) -> None:
    performance = perform(in_meter("3/4", "Em7 | A7 | Dmaj7 | %", 2)[0], SoundOptions(tempi=(tempo,)))
    assert performance.tail >= 3
    assert performance.tail * 60 / tempo >= 2


def test_a_muted_line_is_still_followed_by_the_eye() -> None:
    line = two_five_one()[0]
    performance = perform(line, SoundOptions(mute=frozenset({"line", "bass"})))
    assert len(list(performance.timed_notes())) == len(line.notes)
    assert {note.part for note in performance.passes[0].notes} == {"line", "chords", "drums", "click"}
