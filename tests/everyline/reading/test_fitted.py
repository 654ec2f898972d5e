"""Lines read back from files: our own, those of other writers, played ones, and files that are no good."""

from __future__ import annotations

import io
import random
import zipfile
from functools import cache
from pathlib import Path
from typing import Any

import mido
import music21
import pytest

from everyline import Space, lines
from everyline.corpora.errors import InputError
from everyline.paper.musicxml import write as write_musicxml
from everyline.paper.score_options import ScoreOptions
from everyline.reading import ReadLine, read_line
from everyline.rules.line import Event, Events
from everyline.rules.line_text import parse_line
from everyline.sound.midi_file import write as write_midi
from everyline.sound.sound_options import SoundOptions

SPACES = {
    "concert": lambda: lines("Dm7 | G7 | Cmaj7"),
    "pickup": lambda: lines("Dm7 | G7 | Cmaj7", pickup=[1, 3]),
    "trumpet": lambda: lines("Dm7 | G7 | Cmaj7", instrument="trumpet"),
    "staff and tablature": lambda: lines("Dm7 | G7 | Cmaj7", instrument="guitar"),
    "triplets": lambda: lines("Dm7 G7 | Cmaj7", subdivision=3),
    "sixteenths in the ending": lambda: lines("Dm7 | G7 | Cmaj7", endings=["sixteenths-up-and-down"]),
    "six eighths": lambda: lines("Gm7 | C7 | F6", meter="6/8"),
}


@cache
def space(name: str) -> Space:
    return SPACES[name]()


def numbers(made: Space, read: ReadLine) -> list[int | None]:
    return [made.diagram.number(events) for events in read.candidates]


# -- our own writers -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SPACES)
def test_our_own_musicxml_is_read_back(name: str, tmp_path: Path) -> None:
    made, path = space(name), tmp_path / "line.musicxml"
    for line in made.sample(2, seed=3):
        path.write_bytes(write_musicxml([line], ScoreOptions(tempo=120, swing="2:1")))
        read = read_line(path, made.rules)
        assert numbers(made, read) == [line.number]
        assert not any("timing" in remark or "swung" in remark for remark in read.remarks)


@pytest.mark.parametrize("name", SPACES)
def test_our_own_midi_is_read_back_at_any_tempo(name: str, tmp_path: Path) -> None:
    made, path = space(name), tmp_path / "line.mid"
    for line, tempo in zip(made.sample(8, seed=4), (40, 60, 90, 120, 160, 200, 260, 320), strict=True):
        path.write_bytes(write_midi(line, SoundOptions(tempi=(tempo,))))
        assert line.number in numbers(made, read_line(path, made.rules))


# -- other writers -------------------------------------------------------------------------------------------

TEXT = "D4 F4 Bb4 G#4 A4 F4 D4 C4 B3 D4 F4 G4 C5 A#4 B4 G4 E4:4"


def by_music21(events: Events, path: Path, **change: Any) -> Path:
    """A score written by music21 (BSD), a reader and writer of its own."""
    part = music21.stream.Part()
    part.append(music21.meter.TimeSignature(change.get("meter", "4/4")))
    part.append(music21.clef.BassClef() if change.get("bass") else music21.clef.TrebleClef())
    part.append(music21.key.KeySignature(change.get("fifths", 0)))
    part.append(music21.tempo.MetronomeMark(number=77))
    if change.get("rest"):
        part.append(music21.note.Rest(quarterLength=change["rest"]))
    for event in events:
        note = music21.note.Note(event.pitch + change.get("shift", 0), quarterLength=event.length / 480)
        part.append(note)
    if change.get("instrument"):
        # Marked as sounding, the writer itself puts the written pitches into the file.
        part.insert(0, change["instrument"])
        part.atSoundingPitch = True
    score = music21.stream.Score([part])
    score.write("musicxml", fp=path)
    return path


def typed() -> tuple[Space, Events]:
    made = space("concert")
    (events,) = parse_line(TEXT, made.rules)
    return made, events


@pytest.mark.parametrize(
    ("change", "remark"),
    [
        ({}, None),
        ({"fifths": -3, "bass": True}, None),
        ({"shift": 12}, "read an octave lower"),
        ({"shift": -24}, "read 2 octaves higher"),
        ({"rest": 8}, "left out before the line: 2 bars of rest or count-in"),
        ({"meter": "2/4"}, "the file is in 2/4 and these rules in 4/4"),
        ({"instrument": music21.instrument.AltoSaxophone()}, "transposing instrument"),
    ],
)
def test_what_does_not_matter_is_allowed_for_and_said(
    change: dict[str, Any], remark: str | None, tmp_path: Path
) -> None:
    made, events = typed()
    read = read_line(str(by_music21(events, tmp_path / "line.musicxml", **change)), made.rules)
    assert read.candidates == (events,)
    assert len(read.remarks) == (remark is not None)
    assert remark is None or remark in read.remarks[0]


def test_a_compressed_file_with_a_container_is_read(tmp_path: Path) -> None:
    made, events = typed()
    path = by_music21(events, tmp_path / "line.mxl")
    if not zipfile.is_zipfile(path):
        plain = path.read_bytes()
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("scores/line.xml", plain)
    assert read_line(path, made.rules).candidates == (events,)


def test_ties_grace_notes_second_voices_and_chords_are_allowed_for(tmp_path: Path) -> None:
    made = space("concert")
    head = (
        '<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1">'
        '<part-name>x</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes>'
        "<divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    )

    def note(step: str, octave: int, length: int, voice: int = 1, before: str = "", tie: str = "") -> str:
        pitch = f"<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
        tied = f'<tie type="{tie}"/>' if tie else ""
        return f"<note>{before}{pitch}<duration>{length}</duration>{tied}<voice>{voice}</voice></note>"

    grace = "<note><grace/><pitch><step>C</step><octave>4</octave></pitch><type>eighth</type></note>"
    body = (
        grace + note("D", 4, 1) + note("B", 3, 1, before="<chord/>") + note("F", 4, 1)
        + note("A", 4, 1, tie="start") + note("A", 4, 1, tie="stop") + note("C", 5, 1) + note("D", 5, 3)
        + "<backup><duration>8</duration></backup>" + note("G", 3, 8, voice=2)
    )  # fmt: skip
    path = tmp_path / "line.xml"
    path.write_text(f"{head}{body}</measure></part></score-partwise>", encoding="utf-8")
    read = read_line(path, made.rules)
    expected = ((0, 62, 240), (240, 65, 240), (480, 69, 480), (960, 72, 240), (1200, 74, 720))
    assert read.candidates == (tuple(Event(*each) for each in expected),)
    said = " ".join(read.remarks)
    assert "grace note" in said and "highest was taken" in said and "several voices" in said


# -- played files --------------------------------------------------------------------------------------------


def by_mido(
    events: Events, path: Path, *, loose: float = 0, ratio: float = 1, held: float = 0.9, **change: Any
) -> Path:
    """A one-track file as a keyboard records it: no meter, no count-in, its own resolution."""
    rng = random.Random(change.get("seed", 1))
    track = mido.MidiTrack()
    timed = []
    for event in events:
        beat, part = divmod(event.onset / 480, 1)
        middle = ratio / (1 + ratio)
        start = beat + (part * 2 * middle if part <= 0.5 else middle + (part - 0.5) * 2 * (1 - middle))
        start += change.get("lead", 0) + rng.uniform(-loose, loose)
        end = start + event.length / 480 * held
        timed += [(max(0, start), 1, "note_on", event.pitch), (end, 0, "note_off", event.pitch)]
    now = 0
    for time, _, kind, pitch in sorted(timed):
        tick = round(time * 384)
        track.append(mido.Message(kind, note=pitch, velocity=70, time=tick - now))
        now = tick
    mido.MidiFile(type=0, ticks_per_beat=384, tracks=[track]).save(path)
    return path


@pytest.mark.parametrize("held", [0.4, 0.7, 1.0, 1.15])
@pytest.mark.parametrize("ratio", [1, 1.5, 2, 3])
def test_loose_and_swung_playing_is_read_as_meant(held: float, ratio: float, tmp_path: Path) -> None:
    made, events = typed()
    for seed in range(5):
        path = by_mido(events, tmp_path / "line.mid", loose=0.04, ratio=ratio, held=held, seed=seed, lead=4)
        read = read_line(path, made.rules)
        assert events in read.candidates
        said = " ".join(read.remarks)
        assert ("swung" in said) == (ratio > 1)
        assert "loose" in said and "count-in" in said and "rings" in said


def test_the_line_is_told_from_drums_chords_and_bass(tmp_path: Path) -> None:
    made, events = typed()
    by_mido(events, tmp_path / "line.mid", held=1)
    file = mido.MidiFile(tmp_path / "line.mid")
    chords, drums, bass = mido.MidiTrack(), mido.MidiTrack(), mido.MidiTrack()
    for pitch in (84, 88, 91):
        chords.append(mido.Message("note_on", note=pitch, velocity=60, channel=2))
    chords.append(mido.Message("note_off", note=84, channel=2, time=384))
    for track, channel, pitch in ((drums, 9, 80), (bass, 3, 36)):
        for _ in range(4):
            track.append(mido.Message("note_on", note=pitch, velocity=60, channel=channel))
            track.append(mido.Message("note_off", note=pitch, channel=channel, time=384))
    everything = mido.MidiFile(type=1, ticks_per_beat=384, tracks=[drums, chords, file.tracks[0], bass])
    everything.save(tmp_path / "band.mid")
    read = read_line(tmp_path / "band.mid", made.rules)
    assert events in read.candidates
    assert "of 4 parts with notes" in read.remarks[0]


# -- text and wrong files ------------------------------------------------------------------------------------


def test_typed_notes_are_read_as_they_are() -> None:
    made, events = typed()
    assert read_line(TEXT, made.rules) == ReadLine((events,))


def test_notes_in_a_text_file_are_read(tmp_path: Path) -> None:
    made, events = typed()
    (tmp_path / "line.txt").write_text(TEXT, encoding="utf-8")
    assert read_line(str(tmp_path / "line.txt"), made.rules).candidates == (events,)


NOTE = "<note><pitch><step>D</step><octave>4</octave></pitch><duration>1</duration></note>"


def xml(attributes: str, more: str = "", other_parts: int = 0) -> bytes:
    """A score of one note with something more after it, and parts of one note each."""
    body = f"<measure><attributes>{attributes}</attributes>{NOTE}{more}</measure>"
    names = [f"P{number}" for number in range(1 + other_parts)]
    listed = "".join(f'<score-part id="{name}"><part-name>{name}</part-name></score-part>' for name in names)
    parts = "".join(f'<part id="{name}">{body}</part>' for name in names)
    return f"<score-partwise><part-list>{listed}</part-list>{parts}</score-partwise>".encode()


def test_the_parts_that_are_not_read_are_counted(tmp_path: Path) -> None:
    (tmp_path / "a.xml").write_bytes(xml("", other_parts=3))
    read = read_line(tmp_path / "a.xml", space("concert").rules)
    assert len(read.candidates[0]) == 1
    assert 'of 4 staves with notes the first, "P0" was read.' in read.remarks


def rotten() -> dict[str, tuple[str, bytes, str]]:
    """Name: (file name, bytes, words of the complaint)."""
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", b" " * 20_000_000)
    empty = io.BytesIO()
    with zipfile.ZipFile(empty, "w") as archive:
        archive.writestr("readme", b"nothing")
    entity = b'<!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]><score-partwise>&c;</score-partwise>'
    outside = b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]><score-partwise>&b;</score-partwise>'
    parts = b'<score-partwise><part-list/><part id="P1"><measure/></part></score-partwise>'
    sums = xml("<time><beats>4+100</beats><beat-type>4</beat-type></time>")
    times = xml("<time><beats>4</beats><beat-type>4</beat-type></time>" * 201)
    staves = xml("", "".join(f"{NOTE[:-7]}<staff>{number}</staff></note>" for number in range(21)))
    return {
        "no XML": ("a.xml", b"notes", "not MusicXML"),
        "other XML": ("a.xml", b"<html/>", "<html> is not read"),
        "time-wise": ("a.xml", b"<score-timewise/>", "partwise"),
        "entities": ("a.xml", entity, "entities"),
        "outside entity": ("a.xml", outside, "entities"),
        "no notes": ("a.musicxml", b"<score-partwise/>", "no note"),
        "broken parts": ("a.musicxml", parts, "a.musicxml"),
        "unpacks too far": ("a.mxl", bomb.getvalue(), "unpacks to more than"),
        "no score inside": ("a.mxl", empty.getvalue(), "no score"),
        "damaged archive": ("a.mxl", b"PK\x03\x04" + b"\0" * 60, "damaged"),
        "bars without end": ("a.xml", xml("", "</measure><measure>" * 1000), "1001 bars are more than"),
        "a bar without end": ("a.xml", sums, "a bar of 4+100 beats"),
        "meters without end": ("a.xml", times, "201 time signatures are more than"),
        "staves without end": ("a.xml", staves, "22 staves are more than"),
        "words without end": ("a.xml", xml("", "<print/>" * 30_000), "elements of XML are more than"),
        "too large": ("a.xml", b" " * 5_000_001, "larger than"),
        "no MIDI": ("a.mid", b"RIFF....", "not a Standard MIDI File"),
        "cut MIDI": ("a.mid", b"MThd\0\0\0\6\0\1\0\2\1\0MTrk\0\0\1\0", "damaged"),
        "MIDI without notes": ("a.mid", b"MThd\0\0\0\6\0\0\0\1\1\0MTrk\0\0\0\4\0\xff\x2f\0", "no note"),
        "MIDI in frames": ("a.mid", b"MThd\0\0\0\6\0\0\0\1\xe7\x28MTrk\0\0\0\4\0\xff\x2f\0", "frames"),
        "no text": ("a.txt", b"\xff\xfe\0", "UTF-8"),
        "another kind": ("a.pdf", b"%PDF", "read from files that end in"),
    }


@pytest.mark.parametrize("name", rotten())
def test_a_bad_file_is_one_clear_sentence(name: str, tmp_path: Path) -> None:
    file, data, words = rotten()[name]
    path = tmp_path / file
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        read_line(str(path), space("concert").rules)
    assert words in str(caught.value)
    assert file in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_named() -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_line("nowhere.musicxml", space("concert").rules)


@pytest.mark.parametrize("suffix", ["musicxml", "mid"])
def test_damage_anywhere_never_ends_in_a_traceback(suffix: str, tmp_path: Path) -> None:
    made, events = typed()
    path = tmp_path / f"line.{suffix}"
    if suffix == "mid":
        by_mido(events, path)
    else:
        by_music21(events, path)
    whole, rng = path.read_bytes(), random.Random(7)
    for _ in range(40):
        data = bytearray(whole)
        for _ in range(rng.randint(1, 4)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        path.write_bytes(bytes(data[: rng.choice([len(data), rng.randrange(len(data))])]))
        try:
            read = read_line(path, made.rules)
        except InputError as error:
            assert "\n" not in str(error)
        else:
            assert read.candidates


# -- files that would take for ever, or cannot be unpacked ---------------------------------------------------


def far_midi() -> bytes:
    """Two notes with as much time between them as five control changes can state."""
    track = mido.MidiTrack([mido.Message("note_on", note=60), mido.Message("note_off", note=60, time=240)])
    track += [mido.Message("control_change", control=1, time=0x0FFFFFFF) for _ in range(5)]
    track += [mido.Message("note_on", note=62), mido.Message("note_off", note=62, time=240)]
    file, buffer = mido.MidiFile(), io.BytesIO()
    file.tracks.append(track)
    file.save(file=buffer)
    return buffer.getvalue()


def far_xml(duration: str) -> bytes:
    notes = "".join(
        f"<note><pitch><step>D</step><octave>4</octave></pitch><duration>{each}</duration></note>"
        for each in (duration, "1")
    )
    return (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>x</part-name></score-part>'
        '</part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>'
        f"{notes}</measure></part></score-partwise>"
    ).encode()


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("far.mid", far_midi()),
        *(
            (f"far-{text[:3]}.musicxml", far_xml(text))
            for text in ("1000000000000", "1e30", "9" * 400, "nan")
        ),
    ],
)
def test_notes_at_a_huge_time_are_refused_and_not_drawn_bar_by_bar(
    name: str, data: bytes, tmp_path: Path
) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(InputError, match=r"more than 4000 beats|not MusicXML that can be read"):
        read_line(tmp_path / name, space("concert").rules)


def test_typed_notes_that_last_too_long_are_refused() -> None:
    with pytest.raises(InputError, match="more than 4000 beats"):
        parse_line("D4 " + "r1 " * 30_000 + "F4", space("concert").rules)


@pytest.mark.parametrize("kind", [zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_damage_inside_any_compression_is_one_sentence(kind: int, tmp_path: Path) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", kind) as archive:
        archive.writestr("line.xml", far_xml("1") * 3)
    for place in range(36, 120, 7):
        data = bytearray(buffer.getvalue())
        data[place] ^= 0xFF
        (tmp_path / "line.mxl").write_bytes(data)
        with pytest.raises(InputError) as error:
            read_line(tmp_path / "line.mxl", space("concert").rules)
        assert "\n" not in str(error.value)
