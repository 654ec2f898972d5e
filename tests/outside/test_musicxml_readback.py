"""MusicXML read back by other people's readers: music21 (BSD), partitura (Apache-2.0) and verovio (LGPL).

Pitches, onsets and lengths must be those of the line. music21 undoes the transposition of a part; partitura
and verovio give the written pitch, from which the part's interval is taken here.
"""

import io
import itertools
import json
import os
import random
import subprocess
from pathlib import Path
from typing import Any

import mido
import pytest
from lxml import etree

from everyline import Space, parse
from everyline.corpora import Corpus, load
from everyline.paper.fingering import finger
from everyline.paper.hand_row import roman
from everyline.paper.layout import score_part
from everyline.paper.musicxml import write
from everyline.paper.score_options import ScoreOptions
from everyline.paper.transposed import in_key
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.chords import parse_chord
from everyline.rules.pitch import parse_pitch
from everyline.rules.rulefile import load_rules
from everyline.sound.midi_file import write as write_midi
from everyline.sound.sound_options import SoundOptions
from tests.handmade import handmade
from tests.schema import musicxml_schema
from tests.sweeps import sweep

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
CORPUS: Corpus = load()
CASES = {
    "concert": 'changes = "Dm7 | G7b9 | Cmaj7"',
    "two chords a bar": 'changes = "Fm7 Bb7alt | Ebmaj7"\nkey = "Eb"',
    "triplets": 'changes = "Am7 / D7 / | Gmaj7"\nsubdivision = 3\n[approach]\ncount = ["0"]',
    "sixteenths": 'changes = "Am7 D7 | Gmaj7"\nsubdivision = 4\n[approach]\ncount = ["0"]',
    "waltz, pickup": 'changes = "Em7 | A7 | Dmaj7 | %"\nmeter = "3/4"\n[entry]\npickup = [3]',
    "six eighths": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "6/8"\n[arpeggio]\nturns = 2',
    "twelve eighths, three to a beat": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "12/8"\nsubdivision = 1\n'
    "[arpeggio]\nturns = 2",
    "nine eighths, felt in three, in cells": 'changes = "Am7 D7 Bm7 | E7 | Am7"\nmeter = "9/8"\nbeat = "4."\n'
    '[rhythm]\ncells = ["8 8 8", "4 8", "8. 16 8", "r4. 8 8 8", "2.", "8 4 8 4"]',
    "six eighths, felt in two, in cells": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "6/8"\nbeat = "4."\n'
    '[rhythm]\ncells = ["16 16 16 16 8", "8. 8.", "4."]\n[range]\ninstrument = "guitar"',
    "halves": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "2/2"',
    "late entry": 'changes = "Dm7 | G7 | Cmaj7"\n[entry]\nbeats = ["2&"]',
    "guitar": 'changes = "Dm7 G7 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"\nposition = 5',
    "bass": 'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "bass-guitar"',
    "trumpet": 'changes = "C#m7 | F#7 | Bmaj7"\nkey = "B"\n[range]\ninstrument = "trumpet"',
    "alto": 'changes = "Abm7 | Db7 | Gbmaj7"\nkey = "Gb"\n[range]\ninstrument = "alto-saxophone"',
    "cells and passing notes": 'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "guitar"\n'
    '[rhythm]\ncells = ["8 8", "4", "r8 8", "8t 8t 8t", "4. 8", "16 16 8", "r4 8 8"]\n'
    '[passing]\nkinds = ["scale", "chromatic"]\n[ending]\nuse = ["plain", "flat-nine-falls-early"]',
    "baritone": 'changes = "Bbm7 | Eb7 | Abmaj7"\n[range]\ninstrument = "baritone-saxophone"',
}


RHYTHMS: dict[str, tuple[str, dict[str, Any]]] = {
    "rests and held notes": ("D4:4. A4 r8 F4:4 E4 r4 G4:8 r8 B4:4. D5 C5:2. r8 E5", {}),
    "triplets beside eighths": (
        "D4:8t E4:8t F4:8t A4 C5 r8 B4 A4:4t G4:8t F4:8t r8t E4:8t D4:4t F4:4t G4:4t B4:4 A4 G4 E4:4",
        {"range": {"instrument": "guitar"}},
    ),
    "triplets beside sixteenths": (
        "D4:8. E4:16 F4:16 G4:16 A4 C5:8t B4:8t A4:8t G4:4 r16 B4:16 r8 D5:8t r8t F4:8t E4:4. D4:16 C4:16 E4",
        {},
    ),
    "an anticipation": (
        "D4 F4 A4 C5 Eb5 C5 B4 Ab4 F4 D4 G#4 A4 B4 Db5 r8 D5:4. r8 B4 G4:2",
        {"range": {"instrument": "trumpet"}, "key": "C"},
    ),
    "held over two bar lines": (
        "D4:4. F4 A4:4 C5 B4:1 r8 A4 G4:2. E4:4",
        {"range": {"instrument": "guitar"}},
    ),
    "waltz": ("D4:4. F4 A4:4t B4:8t G4:4. r8 B4 D5:4. C5:2 r8 E5", {"meter": "3/4"}),
    "six eighths": ("D4:8. E4:16 F4:8 r8 A4:4 G4:4. B4 r8 D5:4 C5:4. r8 E4:4.", {"meter": "6/8"}),
    "nine eighths, held over the bar": (
        "D4:4. E4:8 F4:8 G4:8 A4:2. C5:4 r8 B4:4. G4:8 r8 E4:8 D4:4. r4 G4:8",
        {"meter": "9/8", "range": {"instrument": "guitar"}},
    ),
    "twelve eighths": (
        "D4:8 F4:8 A4:8 C5:4 B4:8 r8 A4:4 G4:4. E4:8 r4 F4:8 A4:8 G4:8 E4:4. D4:4 C4:8 B3:2. r4. D4:4.",
        {"meter": "12/8", "range": {"instrument": "alto-saxophone"}},
    ),
    "twelve eighths, felt in four": (
        "D4 F4 A4 C5:4 B4 r8 A4:4 G4:4. E4 r4 F4 A4 G4 E4:4. D4:8. C4:16 D4 B3:2. r4. D4:4.+8 r4 F4:2.",
        {"meter": "12/8", "beat": "4.", "range": {"instrument": "guitar"}},
    ),
    "six eighths, felt in two": (
        "@-2 D4 E4 F4:8. G4:8. A4:16 B4:16 A4 G4 B4:4 r8 D5:4 C5:4. r8 E4:4.",
        {"meter": "6/8", "beat": "4.", "entry": {"pickup": [2]}},
    ),
    "pickup in triplets": (
        "@-4 D4:8t E4:8t F4:8t G4 r8 A4:4. C5 B4:2 r4 G4 F4 E4:1",
        {"entry": {"pickup": [4]}},
    ),
}
"""Lines made by hand, with rests, dots, ties over beats and bar lines, and triplets beside other values."""


def some(name: str) -> list[AnnotatedLine]:
    if name in RHYTHMS:
        text, keys = RHYTHMS[name]
        return [handmade(text, "Dm7 | G7 | Cmaj7 | %", **keys)]
    space = parse(CASES[name])
    return [space[0], space[space.count // 3], space[space.count - 1]]


def heard(line: AnnotatedLine, up: int = 0) -> list[tuple[float, int, float]]:
    """Onset and length in quarter notes, pitch moved up by some semitones."""
    quarter = 480 / line.rules.progression.meter.quarters
    return [(n.onset / quarter, n.pitch + up, n.length / quarter) for n in line.notes]


def close(found: list[tuple[float, int, float]], wanted: list[tuple[float, int, float]]) -> None:
    assert [pitch for _, pitch, _ in found] == [pitch for _, pitch, _ in wanted]
    for (left, _, short), (right, _, long) in zip(found, wanted, strict=True):
        assert (left, short) == pytest.approx((right, long), abs=2e-3)


@pytest.mark.parametrize("name", [*CASES, *RHYTHMS])
def test_music21(name: str) -> None:
    music21 = pytest.importorskip("music21")
    for line in some(name):
        data = write([line], ScoreOptions(tempo=120, swing="2:1"))
        score = music21.converter.parseData(data.decode(), format="musicxml")
        written = [each.figure for each in score.parts[0].flatten().getElementsByClass("ChordSymbol")]
        part = score_part([line], ScoreOptions())
        steps = part.steps(line.rules.key, line.rules.progression.chords)
        roots = [part.written_root(chord.root, steps) for chord in line.rules.progression.chords]
        assert [
            figure.replace("-", "b").startswith(root) for figure, root in zip(written, roots, strict=True)
        ]
        staff = score.toSoundingPitch().parts[0].stripTies()
        notes = [n for n in staff.flatten().notes if not isinstance(n, music21.harmony.ChordSymbol)]
        pickup = min(0.0, heard(line)[0][0])
        first = float(notes[0].offset) - heard(line)[0][0] if pickup else 0.0
        close([(float(n.offset) - first, n.pitch.midi, float(n.quarterLength)) for n in notes], heard(line))


def test_music21_reads_fingers_and_positions() -> None:
    music21 = pytest.importorskip("music21")
    for line in some("guitar") + some("triplets beside eighths"):
        score = music21.converter.parseData(write([line]).decode(), format="musicxml")
        found = finger(line)
        notes = list(score.parts[0].stripTies().flatten().getElementsByClass(music21.note.Note))
        read = [
            [each.fingerNumber for each in note.articulations if "Finger" in each.classes[0]]
            for note in notes
        ]
        assert read == [[note.finger] if note.finger else [] for note in found.notes]
        words = score.parts[1].flatten().getElementsByClass(music21.expressions.TextExpression)
        assert [each.content for each in words] == [roman(each) for each in found.positions]


@pytest.mark.parametrize("name", [*CASES, *RHYTHMS])
@pytest.mark.filterwarnings("ignore::UserWarning")
def test_partitura(name: str) -> None:
    partitura = pytest.importorskip("partitura")
    for line in some(name):
        part = score_part([line], ScoreOptions())
        score = partitura.load_musicxml(io.BytesIO(write([line])))
        notes = score.parts[0].note_array(include_staff=True)
        found = [
            (float(n["onset_quarter"]), int(n["pitch"]), float(n["duration_quarter"]))
            for n in sorted(notes, key=lambda n: float(n["onset_quarter"]))
            if n["staff"] == 1
        ]
        close(found, heard(line, part.semitones))


@pytest.mark.parametrize("name", RHYTHMS)
def test_mido_reads_the_same_rhythms_from_midi(name: str) -> None:
    (line,) = some(name)
    options = SoundOptions(tempi=(120,), swing="straight", count_in=0)
    found = _sounded(mido.MidiFile(file=io.BytesIO(write_midi([line], options))))
    wanted = heard(line)
    assert [pitch for _, pitch in found] == [pitch for _, pitch, _ in wanted]
    starts = [onset - found[0][0] for onset, _ in found]
    assert starts == pytest.approx([onset - wanted[0][0] for onset, _, _ in wanted], abs=0.01)


@pytest.mark.filterwarnings("ignore::UserWarning")
def test_partitura_reads_ties_as_ties() -> None:
    """As many written notes as the document has, each tied to the next where one sound takes several."""
    partitura = pytest.importorskip("partitura")
    tied = 0
    for name in RHYTHMS:
        for line in some(name):
            data = write([line])
            staff = etree.fromstring(data).find("part")
            starts = staff.findall("measure/note/tie[@type='start']")
            part = partitura.load_musicxml(io.BytesIO(data)).parts[0]
            notes = [note for note in part.notes if not isinstance(note, partitura.score.GraceNote)]
            assert sum(note.tie_next is not None for note in notes) == len(starts)
            assert len(notes) - len(starts) == len(part.notes_tied) == len(line.notes)
            tied += len(starts)
    assert tied > 10


@pytest.mark.parametrize(
    ("meter", "beat", "referent", "marked"),
    [
        ("4/4", None, 1.0, 120),
        ("6/8", None, 1.5, 40),
        ("12/8", "8", 1.5, 40),
        ("2/2", None, 2.0, 120),
        ("6/8", "4.", 1.5, 120),
        ("12/8", "4.", 1.5, 120),
    ],
)
def test_music21_reads_the_tempo_in_the_note_value_that_is_felt(
    meter: str, beat: str | None, referent: float, marked: int
) -> None:
    """120 beats of the rules: 40 dotted quarters where their beats are eighths by threes."""
    music21 = pytest.importorskip("music21")
    felt = {} if beat is None else {"beat": beat}
    line = handmade("D4:4. F4:4.", "Dm7 | G7", meter=meter, **felt)
    score = music21.converter.parseData(write([line], ScoreOptions(tempo=120)).decode(), format="musicxml")
    (mark,) = score.parts[0].flatten().getElementsByClass(music21.tempo.MetronomeMark)
    assert mark.referent.quarterLength == referent
    assert mark.number == marked
    assert mark.getQuarterBPM() == marked * referent


PROGRAM = os.environ.get("EVERYLINE_NOTATION_PROGRAM", "")


@pytest.mark.notation
@pytest.mark.skipif(not PROGRAM, reason="EVERYLINE_NOTATION_PROGRAM names no program")
def test_a_notation_program_sounds_every_note(tmp_path: Path) -> None:
    """Debian's notation program (GPL), by its own batch file: MusicXML in, MIDI out, read by mido."""
    spaces = [parse(case) for case in CASES.values()]
    lines = [line for name in (*CASES, *RHYTHMS) for line in some(name)]
    lines += [line for space in spaces for line in space.sample(sweep(small=0, full=6), seed=3)]
    jobs = []
    for place, line in enumerate(lines):
        score = tmp_path / f"{place}.musicxml"
        score.write_bytes(write([line]))
        jobs.append({"in": str(score), "out": str(score.with_suffix(".mid"))})
    (tmp_path / "jobs.json").write_text(json.dumps(jobs))
    quiet = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "XDG_RUNTIME_DIR": str(tmp_path)}
    subprocess.run([PROGRAM, "-j", str(tmp_path / "jobs.json")], env=quiet, check=True, capture_output=True)
    for place, line in enumerate(lines):
        found = _sounded(mido.MidiFile(tmp_path / f"{place}.mid"))
        wanted = heard(line)
        first = found[0][0] - wanted[0][0]
        assert [pitch for _, pitch in found] == [pitch for _, pitch, _ in wanted]
        for (onset, _), (due, _, _) in zip(found, wanted, strict=True):
            assert onset - first == pytest.approx(due, abs=0.01)


def _sounded(file: mido.MidiFile) -> list[tuple[float, int]]:
    """Onset in quarter notes and pitch of each note of the first track that has any."""
    for track in file.tracks:
        at, notes = 0, []
        for message in track:
            at += message.time
            if message.type == "note_on" and message.velocity:
                notes.append((at / file.ticks_per_beat, message.note))
        if notes:
            return notes
    return []


@pytest.mark.parametrize("name", [*CASES, *RHYTHMS])
def test_verovio(name: str) -> None:
    verovio = pytest.importorskip("verovio")
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    for line in some(name):
        part = score_part([line], ScoreOptions())
        assert toolkit.loadData(write([line]).decode())
        toolkit.renderToMIDI()
        for prefix in "nt" if part.tuning else "n":
            values = [toolkit.getMIDIValuesForElement(f"{prefix}1-{i}") for i in range(len(line.notes))]
            assert [v["pitch"] for v in values] == [note.pitch + part.semitones for note in line.notes]
            # 500 ms a quarter note at verovio's own 120; it rounds down to whole milliseconds.
            starts = [onset * 500 for onset, _, _ in heard(line)]
            first = values[0]["time"] - starts[0]
            assert [v["time"] for v in values] == pytest.approx([start + first for start in starts], abs=2)


# -- every part of every file adds up, over the whole corpus ------------------------------------------------


def check_score(data: bytes, lines: list[AnnotatedLine]) -> None:
    """Bars add up to the meter, tablature sounds as the staff, notes lie in the instrument's range."""
    score = etree.fromstring(data)
    tuning = {
        int(each.get("line")): _midi(
            each.findtext("tuning-step"), each.findtext("tuning-alter"), each.findtext("tuning-octave")
        )
        for each in score.iter("staff-tuning")
    }
    up = score_part(lines, ScoreOptions()).semitones
    meter = 0.0
    for measure in score.iter("measure"):
        time = measure.find("attributes/time")
        if time is not None:
            meter = 1920 * int(time.findtext("beats")) / int(time.findtext("beat-type"))
        filled: dict[str, int] = {}
        for note in measure.findall("note"):
            staff = note.findtext("staff", "1")
            filled[staff] = filled.get(staff, 0) + int(note.findtext("duration"))
            if note.find("pitch") is None:
                continue
            pitch = _midi(*(note.findtext(f"pitch/{part}") for part in ("step", "alter", "octave")))
            string = note.findtext("notations/technical/string")
            if string is not None:
                fret = int(note.findtext("notations/technical/fret"))
                assert tuning[len(tuning) + 1 - int(string)] + fret == pitch
            instrument = lines[0].rules.instrument
            if instrument is not None:
                assert parse_pitch(instrument.lowest) <= pitch - up <= parse_pitch(instrument.highest)
        if measure.get("implicit") != "yes":
            assert set(filled.values()) == {meter}


def _midi(step: str, alter: str | None, octave: str) -> int:
    return 12 * (int(octave) + 1) + LETTERS[step] + int(alter or 0)


def combinations() -> list[tuple[str, str, str]]:
    """Progression, instrument and key, all of them in a fixed shuffled order."""
    everything = list(
        itertools.product(
            CORPUS.progressions,
            CORPUS.instruments,
            ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"),
        )
    )
    random.Random(1).shuffle(everything)
    return everything[: sweep(12, 400)]


@pytest.mark.slow
@pytest.mark.parametrize(("progression", "instrument", "key"), combinations())
def test_sweep(progression: str, instrument: str, key: str) -> None:
    entry = CORPUS.progressions[progression]
    minor = entry.key.endswith("m")
    space = parse(
        f'changes = """{entry.changes}"""\nkey = "{entry.key}"\nmeter = "{entry.meter}"\n'
        f'[range]\ninstrument = "{instrument}"\n[approach]\ncount = ["0-1"]\nfigures = ["above-below"]\n'
        '[arpeggio]\nturns = 3\n[handoff]\nrule = "any"'
    )
    assert space.count, "a sweep over empty spaces shows nothing"
    tonic = {"Db": "C#", "Gb": "F#", "Ab": "G#"}.get(key, key) + "m" if minor else key
    moved = [in_key(line, tonic) for line in space.sample(2, seed=7)]
    kept = [
        line
        for line in moved
        if all(
            parse_pitch(line.rules.instrument.lowest)
            <= note.pitch
            <= parse_pitch(line.rules.instrument.highest)
            for note in line.notes
            if line.rules.instrument is not None
        )
    ]
    for line in kept:
        for chord in line.rules.progression.chords:
            parse_chord(chord.symbol)
    if kept:
        data = write(kept, ScoreOptions(tempo=140, swing="by-tempo"))
        musicxml_schema().assertValid(etree.fromstring(data))
        check_score(data, kept)


@pytest.mark.parametrize("name", CORPUS.rulefiles)
def test_rule_files(name: str) -> None:
    lines = Space(load_rules(CORPUS.rulefiles[name].path, CORPUS)).sample(3, seed=3)
    data = write(lines)
    musicxml_schema().assertValid(etree.fromstring(data))
    check_score(data, lines)
