"""Takes of every kind of file, good and bad, through the function and through the command line."""

from __future__ import annotations

import json
import struct
import tracemalloc
from dataclasses import replace
from functools import cache
from io import BytesIO

import numpy as np
import pytest
import soundfile

from everyline.corpora.errors import EverylineError, InputError
from everyline.listening import hear, hear_notes, recording
from everyline.listening.asked import ADDED, NOT_HEARD, OTHER, RIGHT, UNSURE, compare
from everyline.listening.following import beats_through
from everyline.listening.heard import heard
from everyline.listening.performed import from_notes
from everyline.listening.played import Played, PlayedNote
from everyline.sound.audio import available
from everyline.spaces.checking import check
from everyline.spaces.space import Space
from tests.everyline.listening.playing import Take, played
from tests.everyline.sound.sounding import two_five_one

synthesiser = pytest.mark.skipif(not available(), reason="no synthesiser on this machine")

LINE = 404
RATE = 22_050


@cache
def space() -> Space:
    """1758 lines."""
    return two_five_one()


@cache
def take() -> Take:
    """A line on the saxophone at 120, counted in aloud."""
    return played(space().line(LINE), 120, 67, 3, click=True)


def rows() -> list[dict[str, object]]:
    """The line as a MIDI instrument sends it, swung, 3 s into the take and ever faster."""
    found = []
    for event in space().line(LINE).events:
        beat, half = divmod(event.onset, 480)
        beats = beat + (0.6 if half else 0.0)
        onset = 3 + beats / 2 - 0.0015 * beats * beats
        found.append({"pitch": event.pitch, "onset": onset, "length": 0.2, "velocity": 80})
    return found


def wav(samples: np.ndarray, subtype: str = "PCM_16", rate: int = RATE, form: str = "WAV") -> bytes:
    """Samples as a file."""
    buffer = BytesIO()
    soundfile.write(buffer, samples, rate, format=form, subtype=subtype)
    return buffer.getvalue()


@synthesiser
@pytest.mark.parametrize(("form", "subtype"), [("WAV", "PCM_U8"), ("MP3", "MPEG_LAYER_III")])
def test_the_line_is_heard_after_a_click_that_counts_in(form: str, subtype: str) -> None:
    sound = hear(take().file(form, subtype), f"take.{form}", space().rules, 120)
    report = check(space(), sound.line)
    assert report.number == LINE
    row = sound.as_row(report.events)
    assert row["sure"] > 0.85 and not any(note["unsure"] for note in row["notes"])
    assert abs(row["notes"][0]["onset"] - take().onsets[0]) < 0.06
    json.dumps(row, allow_nan=False)


@pytest.mark.parametrize("rate", [8000, 44_100, 96_000])
@pytest.mark.parametrize("kind", ["WAV PCM_U8", "WAV PCM_24", "WAV FLOAT", "WAV DOUBLE", "FLAC PCM_24"])
def test_depth_rate_and_channels_do_not_matter(kind: str, rate: int) -> None:
    form, subtype = kind.split()
    tone = np.sin(np.arange(rate) * 2 * np.pi * 440 / rate)
    read = recording.read_recording(wav(np.stack([tone, tone], axis=1) / 2, subtype, rate, form), "take")
    assert read.seconds == pytest.approx(1, abs=0.001) and read.remarks == ()
    wanted = np.sin(np.arange(recording.RATE) * 2 * np.pi * 440 / recording.RATE)
    middle = slice(recording.RATE // 4, recording.RATE * 3 // 4)
    assert np.abs(read.samples[: len(wanted)][middle] - wanted[middle]).max() < 0.03


def test_a_count_in_that_has_pitch_is_left_out() -> None:
    sung = [PlayedNote(1 + beat / 2, 0.1, 60 + (beat == 0)) for beat in range(4)]
    played = Played([*sung, *from_notes(rows()).notes], by_ear=True)
    report = check(space(), heard(played, space().rules, 120, "take").line)
    assert report.number == LINE
    assert "left out before the line: 4 sounds of a count-in." in report.remarks


def test_a_channel_turned_over_does_not_cancel_the_other() -> None:
    left = np.sin(np.arange(RATE) * 2 * np.pi * 330 / RATE).astype(np.float32)
    read = recording.read_recording(wav(np.stack([left, -left], axis=1)), "take.wav")
    assert np.abs(read.samples).max() == pytest.approx(1, abs=0.01)
    assert read.remarks == ("of 2 channels the loudest was listened to.",)


def noise() -> np.ndarray:
    """Two seconds of noise."""
    return np.random.default_rng(1).normal(0, 0.1, 2 * RATE)


BAD = {
    "empty": (lambda: b"", "an empty file"),
    "text": (lambda: b"not a sound file at all", "not a WAV, FLAC or MP3 file"),
    "cut": (lambda: wav(noise())[:30], "not a WAV, FLAC or MP3 file"),
    "silent": (lambda: wav(np.zeros(2 * RATE)), "silence"),
    "short": (lambda: wav(noise()[:1000]), "too short"),
    "no numbers": (lambda: wav(np.full(RATE, np.nan), "FLOAT"), "no numbers"),
    "noise": (lambda: wav(noise()), "no note was heard"),
    "long": (lambda: wav(np.zeros(601 * 4000, np.int16), rate=4000), "longer than 10 minutes"),
    "slow": (lambda: wav(noise(), rate=100), "samples a second; allowed are"),
}


@pytest.mark.parametrize("kind", BAD)
def test_what_cannot_be_heard_is_one_sentence(kind: str) -> None:
    make, said = BAD[kind]
    with pytest.raises(InputError, match=said) as caught:
        hear(make(), "take.wav", space().rules, 120)
    assert str(caught.value).startswith("take.wav: ") and str(caught.value).count("\n") == 0


def test_no_room_is_made_for_what_a_header_claims(monkeypatch: pytest.MonkeyPatch) -> None:
    rate, channels = 768_000, 1000
    block = 2 * channels
    form = struct.pack("<HHIIHH", 1, channels, rate, rate * block, block, 16)
    size = struct.pack("<I", 2**32 - 1)
    data = b"RIFF" + size + b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + size + bytes(20_000)
    tracemalloc.start()
    try:
        with pytest.raises(InputError, match="too short"):
            recording.read_recording(data, "take.wav")
        assert tracemalloc.get_traced_memory()[1] < 50_000_000
    finally:
        tracemalloc.stop()
    monkeypatch.setattr(recording, "MOST_SAMPLES", 9_000)
    with pytest.raises(InputError, match="more than 9,000 samples in its 1000 channels; export it with one"):
        recording.read_recording(data, "take.wav")


def test_the_decoder_says_nothing_of_a_damaged_file(capfd: pytest.CaptureFixture[str]) -> None:
    data = bytearray(wav(noise(), "MPEG_LAYER_III", form="MP3"))
    data[900:960] = b"x" * 60
    recording.read_recording(bytes(data), "take.mp3")
    assert capfd.readouterr() == ("", "")


def test_other_files_tempi_and_missing_packages(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError, match="takes are files that end in"):
        hear(b"", "take.txt", space().rules, 120)
    for tempo in (10.0, 1000.0, float("nan")):
        with pytest.raises(InputError, match="allowed are 30 to 400"):
            hear_notes(rows(), space().rules, tempo)
    monkeypatch.setitem(__import__("sys").modules, "swift_f0", None)
    with pytest.raises(EverylineError, match=r"listening needs swift-f0.*everyline\[listen\]"):
        hear(wav(noise()), "take.wav", space().rules, 120)


@pytest.mark.parametrize(
    "row",
    [
        {"pitch": 128, "onset": 0, "length": 1},
        {"pitch": 60.5, "onset": 0, "length": 1},
        {"pitch": 60, "onset": float("nan"), "length": 1},
        {"pitch": 60, "onset": -1, "length": 1},
        {"pitch": 60, "onset": 0},
        {"pitch": True, "onset": 0, "length": 1},
        {"pitch": 60, "onset": 0, "length": 1, "velocity": 0},
        "C4",
    ],
)
def test_what_is_no_note_is_one_sentence(row: dict[str, object]) -> None:
    with pytest.raises(InputError, match="the take, note 2: "):
        hear_notes([{"pitch": 60, "onset": 0, "length": 1}, row], space().rules, 120)


def test_midi_notes_give_the_line_and_a_late_one_is_told() -> None:
    notes = rows()
    notes[6]["onset"] = float(str(notes[6]["onset"])) + 0.08
    sound = hear_notes(notes, space().rules, 120)
    report = check(space(), sound.line)
    assert report.number == LINE
    late = [note["late_ms"] for note in sound.as_row(report.events)["notes"]]
    assert late.index(max(late)) == 6 and 50 <= late[6] <= 80
    assert max(abs(each) for place, each in enumerate(late) if place != 6) < 30
    first, last = sound.tempo_at(report.events)
    assert 118 < first < last < 130


def test_a_take_is_held_against_the_line_asked_for() -> None:
    line = space().line(LINE)
    notes = rows()
    notes[3]["pitch"] = 71 if line.events[3].pitch != 71 else 70
    del notes[9]
    notes.append({"pitch": 60, "onset": 10.0, "length": 0.3})
    found = compare(hear_notes(notes, space().rules, 120, asked=line.events), line.events)
    verdicts = [each.verdict for each in found.notes]
    assert verdicts[3] == OTHER and verdicts[9] == NOT_HEARD and verdicts[-1] == ADDED
    assert verdicts.count(RIGHT) == len(line.events) - 2
    assert not found.as_asked
    exact = hear_notes(rows(), space().rules, 120, asked=line.events)
    assert compare(exact, line.events).as_asked
    lower = [row | {"pitch": int(str(row["pitch"])) - 12} for row in rows()]
    moved = compare(hear_notes(lower, space().rules, 120, asked=line.events), line.events)
    assert moved.as_asked


def test_the_first_notes_may_be_missing_from_a_line_asked_for() -> None:
    line = space().line(LINE)
    found = compare(hear_notes(rows()[2:], space().rules, 120, asked=line.events), line.events)
    assert [each.verdict for each in found.notes] == [NOT_HEARD] * 2 + [RIGHT] * (len(line.events) - 2)


def test_an_unsure_note_is_neither_right_nor_wrong() -> None:
    line = space().line(LINE)
    notes = list(from_notes(rows()).notes)
    notes[4] = replace(notes[4], pitch=notes[4].pitch + 1, sure=0.3)
    notes[5] = replace(notes[5], octave=12)
    found = compare(heard(Played(notes, True), space().rules, 120, "take", line.events), line.events)
    assert [each.verdict for each in found.notes[4:6]] == [UNSURE, UNSURE]
    assert not found.as_asked
    said = found.lines()
    assert any("not surely (30%)" in each for each in said)
    assert any("or an octave higher" in each for each in said)


def test_beats_follow_a_drifting_tempo_and_leave_a_stray_note_alone() -> None:
    places = [each / 2 for each in range(24)]
    times = [1 + 0.5 * each - 0.002 * each * each for each in places]
    times[11] += 0.12
    beats = beats_through(times, places, 0.5)
    off = [time - beats.seconds(place) for time, place in zip(times, places, strict=True)]
    assert 0.09 < off[11] < 0.13
    assert max(abs(each) for place, each in enumerate(off) if place != 11) < 0.025
    assert beats.beat(beats.seconds(5.25)) == pytest.approx(5.25)


@pytest.mark.parametrize(
    ("count", "gap", "said"), [(601, 0.25, "more than a line has"), (3, 200.0, "beats apart")]
)
def test_a_take_longer_than_any_line_is_refused(count: int, gap: float, said: str) -> None:
    notes = [{"pitch": 60 + place % 5, "onset": place * gap, "length": 0.1} for place in range(count)]
    with pytest.raises(InputError, match=said):
        hear_notes(notes, space().rules, 120)
