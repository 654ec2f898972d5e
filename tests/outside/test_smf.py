"""MIDI files against the standard, and against other people's readers.

Standard MIDI Files 1.1 (MIDI Manufacturers Association, 1996) and General MIDI System Level 1 (1991).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from mido.midifiles.meta import encode_variable_int

from everyline.rules.annotate import AnnotatedLine
from everyline.sound.midi_file import CHANNELS, PROGRAMS, write
from everyline.sound.performance import ACCENT_KEY, CLICK_KEY
from everyline.sound.phrasing import phrased
from everyline.sound.sound_options import SoundOptions, ladder
from tests.everyline.sound.sounding import some_lines, two_five_one

# "Variable-length quantities" in the standard's own table.
QUANTITIES = {
    0x00: "00", 0x40: "40", 0x7F: "7F", 0x80: "81 00", 0x2000: "C0 00", 0x3FFF: "FF 7F", 0x4000: "81 80 00",
    0x100000: "C0 80 00", 0x1FFFFF: "FF FF 7F", 0x200000: "81 80 80 00", 0x8000000: "C0 80 80 00",
    0xFFFFFFF: "FF FF FF 7F", 0x3E8: "87 68", 0xF4240: "BD 84 40",
}  # fmt: skip


class Bytes:
    """A reader of a track's bytes, as strict as the standard."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def take(self, count: int) -> bytes:
        """The next bytes."""
        assert self.at + count <= len(self.data), "the chunk ends inside an event"
        self.at += count
        return self.data[self.at - count : self.at]

    def quantity(self) -> int:
        """A variable-length quantity: seven bits a byte, four bytes at most."""
        value = 0
        for _ in range(4):
            (byte,) = self.take(1)
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise AssertionError("a quantity of more than four bytes")


def chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Type and contents of each chunk."""
    reader = Bytes(data)
    while reader.at < len(data):
        kind = reader.take(4)
        yield kind, reader.take(int.from_bytes(reader.take(4), "big"))


def walk(track: bytes) -> int:
    """Read a track to its end; the ticks it lasts."""
    reader, clock, status = Bytes(track), 0, 0
    while True:
        clock += reader.quantity()
        if track[reader.at] >= 0x80:
            (status,) = reader.take(1)
        assert status >= 0x80, "running status before any status"
        if status == 0xFF:
            (kind,) = reader.take(1)
            contents = reader.take(reader.quantity())
            if kind == 0x2F:
                assert contents == b""
                assert reader.at == len(track), "end of track is the last event"
                return clock
            status = 0
        else:
            assert 0x80 <= status < 0xF0, "only channel messages and meta events"
            values = reader.take(1 if 0xC0 <= status < 0xE0 else 2)
            assert max(values) < 0x80


@pytest.mark.parametrize(("value", "written"), QUANTITIES.items())
def test_variable_length_quantities(value: int, written: str) -> None:
    assert bytes(encode_variable_int(value)).hex(" ").upper() == written
    assert Bytes(bytes.fromhex(written)).quantity() == value


@pytest.mark.parametrize("options", [SoundOptions(), SoundOptions(tempi=ladder(30, 400, 8), count_in=4)])
def test_files_are_standard_to_the_byte(options: SoundOptions) -> None:
    data = write(some_lines(), options)
    (header, contents), *tracks = chunks(data)
    assert data[:8] == b"MThd\x00\x00\x00\x06"
    assert header == b"MThd"
    form, count, division = (int.from_bytes(contents[place : place + 2], "big") for place in (0, 2, 4))
    assert (form, count, division) == (1, len(tracks), 960)
    assert {kind for kind, _ in tracks} == {b"MTrk"}
    assert len({walk(track) for _, track in tracks}) == 1


def tempo_free(line: AnnotatedLine, tmp_path: Path) -> Path:
    """The line alone, straight, without count-in where it has no pickup."""
    path = tmp_path / "line.mid"
    options = SoundOptions(swing="straight", count_in=0, mute=frozenset({"chords", "bass", "drums", "click"}))
    path.write_bytes(write(line, options))
    return path


def test_music21_reads_the_same_notes(tmp_path: Path) -> None:
    from music21 import converter

    for line in some_lines():
        bar = line.rules.progression.beats_per_bar * 480
        lead = -(-max(0, -line.notes[0].onset) // bar) * bar
        quarters = line.rules.progression.meter.quarters / 480
        score = converter.parse(tempo_free(line, tmp_path), quantizePost=False, forceSource=True)
        found = [
            (float(note.getOffsetInHierarchy(score)), float(note.quarterLength), note.pitch.midi)
            for note in score.recurse().notes
        ]
        # A note before a new attack is let go a little earlier (see everyline.sound.phrasing).
        wanted = [
            ((note.onset + lead) * quarters, note.length * each.part * quarters, note.pitch)
            for note, each in zip(line.notes, phrased(line.notes, True), strict=True)
        ]
        assert [pitch for *_, pitch in found] == [pitch for *_, pitch in wanted]
        for got, expected in zip(sorted(found), wanted, strict=True):
            assert (got[0], got[2]) == pytest.approx((expected[0], expected[2]), abs=1e-6)
            assert got[1] == pytest.approx(expected[1], abs=1 / 480), "to the tick"


def test_music21_reads_meter_and_tempo(tmp_path: Path) -> None:
    from music21 import converter, meter, tempo

    score = converter.parse(tempo_free(two_five_one()[0], tmp_path), forceSource=True)
    assert score.recurse().getElementsByClass(meter.TimeSignature)[0].ratioString == "4/4"
    assert score.recurse().getElementsByClass(tempo.MetronomeMark)[0].number == 120


# General MIDI Level 1, sound set and percussion key map, as music21 knows them.
def test_sounds_are_those_of_general_midi() -> None:
    from music21 import instrument
    from music21.midi.percussion import PercussionMapper

    chords = instrument.instrumentFromMidiProgram(PROGRAMS["chords"] - 1)
    bass = instrument.instrumentFromMidiProgram(PROGRAMS["bass"] - 1)
    assert isinstance(chords, instrument.ElectricPiano)
    assert isinstance(bass, instrument.AcousticBass)
    mapper = PercussionMapper()
    for key, modifier in ((ACCENT_KEY, "high"), (CLICK_KEY, "low")):
        block = mapper.midiPitchToInstrument(key)
        assert isinstance(block, instrument.Woodblock)
        assert block.modifier == modifier
    assert CHANNELS["click"] == 9, "percussion is on channel 10, counted from 1"
