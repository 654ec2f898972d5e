"""Note values: whatever the rhythm, a bar is filled exactly, its middle is seen, ties lose nothing."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.paper.beams import beam
from everyline.paper.note_values import Stretch, Tuplet, WrittenMeter, WrittenNote, write_bar

COMMON = WrittenMeter(4, 4)
METERS = [
    COMMON,
    WrittenMeter(3, 4),
    WrittenMeter(2, 4),
    WrittenMeter(5, 4),
    WrittenMeter(6, 8),
    WrittenMeter(7, 8),
    WrittenMeter(12, 8),
    WrittenMeter(2, 2),
]


@st.composite
def bars(draw: st.DrawFn) -> tuple[WrittenMeter, list[Stretch]]:
    """A bar of notes and rests on a grid of eighths, triplets or sixteenths of its beat."""
    meter = draw(st.sampled_from(METERS))
    slot = meter.beat // draw(st.sampled_from((2, 3, 4)))
    count = meter.bar // slot
    cuts = sorted(draw(st.sets(st.integers(1, count - 1), max_size=count - 1)) | {0, count})
    pieces = []
    for number, (left, right) in enumerate(pairwise(cuts)):
        note = number if draw(st.booleans()) else None
        pieces.append(Stretch(left * slot, right * slot, note))
    return meter, pieces


@given(bars())
def test_a_bar_is_filled_without_gaps_and_nothing_is_lost(bar: tuple[WrittenMeter, list[Stretch]]) -> None:
    meter, pieces = bar
    written = write_bar(pieces, meter, meter.bar)
    assert written[0].start == 0 and written[-1].end == meter.bar
    assert all(left.end == right.start for left, right in pairwise(written))
    for piece in pieces:
        parts = [w for w in written if w.note == piece.note and piece.start <= w.start < piece.end]
        assert (parts[0].start, parts[-1].end) == (piece.start, piece.end)
        if piece.note is not None:
            assert [part.tie_in for part in parts] == [False] + [True] * (len(parts) - 1)
            assert [part.tie_out for part in parts] == [True] * (len(parts) - 1) + [False]
        else:
            assert not any(part.tie_in or part.tie_out for part in parts)


@given(bars())
def test_a_value_sounds_as_long_as_it_is_written(bar: tuple[WrittenMeter, list[Stretch]]) -> None:
    meter, pieces = bar
    for each in write_bar(pieces, meter, meter.bar):
        if each.whole_bar:
            continue
        length = each.value * 3 // 2 if each.dots else each.value
        assert each.length == (length * 2 // 3 if each.tuplet else length)
        if each.tuplet is not None:
            assert each.tuplet.start <= each.start and each.end <= each.tuplet.end


@given(bars())
def test_the_middle_of_four_beats_is_seen(bar: tuple[WrittenMeter, list[Stretch]]) -> None:
    meter, pieces = bar
    if meter.middle is None:
        return
    for each in write_bar(pieces, meter, meter.bar):
        if each.start < meter.middle < each.end and each.tuplet is None and not each.whole_bar:
            assert each.start in (0, meter.beat) and each.note is not None
            assert each.start == 0 or each.length % meter.beat == 0


def names(written: list[WrittenNote]) -> str:
    """Values in short: ``4 8. r8 4t`` with ``~`` for a tie onward."""
    words = {3840: "0", 1920: "1", 960: "2", 480: "4", 240: "8", 120: "16", 60: "32"}
    return " ".join(
        ("r" if w.note is None else "")
        + words[w.value]
        + "." * w.dots
        + ("t" if w.tuplet else "")
        + "~" * w.tie_out
        for w in written
    )


@pytest.mark.parametrize(
    ("meter", "cuts", "written"),
    [
        # Common practice in engraving; reasons in the module's own words.
        (COMMON, (0, 240, 720, 960, 1920), "8 4 8 2"),  # a quarter off the beat, within the half bar
        (COMMON, (0, 720, 1200, 1920), "4. 8~ 8 4."),  # over the middle: tied, so that beat 3 is seen
        (COMMON, (0, 480, 1440, 1920), "4 2 4"),  # a half note from beat 2 is read at sight
        (COMMON, (0, 240, 1920), "8 4.~ 2"),
        (COMMON, (0, 160, 320, 480, 1920), "8t 8t 8t 2."),
        (COMMON, (0, 320, 640, 960, 1920), "4t 4t 4t 2"),  # a triplet over two beats stays whole
        (COMMON, (0, 640, 1280, 1920), "2t 2t 2t"),
        (COMMON, (0, 80, 160, 240, 480, 1920), "16t 16t 16t 8 2."),
        (COMMON, (0, 480, 720, 1200, 1440, 1920), "4 8 8~ 8 8 4"),  # syncopated over the middle
        (COMMON, (0, 240, 720, 1200, 1680, 1920), "8 4 8~ 8 4 8"),  # off the beat throughout
        (COMMON, (0, 120, 360, 480, 1920), "16 8 16 2."),
        (COMMON, (0, 360, 600, 720, 960, 1920), "8. 16~ 16 16 8 2"),
        (COMMON, (0, 160, 320, 640, 960, 1920), "8t 8t 8t~ 8t 4t 2"),  # triplets over a beat show the beat
        (COMMON, (0, 320, 480, 800, 960, 1200, 1920), "4t 8t 4t 8t 8 4."),
        (COMMON, (0, 480, 800, 1120, 1440, 1920), "4 4t 8t~ 8t 4t 4"),  # beat 3 is seen
        (COMMON, (0, 1680, 1920), "2.~ 8 8"),
        (WrittenMeter(3, 4), (0, 1440), "2."),
        (WrittenMeter(3, 4), (0, 240, 1440), "8 4.~ 4"),
        (WrittenMeter(6, 8), (0, 720, 1440), "4. 4."),
        (WrittenMeter(6, 8), (0, 480, 960, 1440), "4 8~ 8 4"),
        (WrittenMeter(2, 2), (0, 960, 1920), "2 2"),
    ],
)
def test_values_by_example(meter: WrittenMeter, cuts: tuple[int, ...], written: str) -> None:
    pieces = [Stretch(left, right, number) for number, (left, right) in enumerate(pairwise(cuts))]
    assert names(write_bar(pieces, meter, meter.bar)) == written


@pytest.mark.parametrize(
    ("meter", "sounding", "rests"),
    [
        (COMMON, (0, 480), "4 r4 r2"),
        (COMMON, (0, 720), "4. r8 r2"),
        (COMMON, (240, 480), "r8 8 r4 r2"),
        (COMMON, (1440, 1920), "r2 r4 4"),
        (COMMON, (320, 480), "r4t 8t r4 r2"),
        (COMMON, (160, 320), "r8t 8t r8t r4 r2"),
        (COMMON, (0, 360), "8. r16 r4 r2"),
        (COMMON, (720, 1200), "r4 r8 8~ 8 r8 r4"),
        (WrittenMeter(3, 4), (0, 480), "4 r4 r4"),
        (WrittenMeter(6, 8), (0, 240), "8 r8 r8 r4."),
        (WrittenMeter(12, 8), (0, 720), "4. r4. r2."),
        (WrittenMeter(12, 8), (1440, 2160), "r2. 4. r4."),
        (WrittenMeter(9, 8), (0, 720), "4. r4. r4."),
    ],
)
def test_rests_by_example(meter: WrittenMeter, sounding: tuple[int, int], rests: str) -> None:
    start, end = sounding
    pieces = [Stretch(0, start, None)] * (start > 0) + [Stretch(start, end, 0)]
    pieces += [Stretch(end, meter.bar, None)] * (end < meter.bar)
    assert names(write_bar(pieces, meter, meter.bar)) == rests


def test_a_silent_bar_is_one_rest() -> None:
    (only,) = write_bar([Stretch(0, 1440, None)], WrittenMeter(3, 4), 1440)
    assert only.whole_bar and only.length == 1440


def test_a_length_that_cannot_be_written_is_refused() -> None:
    with pytest.raises(ValueError, match="no note value"):
        write_bar([Stretch(0, 7, 0), Stretch(7, 1920, 1)], COMMON, 1920)


def beams_of(cuts: tuple[int, ...], meter: WrittenMeter = COMMON, fours: bool = True) -> list[str]:
    pieces = [Stretch(left, right, number) for number, (left, right) in enumerate(pairwise(cuts))]
    written = write_bar(pieces, meter, meter.bar)
    return [" ".join(word[0] for word in words) for words in beam(written, meter, 0, fours)]


def test_eighths_of_common_time_hang_in_fours_and_on_request_by_the_beat() -> None:
    eighths = tuple(range(0, 1921, 240))
    assert beams_of(eighths) == ["b", "c", "c", "e"] * 2
    assert beams_of(eighths, fours=False) == ["b", "e"] * 4


def test_anything_finer_is_beamed_by_the_beat() -> None:
    assert beams_of((0, 240, 480, 600, 720, 960, 1920)) == ["b", "e", "b b", "c e", "e", ""]
    assert beams_of((0, 160, 320, 480, 720, 960, 1920)) == ["b", "c", "e", "b", "e", ""]


def beams_between(*sounding: tuple[int, int]) -> list[str]:
    """Beams of a bar of four beats with rests between its notes."""
    edges = sorted({0, COMMON.bar, *(edge for span in sounding for edge in span)})
    pieces = [
        Stretch(left, right, left if (left, right) in sounding else None) for left, right in pairwise(edges)
    ]
    written = write_bar(pieces, COMMON, COMMON.bar)
    return [" ".join(word[0] for word in words) for words in beam(written, COMMON, 0, True)]


def test_a_beam_does_not_reach_over_a_rest() -> None:
    # Common practice: r8 8 8 8 and 8 8 r8 8 in half a bar.
    assert beams_between((240, 480), (480, 720), (720, 960))[:4] == ["", "b", "c", "e"]
    assert beams_between((0, 240), (240, 480), (720, 960))[:4] == ["b", "e", "", ""]
    assert beams_between((160, 320), (320, 480), (480, 720), (720, 960))[:5] == ["", "b", "e", "b", "e"]


def test_hooks_point_into_their_group() -> None:
    assert beams_of((0, 360, 480, 1920))[:2] == ["b", "e b"]
    assert beams_of((0, 120, 480, 1920))[:2] == ["b f", "e"]


def test_compound_and_odd_meters_beam_by_their_groups() -> None:
    assert beams_of(tuple(range(0, 1441, 240)), WrittenMeter(6, 8)) == ["b", "c", "e"] * 2
    assert beams_of(tuple(range(0, 1681, 240)), WrittenMeter(7, 8)) == ["b", "e", "b", "e", "b", "c", "e"]
    assert beams_of(tuple(range(0, 1441, 240)), WrittenMeter(3, 4)) == ["b", "e"] * 3


def test_a_triplet_is_one_tuplet() -> None:
    written = write_bar(
        [Stretch(0, 160, 0), Stretch(160, 320, 1), Stretch(320, 480, 2), Stretch(480, 1920, 3)], COMMON, 1920
    )
    assert [w.tuplet for w in written[:3]] == [Tuplet(0, 480)] * 3
    assert all(w.tuplet is None for w in written[3:])
