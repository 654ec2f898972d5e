"""Recordings of real instruments: single notes, and lines put together from them. Their source and licence
are in ``recorded/README.md``; the pitch of each is the one that the publisher names."""

from __future__ import annotations

import random
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from everyline.listening import hear
from everyline.listening.notes import notes_of
from everyline.listening.period import too_low
from everyline.listening.recording import RATE as LISTENED_AT
from everyline.listening.recording import read_recording
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.rulefile import parse_rules
from everyline.sound.swing import swing_map
from everyline.spaces.checking import likeliest
from everyline.spaces.space import Space
from tests.spaces import CORPUS
from tests.sweeps import sweep

FOLDER = Path(__file__).parent / "recorded"
RATE = 22_050
TEMPI = (120, 160, 80, 60, 200)
RANGES = {"saxophone": ("E3", "G5"), "guitar": ("E3", "D5")}
"""Between these the recorded notes are a chromatic scale, but for A3 of the saxophone."""


@cache
def note(instrument: str, pitch: int) -> NDArray[np.float32]:
    """One recorded note."""
    samples, rate = soundfile.read(FOLDER / instrument / f"{pitch}.ogg", dtype="float32")
    assert rate == RATE
    return np.asarray(samples)


def wav(samples: NDArray[np.float32]) -> bytes:
    """Samples as a file."""
    buffer = BytesIO()
    soundfile.write(buffer, samples, RATE, format="WAV")
    return buffer.getvalue()


def spliced(line: AnnotatedLine, instrument: str, tempo: float, chance: random.Random) -> bytes:
    """A line of recorded notes, each let go when the next begins, early or late by 20 ms as a rule, after a
    second and a bit of room noise."""
    timing = swing_map(line, tempo)
    starts = [
        1.2 + timing.seconds(each.onset - line.notes[0].onset) + chance.gauss(0, 0.02) for each in line.notes
    ]
    noise = np.random.default_rng(chance.randrange(1 << 30))
    sound = noise.normal(0, 0.0005, round((starts[-1] + 2) * RATE)).astype(np.float32)
    ends = [*starts[1:], starts[-1] + 1.2]
    for each, start, end in zip(line.notes, starts, ends, strict=True):
        recorded = note(instrument, each.pitch)[: max(1, round((end - start) * RATE))].copy()
        fade = min(len(recorded), round(0.01 * RATE))
        recorded[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
        place = round(start * RATE)
        sound[place : place + len(recorded)] += recorded
    return wav(sound)


def _line(space: Space, instrument: str, chance: random.Random) -> AnnotatedLine:
    """A random line all of whose notes were recorded."""
    while True:
        line = space.line(chance.randrange(space.count) + 1)
        if all((FOLDER / instrument / f"{each.pitch}.ogg").exists() for each in line.notes):
            return line


@pytest.mark.parametrize("instrument", RANGES)
@pytest.mark.slow
def test_lines_of_recorded_notes(instrument: str) -> None:
    lowest, highest = RANGES[instrument]
    rules = parse_rules(
        {
            "changes": "Dm7 | G7 | Cmaj7",
            "range": {"lowest": lowest, "highest": highest},
            "arpeggio": {"turns": 1},
            "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["0-1"]},
        },
        CORPUS,
    )
    space, chance = Space(rules), random.Random(f"recorded {instrument}")
    notes = right = added = 0
    missed = []
    for tempo in TEMPI[: sweep(1, 5)]:
        for _ in range(sweep(1, 4)):
            line = _line(space, instrument, chance)
            heard = hear(spliced(line, instrument, tempo, chance), "take.wav", rules, tempo)
            events, _verdict = likeliest(space, heard.line.candidates)
            wanted = {(each.onset, each.pitch) for each in line.events}
            found = {(each.onset, each.pitch) for each in events}
            notes, right = notes + len(wanted), right + len(wanted & found)
            added += max(0, len(found) - len(wanted))
            if wanted != found:
                missed.append(f"{tempo}: {len(wanted & found)} of {len(wanted)}")
    print(f"{instrument}: {notes} notes, {right} right ({right / notes:.2%}), {added} added; {missed}")
    assert right >= 0.98 * notes, missed


@pytest.mark.parametrize("instrument", ["saxophone", "guitar", "flute"])
def test_each_recorded_note_is_heard_as_its_publisher_names_it(instrument: str) -> None:
    files = sorted(FOLDER.joinpath(instrument).glob("*.ogg"))[:: sweep(4, 1)]
    silence = np.zeros(RATE // 2, np.float32)
    wrong = []
    for file in files:
        pitch = int(file.stem)
        heard = notes_of(read_recording(wav(np.concatenate([silence, note(instrument, pitch)])), file.name))
        if [each.pitch for each in heard.notes] != [pitch]:
            wrong.append((pitch, [(each.pitch, each.sure, each.length) for each in heard.notes]))
    print(f"{instrument}: {len(files) - len(wrong)} of {len(files)} notes heard as one note each; {wrong}")
    # The vibrato of the flute's highest notes is taken for notes played again.
    assert len(wrong) <= (sweep(1, 2) if instrument == "flute" else 0), wrong


@pytest.mark.parametrize(("first", "second"), [(81, 88), (88, 81), (88, 93)])
def test_a_tone_that_begins_while_another_rings_is_not_heard_as_their_common_fundamental(
    first: int, second: int
) -> None:
    begun, held = RATE // 2, RATE // 2
    ringing = note("flute", first)[: held + RATE * 2 // 5].copy()
    ringing[held:] *= np.linspace(1, 0, len(ringing) - held, dtype=np.float32)
    after = note("flute", second)
    sound = np.zeros(begun + held + len(after), np.float32)
    sound[begun : begun + len(ringing)] += ringing
    sound[begun + held :] += after
    heard = notes_of(read_recording(wav(sound), "take.wav"))
    assert [each.pitch for each in heard.notes] == [first, second]


@pytest.mark.parametrize(
    ("partials", "semitones"),
    [
        ({1: 1.0, 2: 0.5, 3: 0.3}, 0),
        ({1: 0.15, 2: 1.0, 3: 0.8, 4: 0.4}, 0),
        ({2: 1.0, 3: 0.7, 4: 0.5, 6: 0.4}, 12),
        ({2: 0.02, 3: 1.0, 6: 0.3}, 19),
        ({3: 0.6, 4: 1.0, 6: 0.2}, 24),
    ],
)
def test_a_pitch_without_its_fundamental_is_too_low(partials: dict[int, float], semitones: int) -> None:
    times = np.arange(LISTENED_AT // 8) / LISTENED_AT
    sound = sum(level * np.sin(2 * np.pi * 392 * each * times) for each, level in partials.items())
    assert too_low(np.asarray(sound, np.float32), 392.0) == semitones
