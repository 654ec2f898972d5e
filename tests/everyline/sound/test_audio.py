"""Sound measured, not assumed: onsets, pitch, level, tails, files."""

from __future__ import annotations

import signal
import sys
import wave
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from types import FrameType
from typing import Any

import mutagen
import numpy as np
import pytest

from everyline.corpora.errors import EverylineError, InputError
from everyline.listening.recording import read_recording
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.rulefile import parse_rules
from everyline.sound import audio
from everyline.sound.audio import Audio, available, render
from everyline.sound.performance import perform
from everyline.sound.sound_options import SoundOptions, ladder
from everyline.sound.swing import swing_map
from everyline.spaces.space import Space
from tests.everyline.sound.measure import Signal, cents, first_sound, onsets
from tests.everyline.sound.sounding import in_meter, pickups, two_five_one
from tests.spaces import CORPUS, TWO_FIVE_ONE

synthesiser = pytest.mark.skipif(not available(), reason="no synthesiser on this machine")

LINE_ONLY = frozenset({"chords", "bass", "drums", "click"})


def mono(sound: Audio) -> Signal:
    """The sound in the middle, full scale at 1."""
    return np.asarray(sound.samples.mean(axis=1) / 32768)


TIMED: dict[str, Callable[[], AnnotatedLine]] = {
    "eighths": lambda: two_five_one()[3],
    "pickup": lambda: next(line for line in pickups().sample(50, 2) if line.notes[0].onset == -720),
    "triplets": lambda: in_meter("4/4", "Dm7 G7 | Cmaj7", 3)[2],
}


@synthesiser
@pytest.mark.parametrize(
    ("kind", "tempo"), [("eighths", 60), ("eighths", 200), ("pickup", 150), ("triplets", 110)]
)
def test_onsets_lie_within_5_ms_of_the_swing_map(kind: str, tempo: float) -> None:
    line = TIMED[kind]()
    options = SoundOptions(tempi=(tempo,), mute=LINE_ONLY, count_in=0)
    timing = swing_map(line, tempo)
    assert (timing.ratio > 1) is (kind != "triplets")
    measured = onsets(line, options)
    zero = measured[0][0] - timing.seconds(line.notes[0].onset)
    for note, (wanted, heard) in zip(line.notes, measured, strict=True):
        assert wanted == pytest.approx(zero + timing.seconds(note.onset))
        assert abs(heard - wanted) <= 0.005, note


def test_the_onset_measurement_can_tell() -> None:
    signal = np.zeros(4800)
    signal[1234:] = np.sin(np.arange(4800 - 1234) / 20)
    assert first_sound(signal, 48000) == pytest.approx(1235 / 48000, abs=1e-4)


@synthesiser
@pytest.mark.parametrize("instrument", ["guitar", "trumpet", "alto-saxophone", "piano-right-hand"])
def test_lines_are_in_tune_within_10_cents(instrument: str) -> None:
    rules = parse_rules({"changes": "Fm7 | Bb7 | Ebmaj7", "range": {"instrument": instrument}}, CORPUS)
    line = Space(rules).sample(1, 4)[0]
    sound = render(line, SoundOptions(tempi=(50,), swing="straight", mute=LINE_ONLY))
    signal = mono(sound)
    for time in sound.performance.timed_notes():
        steady = signal[int((time.start + 0.1) * sound.rate) : int((time.end - 0.02) * sound.rate)]
        assert abs(cents(steady, sound.rate, line.notes[time.note].pitch)) <= 10


@pytest.mark.parametrize("wrong", [-40.0, -12.0, 0.0, 3.0, 25.0])
@pytest.mark.parametrize("pitch", [40, 69, 88])
def test_the_pitch_measurement_can_tell(pitch: int, wrong: float) -> None:
    frequency = 440 * 2 ** ((pitch - 69 + wrong / 100) / 12)
    time = np.arange(0, 0.5, 1 / 48000)
    tone = sum(np.sin(2 * np.pi * frequency * part * time) / part for part in range(1, 6))
    assert cents(np.asarray(tone), 48000, pitch) == pytest.approx(wrong, abs=0.5)


@synthesiser
@pytest.mark.parametrize("tempo", [30, 120, 400])
def test_no_tail_is_cut(tempo: int) -> None:
    sound = render(two_five_one()[0], SoundOptions(tempi=(tempo,)))
    signal = np.abs(mono(sound))
    assert sound.seconds >= sound.performance.seconds + 2
    assert signal[-sound.rate // 20 :].max() < 0.001 * signal.max()
    last = max(time.end for time in sound.performance.timed_notes())
    assert signal[int(last * sound.rate) :].max() > 0, "the last note rings on"


@synthesiser
def test_the_count_in_is_heard_and_muted_parts_are_not() -> None:
    line = two_five_one()[0]
    counted = render(line, SoundOptions(tempi=(120,)))
    silent = render(line, SoundOptions(tempi=(120,), mute=frozenset({"click"})))
    before = int(1.99 * counted.rate)
    assert np.abs(mono(counted)[:before]).max() > 0.01
    assert np.abs(mono(silent)[:before]).max() == 0


@synthesiser
def test_files_of_every_format_hold_the_same_sound() -> None:
    soundfile = pytest.importorskip("soundfile")
    sound = render(two_five_one()[0], SoundOptions(tempi=(200,), count_in=0))
    with wave.open(BytesIO(sound.encode("wav"))) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, sound.rate)
        assert file.readframes(file.getnframes()) == sound.samples.tobytes()
    lossless, rate = soundfile.read(BytesIO(sound.encode(".FLAC")), dtype="int16")
    assert rate == sound.rate
    assert np.array_equal(lossless, sound.samples)
    lossy, rate = soundfile.read(BytesIO(sound.encode("mp3")), dtype="float64")
    assert rate == sound.rate
    assert len(lossy) == pytest.approx(len(sound.samples), abs=0.1 * rate)
    shorter = min(len(lossy), len(sound.samples))
    assert np.corrcoef(lossy[:shorter, 0], sound.samples[:shorter, 0])[0, 1] > 0.98
    assert np.abs(lossy).max() < 1


@synthesiser
@pytest.mark.parametrize("form", ["flac", "mp3"])
def test_tags_are_read_by_another_program(form: str) -> None:
    rules = parse_rules({**TWO_FIVE_ONE, "title": "Düster & leise", "key": "C"}, CORPUS)
    line = Space(rules)[3]
    sound = render(line, SoundOptions(tempi=(132,), count_in=0))
    tags = mutagen.File(BytesIO(sound.encode(form)))
    said = (
        [tags["title"], tags["bpm"], tags["key"], tags["description"]]
        if form == "flac"
        else [tags[name].text for name in ("TIT2", "TBPM", "TKEY", "COMM::eng")]
    )
    assert said == [["Düster & leise, line 4"], ["132"], ["C"], ["Dm7 | G7 | Cmaj7"]]
    assert tags.info.length == pytest.approx(sound.seconds, abs=0.1)


@synthesiser
def test_the_same_input_sounds_the_same() -> None:
    options = SoundOptions(tempi=ladder(100, 200, 2))
    assert audio.write(two_five_one()[7], options) == audio.write(two_five_one()[7], options)


@synthesiser
def test_a_ladder_is_one_file() -> None:
    sound = render(two_five_one()[0], SoundOptions(tempi=ladder(120, 240, 3)))
    assert sound.performance.seconds == pytest.approx(16 * (0.5 + 60 / 180 + 0.25))
    assert sound.seconds > sound.performance.seconds


REFUSED: list[tuple[dict[str, Any], str]] = [
    ({"mute": frozenset({"line", "chords", "bass", "drums", "click"})}, "Every part is muted"),
    ({"program": 128}, "no General MIDI program 128; it has 1, 5, 12"),
    ({"tempi": (30.0,), "repeats": 100}, "for 53 minutes"),
]


@synthesiser
@pytest.mark.parametrize(("choice", "message"), REFUSED[:2])
def test_what_cannot_be_heard_is_refused(choice: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        render(two_five_one()[0], SoundOptions(**choice))


def test_more_than_an_hour_is_refused() -> None:
    with pytest.raises(InputError, match=r"for 107 minutes; at most 60 fit one file"):
        render([two_five_one()[0]] * 2, SoundOptions(tempi=(30,), repeats=100))


def test_an_unknown_format_is_refused() -> None:
    rate = 48000
    sound = Audio(np.zeros((1, 2), np.int16), rate, perform(two_five_one()[0]))
    with pytest.raises(InputError, match=r'"flak" is not a sound format; allowed are wav, flac, mp3.*"flac"'):
        sound.encode("flak")


def test_without_a_synthesiser_sound_says_so_and_midi_works(monkeypatch: pytest.MonkeyPatch) -> None:
    from everyline.sound import midi_file

    # None in the table of modules makes the import fail, as on a machine without the package.
    monkeypatch.setitem(sys.modules, "midirenderer", None)
    assert not available()
    with pytest.raises(
        EverylineError, match=r"no synthesiser here.*MIDI files and all else still work"
    ) as caught:
        audio.write(two_five_one()[0])
    assert not isinstance(caught.value, InputError)
    assert midi_file.write(two_five_one()[0])[:4] == b"MThd"


def test_without_mido_midi_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from everyline.sound import midi_file

    monkeypatch.setitem(sys.modules, "mido", None)
    with pytest.raises(EverylineError, match="needs the package mido"):
        midi_file.write(two_five_one()[0])


@synthesiser
def test_without_soundfile_wav_still_works(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "soundfile", None)
    sound = render(two_five_one()[0], SoundOptions(tempi=(300,), count_in=0))
    with pytest.raises(EverylineError, match=r"FLAC needs the package soundfile.*WAV works without it"):
        sound.encode("flac")
    assert sound.encode("wav")[:4] == b"RIFF"


@synthesiser
@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="timers of Unix")
@pytest.mark.parametrize("form", ["flac", "mp3"])
def test_no_signal_falls_into_what_the_library_calls_back(form: str) -> None:
    """What a handler raises there reaches nobody, and the file lacks what was to be written."""
    noise = np.random.default_rng(1).integers(-9000, 9000, (600_000, 2), np.int16)
    sound = replace(render(two_five_one()[0], SoundOptions(count_in=0)), samples=noise)
    met: set[str] = set()

    def note(number: int, frame: FrameType | None) -> None:
        while frame is not None:
            met.add(frame.f_code.co_name)
            frame = frame.f_back

    before = signal.signal(signal.SIGALRM, note)
    signal.setitimer(signal.ITIMER_REAL, 0.0002, 0.0002)
    try:
        read_recording(sound.encode(form), "noise")
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
    assert met and not {name for name in met if name.startswith("vio_")}
