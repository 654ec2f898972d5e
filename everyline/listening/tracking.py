"""From samples to frames: the pitch that sounds every 8 ms, how sure that is, how loud, where it begins anew.

Pitch is tracked by SwiftF0 (Nieradzik 2025, arXiv:2508.18440). It is made for 16,000 samples a second and
hears pitches through windows of 128 ms, too long for fast eighths. Given twice as many samples it takes them
for an octave less at half the speed: windows of 64 ms, frames of 8 ms, pitches from F#2 up. What lies below
is heard through longer windows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from everyline.listening.recording import RATE

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FRAME = 0.008
"""Seconds from frame to frame."""
HOP = round(FRAME * RATE)
VIEWS = ((2.0, 44.0), (1.0, 32.0), (0.5, 0.0))
"""Speeds at which the sound is heard, and the MIDI number down to which each is trusted."""
FAINT = 8.0
"""Semitones above that floor in which a view is left where it is not sure and the slower one is."""
_WINDOW = 1024
_CHUNK = 4096


@dataclass(frozen=True, slots=True)
class Frames:
    """One value a frame: ``pitch`` is a MIDI number with a fraction, ``sure`` 0 to 1 (voiced from 0.5 on),
    ``level`` decibels below the loudest frame, ``attack`` how much the spectrum grows, in decibels on average
    over its bands."""

    pitch: NDArray[np.float64]
    sure: NDArray[np.float64]
    level: NDArray[np.float64]
    attack: NDArray[np.float64]


def track(samples: NDArray[np.float32]) -> Frames:
    """The frames of samples at ``RATE`` a second."""
    import numpy as np

    count = max(1, len(samples) // HOP)
    pitch, sure = _view(samples, VIEWS[0][0], count)
    for (_, floor), (speed, _) in pairwise(VIEWS):
        lower, surer = _view(samples, speed, count)
        # What the slower view hears is taken where it is too deep for the quicker one or all but, and for a
        # steady tone that the quicker one hears an octave or more too high.
        high = (pitch - lower > 11) & (surer >= 0.8) & _steady(lower)
        faint = (sure < 0.7) & (surer > sure + 0.1) & (lower < floor + FAINT)
        taken = ((lower < floor) | high | faint) & (surer >= 0.5)
        pitch, sure = np.where(taken, lower, pitch), np.where(taken, surer, sure)
    spectrum = _spectrum(samples, count)
    power = 10 * np.log10((10 ** (spectrum / 10)).sum(axis=1) + 1e-12)
    return Frames(pitch, sure, power - power.max(), _attack(spectrum))


@cache
def _tracker() -> Any:
    from swift_f0 import SwiftF0

    return SwiftF0(threads=1, spin=False)


def _view(
    samples: NDArray[np.float32], speed: float, count: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pitch and sureness of so many frames, heard at a speed."""
    import numpy as np
    import soxr

    heard = samples if speed == 2 else soxr.resample(samples, RATE, round(16_000 * speed))
    found = _tracker().detect(heard, 16_000)
    places = np.minimum(
        (np.arange(count) * FRAME * speed / 0.016).round().astype(int), len(found.pitch_hz) - 1
    )
    hertz = np.maximum(found.pitch_hz * speed, 1.0)
    return 69 + 12 * np.log2(hertz / 440)[places], found.confidence[places]


def _steady(pitch: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether the pitch is the same four frames before and after, within half a semitone."""
    import numpy as np

    padded = np.concatenate([pitch[:1].repeat(4), pitch, pitch[-1:].repeat(4)])
    found: NDArray[np.bool_] = (np.abs(padded[:-8] - pitch) < 0.5) & (np.abs(padded[8:] - pitch) < 0.5)
    return found


def _spectrum(samples: NDArray[np.float32], count: int) -> NDArray[np.float32]:
    """Decibels in bands of a third of an octave about, a row a frame."""
    import numpy as np

    edges = np.unique(np.geomspace(3, _WINDOW // 2, 25).round().astype(int))
    padded = np.concatenate([np.zeros(_WINDOW // 2, np.float32), samples, np.zeros(_WINDOW, np.float32)])
    window = np.hanning(_WINDOW).astype(np.float32)
    rows = []
    for first in range(0, count, _CHUNK):
        starts = np.arange(first, min(first + _CHUNK, count)) * HOP
        pieces = padded[starts[:, None] + np.arange(_WINDOW)] * window
        power = np.abs(np.fft.rfft(pieces, axis=1)) ** 2
        rows.append(10 * np.log10(np.add.reduceat(power, edges[:-1], axis=1) + 1e-6))
    found: NDArray[np.float32] = np.concatenate(rows)
    floored: NDArray[np.float32] = np.maximum(found, found.max() - 70)
    return floored


def _attack(spectrum: NDArray[np.float32]) -> NDArray[np.float64]:
    import numpy as np

    grown = np.zeros(len(spectrum))
    grown[2:] = np.maximum(spectrum[2:] - spectrum[:-2], 0).mean(axis=1)
    return grown
