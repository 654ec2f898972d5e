"""Measuring sound: pitch in cents, onsets in seconds. Signals are mono, in floating point."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

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


def first_sound(signal: Signal, rate: int, level: float = 0.001) -> float:
    """Seconds to the first sample above a part of the loudest (-60 dB)."""
    loud = np.abs(signal) > level * np.abs(signal).max()
    return float(np.argmax(loud)) / rate
