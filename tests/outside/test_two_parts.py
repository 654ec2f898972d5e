"""Scores for two players read back by other people's readers: music21 (BSD), partitura (Apache-2.0), verovio
(LGPL) and mido (MIT). Onsets, pitches and lengths of both parts must be those of their lines.
"""

import io
from functools import cache

import mido
import pytest
from lxml import etree

from everyline import parse
from everyline.paper.layout import score_part
from everyline.paper.musicxml import write
from everyline.paper.score_options import ScoreOptions
from everyline.paper.two_parts import SecondStaff
from everyline.rules.annotate import AnnotatedLine
from everyline.sound.midi_file import CHANNELS
from everyline.sound.midi_file import write as write_midi
from everyline.sound.sound_options import LINE, SECOND, SoundOptions
from everyline.spaces.second_part import second_part
from tests.handmade import handmade
from tests.schema import musicxml_schema
from tests.sweeps import sweep

BY_THIRDS = {
    "guitars": 'changes = "Dm7 | G7 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"',
    "no instrument, waltz": 'changes = "Em7 | A7 | Dmaj7 | %"\nmeter = "3/4"\nkey = "D"',
    "trumpets": 'changes = "Fm7 Bb7 | Ebmaj7"\nkey = "Eb"\n[range]\ninstrument = "trumpet"',
    "cells and passing notes": 'changes = "Dm7 | G7 | Cmaj7"\n[rhythm]\ncells = ["8 8", "4", "r8 8", '
    '"8t 8t 8t"]\n[passing]\nkinds = ["scale"]\n[ending]\nuse = ["plain"]',
}
AT_CONCERT_PITCH = {
    "alto": ("D4:4. F4 A4:4t B4:8t G4:4 r8 B4 D5:4. C5:2 r8 E5", "alto-saxophone", "Db"),
    "trumpet": ("D4:8t E4:8t F4:8t G4 r8 A4:4. C5 B4:2 r4 G4 F4 E4:1", "trumpet", "C"),
    "baritone": ("D3:8. E3:16 F3:16 G3:16 A3 C4:4 r8 B3:4. A3 G3:2.", "baritone-saxophone", "C"),
}
OPTIONS = ScoreOptions(tempo=120, swing="2:1")
Found = list[tuple[float, int, float]]


@cache
def pair(name: str, place: int = 0) -> tuple[AnnotatedLine, SecondStaff]:
    """A line with a second part."""
    if name in AT_CONCERT_PITCH:
        text, instrument, key = AT_CONCERT_PITCH[name]
        line = handmade(text, "Dm7 | G7 | Cmaj7 | %", range={"instrument": instrument}, key=key)
        return line, SecondStaff(line, concert=True)
    space = parse(BY_THIRDS[name])
    pairs = ((line, second_part(space, line)) for line in space.sample(30 + 10 * place, seed=3))
    found = [(line, SecondStaff(second.line)) for line, second in pairs if second is not None]
    return found[place]


def heard(line: AnnotatedLine, up: int = 0) -> Found:
    """Onset and length in quarter notes, pitch moved up by some semitones."""
    quarter = 480 / line.rules.progression.meter.quarters
    return [(n.onset / quarter, n.pitch + up, n.length / quarter) for n in line.notes]


def close(found: Found, wanted: Found) -> None:
    assert [pitch for _, pitch, _ in found] == [pitch for _, pitch, _ in wanted]
    for (left, _, short), (right, _, long) in zip(found, wanted, strict=True):
        assert (left, short) == pytest.approx((right, long), abs=2e-3)


def staves(data: bytes) -> list[int]:
    """The places of both players' staves among the parts of a document."""
    names = etree.fromstring(data).xpath("part-list/score-part/part-name")
    return [place for place, name in enumerate(names) if "tablature" not in name.text]


CASES = [(name, 0) for name in list(AT_CONCERT_PITCH)[: sweep(1, 3)]] + [
    (name, place) for name in list(BY_THIRDS)[-sweep(2, 4) :] for place in range(sweep(1, 4))
]


@pytest.mark.parametrize(("name", "place"), CASES)
def test_music21(name: str, place: int) -> None:
    music21 = pytest.importorskip("music21")
    line, second = pair(name, place)
    data = write([line], OPTIONS, seconds=[second])
    musicxml_schema().assertValid(etree.fromstring(data))
    score = music21.converter.parseData(data.decode(), format="musicxml")
    symbols = [
        [each.figure[0] for each in score.parts[at].flatten().getElementsByClass("ChordSymbol")]
        for at in staves(data)
    ]
    changes = len(line.rules.progression.chords)
    # A part at another pitch cannot read the symbols of the first one.
    assert [len(each) for each in symbols] == [changes, changes if second.concert else 0]
    assert symbols[0] != symbols[1]
    sounding = score.toSoundingPitch()
    for at, played in zip(staves(data), (line, second.line), strict=True):
        notes = sounding.parts[at].stripTies().flatten().getElementsByClass(music21.note.Note)
        close([(float(n.offset), n.pitch.midi, float(n.quarterLength)) for n in notes], heard(played))


@pytest.mark.parametrize(("name", "place"), CASES)
@pytest.mark.filterwarnings("ignore::UserWarning")
def test_partitura(name: str, place: int) -> None:
    partitura = pytest.importorskip("partitura")
    line, second = pair(name, place)
    data = write([line], OPTIONS, seconds=[second])
    parts = partitura.load_musicxml(io.BytesIO(data)).parts
    written = (score_part([line], OPTIONS).semitones, 0 if second.concert else None)
    for at, played, up in zip(staves(data), (line, second.line), written, strict=True):
        notes = sorted(parts[at].note_array(), key=lambda n: float(n["onset_quarter"]))
        found = [(float(n["onset_quarter"]), int(n["pitch"]), float(n["duration_quarter"])) for n in notes]
        close(found, heard(played, written[0] if up is None else up))


@pytest.mark.parametrize(("name", "place"), CASES)
def test_verovio(name: str, place: int) -> None:
    verovio = pytest.importorskip("verovio")
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    line, second = pair(name, place)
    assert toolkit.loadData(write([line], seconds=[second]).decode())
    toolkit.renderToMIDI()
    part = score_part([line], OPTIONS)
    times = []
    for letters, played, up in (
        ("nt", line, part.semitones),
        ("ms", second.line, 0 if second.concert else part.semitones),
    ):
        for letter in letters if part.tuning else letters[0]:
            values = [toolkit.getMIDIValuesForElement(f"{letter}1-{i}") for i in range(len(played.notes))]
            assert [v["pitch"] for v in values] == [note.pitch + up for note in played.notes]
            times.append([v["time"] for v in values])
    assert all(each == times[0] for each in times)


@pytest.mark.parametrize(("name", "place"), [each for each in CASES if each[0] in BY_THIRDS])
def test_mido_reads_two_tracks(name: str, place: int) -> None:
    line, second = pair(name, place)
    options = SoundOptions(tempi=(120,), swing="straight", count_in=0)
    file = mido.MidiFile(file=io.BytesIO(write_midi([line], options, [second.line])))
    found: dict[int, list[tuple[float, int]]] = {}
    for track in file.tracks:
        at = 0
        for message in track:
            at += message.time
            if message.type == "note_on" and message.velocity:
                found.setdefault(message.channel, []).append((at / file.ticks_per_beat, message.note))
    assert CHANNELS[LINE] != CHANNELS[SECOND]
    first = found[CHANNELS[LINE]][0][0] - heard(line)[0][0]
    for part, played in ((LINE, line), (SECOND, second.line)):
        notes = found[CHANNELS[part]]
        assert [pitch for _, pitch in notes] == [note.pitch for note in played.notes]
        assert [at - first for at, _ in notes] == pytest.approx([at for at, _, _ in heard(played)], abs=0.01)


def test_the_transposed_part_says_by_how_much() -> None:
    """An alto saxophone in E flat is written a major sixth above its sound (common practice)."""
    line, second = pair("alto")
    parts = etree.fromstring(write([line], seconds=[second])).findall("part")
    assert [part.findtext("measure/attributes/transpose/chromatic") for part in parts] == ["-9", None]
    assert [part.findtext("measure/attributes/key/fifths") for part in parts] == ["-2", "-5"]
