"""Measuring sound: pitch in cents, onsets in seconds. Signals are mono, in floating point."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from everyline.rules.annotate import AnnotatedLine
from everyline.sound.audio import _synthesise
from everyline.sound.midi_file import write_performance
from everyline.sound.performance import Performance, perform
from everyline.sound.sound_options import DRUMS, SoundOptions

Signal = NDArray[np.float64]

FRAME = 0.12
"""Seconds of one frame of the pitch measurement: short enough to follow a vibrato."""
PARTIALS = 4


def cents(signal: Signal, rate: int, pitch: int) -> float:
    """How far a tone is from a MIDI pitch (f = 440 * 2^((n - 69) / 12)), in cents, averaged over the signal.

    In each frame the first four partials are sought near their places; each says how far the tone is off, and
    the strong ones count for more. The top of a spectral peak is found by a parabola through its logarithm.
    """
    length = int(FRAME * rate)
    size = 1 << (4 * length).bit_length()
    window = np.hanning(length)
    off, strength = 0.0, 0.0
    for start in range(0, len(signal) - length + 1, length // 2):
        spectrum = np.abs(np.fft.rfft(signal[start : start + length] * window, size)) + 1e-12
        for partial in range(1, PARTIALS + 1):
            expected = 440 * 2 ** ((pitch - 69) / 12) * partial * size / rate
            top = _peak(np.log(spectrum[: int(expected * 1.1)]), expected)
            if top is not None:
                weight = spectrum[round(top)]
                off += weight * 1200 * math.log2(top / expected)
                strength += weight
    assert strength > 0, "no frame has the expected pitch"
    return float(off / strength)


def _peak(spectrum: Signal, expected: float) -> float | None:
    """Place of the highest peak within 70 cents of the expected one; None where there is none."""
    low, high = int(expected / 1.0413), int(expected * 1.0413) + 2
    peak = low + int(np.argmax(spectrum[low:high]))
    if peak in (low, high - 1) or peak + 2 > len(spectrum):
        return None
    left, middle, right = spectrum[peak - 1 : peak + 2]
    return float(peak + 0.5 * (left - right) / (left - 2 * middle + right))


# ITU-R BS.1770-4, tables 1 and 2: a high shelf and a high pass, for 48,000 samples a second.
_SHELF = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1, -1.69065929318241, 0.73248077421585])
_PASS = ([1.0, -2.0, 1.0], [1, -1.99004745483398, 0.99007225036621])


def loudness(signal: Signal) -> float:
    """Loudness of two channels, of shape (frames, 2) at 48,000 a second, in decibels below full scale.

    It is weighted as in ITU-R BS.1770-4, without its gate.
    """
    weighted = lfilter(*_PASS, lfilter(*_SHELF, signal, axis=0), axis=0)
    return float(-0.691 + 10 * np.log10((weighted**2).mean(axis=0).sum() + 1e-12))


def first_sound(signal: Signal, rate: int, level: float = 0.001) -> float:
    """Seconds to the first sample above a part of the loudest (-60 dB)."""
    loud = np.abs(signal) > level * np.abs(signal).max()
    return float(np.argmax(loud)) / rate


def onsets(line: AnnotatedLine, options: SoundOptions) -> list[tuple[float, float]]:
    """For each note of a line, when the swing map wants it and when it starts to sound, in seconds.

    The line is played with ever more of its notes: what is new in the sound is the new note alone.
    """
    performance = perform(line, options)
    (whole,) = performance.passes
    found, before = [], np.zeros(0)
    for time in performance.timed_notes():
        part = replace(whole, notes=whole.notes[: time.note + 1])
        samples, rate = _synthesise(write_performance(Performance((part,)), [27], options))
        sound = samples.mean(axis=1)
        new, shared = sound.copy(), min(len(sound), len(before))
        new[:shared] -= before[:shared]
        found.append((time.start, first_sound(new, rate)))
        before = sound
    return found


def stroke_onsets(line: AnnotatedLine, options: SoundOptions, key: int, most: int) -> list[float]:
    """When the first strokes of a drum start to sound, in seconds, found as in ``onsets``."""
    (whole,) = perform(line, options).passes
    strokes = sorted((n for n in whole.notes if (n.part, n.pitch) == (DRUMS, key)), key=lambda n: n.start)
    found, before = [], np.zeros(0)
    for count in range(1, most + 1):
        part = replace(whole, notes=tuple(strokes[:count]))
        samples, rate = _synthesise(write_performance(Performance((part,)), [27], options))
        sound = samples.mean(axis=1)
        new, shared = sound.copy(), min(len(sound), len(before))
        new[:shared] -= before[:shared]
        found.append(first_sound(new, rate, 0.05))
        before = sound
    return found
