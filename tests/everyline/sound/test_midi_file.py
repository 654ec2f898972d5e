"""MIDI files, read back with mido."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import mido
import pytest

from everyline.rules.rulefile import parse_rules
from everyline.sound.midi_file import CHANNELS, write
from everyline.sound.performance import perform
from everyline.sound.sound_options import PARTS, SECOND, SoundOptions, ladder
from everyline.spaces.space import Space
from tests.everyline.sound.sounding import METERS, in_meter, pickups, some_lines, two_five_one
from tests.spaces import CORPUS

ONE_PLAYER = tuple(part for part in PARTS if part != SECOND)


def read(data: bytes) -> Any:
    """The file, as mido reads it."""
    return mido.MidiFile(file=BytesIO(data), charset="utf-8")


def heard(data: bytes, channel: int = 0) -> list[tuple[float, float, int]]:
    """(start, end, pitch) in seconds of the notes of a channel, by the file's own tempo map."""
    clock, sounding, found = 0.0, {}, []
    for message in read(data):
        clock += message.time
        if message.is_meta or getattr(message, "channel", None) != channel:
            continue
        if message.type == "note_on" and message.velocity:
            assert message.note not in sounding, "a note begins before it has ended"
            sounding[message.note] = clock
        elif message.type in ("note_on", "note_off"):
            found.append((sounding.pop(message.note), clock, message.note))
    assert not sounding, "a note never ends"
    return sorted(found)


OPTIONS = (
    SoundOptions(),
    SoundOptions(tempi=(47, 203.5), swing="straight", repeats=2, count_in_each=False, bass="two-feel"),
    SoundOptions(tempi=ladder(60, 240, 4), swing=1.3, count_in=2, click="every-beat"),
)


@pytest.mark.parametrize("options", OPTIONS)
def test_the_file_sounds_as_performed_to_the_millisecond(options: SoundOptions) -> None:
    lines = some_lines()
    performance = perform(lines, options)
    data = write(lines, options)
    times = sorted(
        (time.start, time.end, lines[time.line].notes[time.note].pitch) for time in performance.timed_notes()
    )
    found = heard(data)
    assert [pitch for *_, pitch in found] == [pitch for *_, pitch in times]
    # Half a tick of the file is a millisecond at 30 beats a minute; the tempo is rounded to a microsecond a
    # quarter.
    for got, wanted in zip(found, times, strict=True):
        assert got[:2] == pytest.approx(wanted[:2], abs=0.0015)
    assert read(data).length == pytest.approx(
        performance.seconds + performance.tail * 60 / performance.passes[-1].map.tempo, abs=0.01
    )


def test_every_part_has_a_track_to_itself_and_its_channel() -> None:
    file = read(write(two_five_one()[0]))
    assert [track.name for track in file.tracks[1:]] == ["Line", "Chords", "Bass", "Drums", "Click"]
    for part, track in zip(ONE_PLAYER, file.tracks[1:], strict=True):
        notes = [message for message in track if message.type == "note_on"]
        assert notes, part
        assert {message.channel for message in track if not message.is_meta} == {CHANNELS[part]}


@pytest.mark.parametrize("part", ONE_PLAYER)
def test_each_part_can_be_muted(part: str) -> None:
    data = write(two_five_one()[0], SoundOptions(mute=frozenset({part})))
    there = [track.name.lower() for track in read(data).tracks[1:]]
    silent = [other for other in ONE_PLAYER if other not in there]
    assert silent == [part]


def test_the_same_input_gives_the_same_bytes() -> None:
    assert write(some_lines(), OPTIONS[2]) == write(some_lines(), OPTIONS[2])


def test_tracks_end_together_after_the_last_note() -> None:
    for options in OPTIONS:
        file = read(write(some_lines(), options))
        assert len({sum(message.time for message in track) for track in file.tracks}) == 1
        assert all(track[-1].type == "end_of_track" for track in file.tracks)


def markers(data: bytes) -> list[tuple[int, str]]:
    """Tick and text of every marker."""
    clock, found = 0, []
    for message in read(data).tracks[0]:
        clock += message.time
        if message.type == "marker":
            found.append((clock, message.text))
    return found


def test_markers_name_the_count_in_and_the_chords_where_they_begin() -> None:
    # 960 ticks a quarter: a bar of four is 3840.
    assert markers(write(two_five_one()[0])) == [
        (0, "count-in"),
        (3840, "Dm7"),
        (7680, "G7"),
        (11520, "Cmaj7"),
    ]


def test_a_text_says_what_is_played() -> None:
    file = read(write(two_five_one().line(17), SoundOptions(tempi=(200,))))
    texts = [message.text for message in file.tracks[0] if message.type == "text"]
    assert texts == ["Line 17, 200 beats a minute, swing, eighths 1.3:1"]


def test_titles_in_any_letters_survive() -> None:
    rules = parse_rules({"title": "Übung Nr. 1: ii–V–I ♭", "changes": "Dm7 | G7 | CΔ"}, CORPUS)
    file = read(write(Space(rules)[0]))
    assert file.tracks[0].name == rules.title


@pytest.mark.parametrize(("key", "signature"), [("Eb", "Eb"), ("F#m", "F#m"), ("Cb", "Cb"), (None, None)])
def test_the_key_is_stated_where_it_is_known(key: str | None, signature: str | None) -> None:
    data: dict[str, Any] = {"changes": "Fm7 | Bb7 | Ebmaj7"}
    if key is not None:
        data["key"] = key
    file = read(write(Space(parse_rules(data, CORPUS))[0]))
    found = [message.key for message in file.tracks[0] if message.type == "key_signature"]
    assert found == ([] if signature is None else [signature])


@pytest.mark.parametrize("meter", METERS)
def test_meters_state_themselves_and_keep_their_beat(meter: tuple[str, str, int]) -> None:
    space = in_meter(*meter)
    data = write(space[0], SoundOptions(tempi=(150,), mute=frozenset({"drums"})))
    (stated,) = [message for message in read(data).tracks[0] if message.type == "time_signature"]
    assert f"{stated.numerator}/{stated.denominator}" == meter[0]
    clicks = [start for start, *_ in heard(data, CHANNELS["click"])]
    assert clicks == [pytest.approx(beat * 60 / 150, abs=1e-3) for beat in range(stated.numerator)]


@pytest.mark.parametrize(("instrument", "program"), [("trumpet", 57), ("bass-guitar", 34), (None, 27)])
def test_the_line_sounds_on_its_instrument(instrument: str | None, program: int) -> None:
    data: dict[str, Any] = {"changes": "Dm7 | G7 | Cmaj7"}
    if instrument is not None:
        data["range"] = {"instrument": instrument}
    line = Space(parse_rules(data, CORPUS))[0]

    def programs(options: SoundOptions) -> list[int]:
        track = read(write(line, options)).tracks[1]
        return [message.program + 1 for message in track if message.type == "program_change"]

    assert programs(SoundOptions()) == [program]
    assert programs(SoundOptions(program=12)) == [12]


def test_a_pickup_starts_before_bar_one() -> None:
    line = next(line for line in pickups().sample(50, 3) if line.notes[0].onset < 0)
    data = write(line, SoundOptions(swing="straight", tempi=(120,)))
    assert heard(data)[0][0] == pytest.approx(2 + line.notes[0].onset / 960, abs=1e-3)
