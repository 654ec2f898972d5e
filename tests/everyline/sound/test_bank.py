"""The sound bank: what it holds, and whether every sound of it is in tune."""

from __future__ import annotations

import json
import subprocess
import sys
from io import BytesIO

import mido
import numpy as np
import pytest

from everyline.rules.pitch import parse_pitch
from everyline.sound import bank
from everyline.sound.audio import _synthesise, available
from everyline.sound.midi_file import PROGRAMS
from tests.everyline.sound.measure import cents
from tests.spaces import CORPUS
from tests.sweeps import sweep

SOUNDS = [sound for sound in bank.SOUNDS if not sound.drums]


def test_every_instrument_of_the_corpus_has_its_sound() -> None:
    by_program = {sound.program: sound for sound in SOUNDS}
    for instrument in CORPUS.instruments.values():
        sound = by_program[instrument.program]
        assert sound.lowest <= parse_pitch(instrument.lowest), instrument.name
        assert parse_pitch(instrument.highest) <= sound.highest, instrument.name
    assert {PROGRAMS["chords"], PROGRAMS["bass"]} <= set(by_program)


def test_the_bank_is_small_and_states_its_licence() -> None:
    data = bank.PATH.read_bytes()
    assert data[:4] == b"RIFF" and data[8:12] == b"sfbk"
    assert len(data) < 7_000_000
    licence = bank.LICENCE.read_text()
    assert "Permission is hereby granted, free of charge" in licence
    assert "Frank Wen" in licence
    assert b"Frank Wen" in data and b"MIT License" in data


def test_the_script_that_made_it_ships_and_is_told_what_to_make() -> None:
    assert bank.PATH.with_name("make_bank.mjs").is_file()
    told = subprocess.run(
        [sys.executable, "-m", "everyline.sound.bank"], capture_output=True, text=True, check=True
    )
    wanted = json.loads(told.stdout)
    assert len(wanted) == len(bank.SOUNDS)
    assert {each["program"] for each in wanted if not each["keys"]} == {n - 1 for n in bank.PROGRAMS}


def scale(program: int, keys: list[int]) -> bytes:
    """Each key for a second at 60 beats a minute, half a second apart."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000)])
    track.append(mido.Message("program_change", program=program - 1))
    for key in keys:
        track.append(mido.Message("note_on", note=key, velocity=96))
        track.append(mido.Message("note_off", note=key, time=480))
        track.append(mido.Message("control_change", control=7, value=100, time=240))
    track.append(mido.MetaMessage("end_of_track", time=960))
    buffer = BytesIO()
    mido.MidiFile(type=1, ticks_per_beat=480, tracks=[track]).save(file=buffer)
    return buffer.getvalue()


@pytest.mark.skipif(not available(), reason="no synthesiser on this machine")
@pytest.mark.parametrize("sound", SOUNDS, ids=lambda sound: str(sound.program))
def test_every_sound_is_in_tune_within_10_cents(sound: bank.Sound) -> None:
    keys = list(range(sound.lowest, sound.highest + 1, sweep(9, 3)))
    samples, rate = _synthesise(scale(sound.program, keys))
    signal = np.asarray(samples.mean(axis=1) / 32768)
    for place, key in enumerate(keys):
        start = 1.5 * place
        steady = signal[int((start + 0.1) * rate) : int((start + 0.9) * rate)]
        assert abs(cents(steady, rate, key)) <= 10, key
        assert np.abs(steady).max() > 0.001


@pytest.mark.skipif(not available(), reason="no synthesiser on this machine")
def test_no_key_is_silent() -> None:
    for program in sorted(bank.PROGRAMS)[:: sweep(6, 1)]:
        keys = [0, 127]
        samples, rate = _synthesise(scale(program, keys))
        for place in range(2):
            assert np.abs(samples[int(1.5 * place * rate) : int((1.5 * place + 1) * rate)]).max() > 0, program
