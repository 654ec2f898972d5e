"""Takes made by our own sound: a line played as a person plays it, early and late, the tempo drifting."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace
from io import BytesIO

import numpy as np
import soundfile
from numpy.typing import NDArray

from everyline.rules.annotate import AnnotatedLine
from everyline.sound.audio import _synthesise
from everyline.sound.midi_file import write_performance
from everyline.sound.performance import Performance, perform
from everyline.sound.played import PartNote
from everyline.sound.sound_options import CLICK, LINE, PARTS, SoundOptions

NOISE, DRIFT = 0.020, 0.05
"""Standard deviation of a note's time in seconds, and by which part the tempo drifts within the line."""
PROGRAMS = {"guitar": 27, "tenor-saxophone": 67, "flute": 74}
"""General MIDI programs of the instruments by their names in the corpus."""


@dataclass(frozen=True, slots=True)
class Take:
    """A take: its samples, its MIDI file, and when each note of the line begins, in seconds."""

    samples: NDArray[np.float32]
    rate: int
    midi: bytes
    onsets: tuple[float, ...]

    def file(self, form: str = "WAV", subtype: str | None = None) -> bytes:
        """The sound as a file, half as loud as can be."""
        buffer = BytesIO()
        loud = self.samples / np.abs(self.samples).max() / 2
        soundfile.write(buffer, loud, self.rate, format=form, subtype=subtype)
        return buffer.getvalue()


def played(
    line: AnnotatedLine,
    tempo: float,
    program: int,
    seed: int,
    *,
    noise: float = NOISE,
    drift: float = DRIFT,
    click: bool = False,
) -> Take:
    """A line alone after a bar of count-in, silent without ``click``. The tempo rises or falls evenly to the
    end, or goes out and back, as the seed has it; each note is early or late by a normal deviate."""
    muted = frozenset(PARTS) - {LINE} - ({CLICK} if click else set())
    options = SoundOptions(tempi=(tempo,), mute=muted)
    (whole,) = perform(line, options).passes
    notes = _as_a_person(whole.notes, random.Random(seed), noise * tempo / 60, drift)
    moved = replace(whole, notes=tuple(notes))
    midi = write_performance(Performance((moved,)), [program], options)
    samples, rate = _synthesise(midi)
    onsets = tuple(moved.seconds(note.start) for note in notes if note.part == LINE)
    return Take(samples[:, 0].astype(np.float32), rate, midi, onsets)


def _as_a_person(
    notes: tuple[PartNote, ...], chance: random.Random, noise: float, drift: float
) -> list[PartNote]:
    """Notes with other times, in beats; the line's first, the click as it is."""
    line = sorted((note for note in notes if note.part == LINE), key=lambda note: note.start)
    end = line[-1].end
    by = chance.choice((-drift, drift))
    out_and_back = chance.random() < 0.5

    def when(beat: float) -> float:
        if out_and_back:
            return beat + by * end / (2 * math.pi) * (1 - math.cos(2 * math.pi * beat / end))
        return beat * (1 + by * beat / end / 2)

    starts = [when(note.start) + max(-2.5 * noise, min(2.5 * noise, chance.gauss(0, noise))) for note in line]
    found = []
    for place, (note, start) in enumerate(zip(line, starts, strict=True)):
        stop = start + when(note.end) - when(note.start)
        if place + 1 < len(line):
            stop = min(stop, starts[place + 1])
        found.append(replace(note, start=start, end=max(stop, start + 0.05)))
    return [*found, *(note for note in notes if note.part != LINE)]
