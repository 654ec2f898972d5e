"""A second opinion on a pitch, from the samples alone: does the sound repeat itself at that period?

The difference of a sound and itself later by a period is small where the period is right (de Cheveigné and
Kawahara, "YIN, a fundamental frequency estimator", JASA 111, 2002, 1917-1930, equation 6).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from everyline.listening.recording import RATE

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LONGEST = 4096
"""Samples that are looked at."""
ALIKE = 0.12
"""Difference up to which half a period counts as one."""
UNLIKE = 0.35
"""Difference from which a period counts as none."""
PARTIALS = 6
"""How many partials of a tone are held against its fundamental."""
LACKING = -25.0
"""Decibels against the strongest of them at which a partial counts as none. In our measurements the
fundamental of every tone heard right had at least -18, of every one heard too low at most -29."""
_NEAR = 0.015


def difference(samples: NDArray[np.float32], hertz: float) -> float:
    """How unlike the sound is to itself a period later, 0 for the same, about 1 for noise, the best period
    within a quarter of a semitone; 1 where the sound is shorter than two periods."""
    import numpy as np

    start = max(0, (len(samples) - LONGEST) // 2)
    piece = samples[start : start + LONGEST].astype(np.float64)
    period = RATE / hertz
    if len(piece) < 2 * period + 2:
        return 1.0
    best = 1.0
    for lag in range(max(1, int(period * (1 - _NEAR))), int(period * (1 + _NEAR)) + 2):
        now, later = piece[:-lag], piece[lag:]
        power = float(now @ now + later @ later)
        if power > 0:
            best = min(best, float(((now - later) ** 2).sum()) / power)
    return best


def periodic(samples: NDArray[np.float32], hertz: float) -> float:
    """From 0, no period, to 1: the sound repeats itself at a frequency or, too deep or short to say, 1."""
    if len(samples) < 2 * RATE / hertz + 2:
        return 1.0
    found = difference(samples, hertz)
    return max(0.0, min(1.0, (1 - found) / (1 - ALIKE)))


def octave_doubt(samples: NDArray[np.float32], hertz: float) -> int:
    """12 where the sound repeats itself twice in a period, -12 where it does so only every second period,
    else 0."""
    own = difference(samples, hertz)
    if hertz < 2000 and difference(samples, 2 * hertz) < min(ALIKE, 2 * own + 0.02):
        return 12
    if own > UNLIKE and difference(samples, hertz / 2) < own / 3:
        return -12
    return 0


def too_low(samples: NDArray[np.float32], hertz: float) -> int:
    """By how many semitones a frequency is below the tone: 0 where the sound has it, else up to the lowest of
    its partials that is there and has the strongest among its own.

    So it is where one tone rings on into the next: a fifth repeats itself at the period of the tone an octave
    below its lower one, a fourth at that two octaves below its upper one.
    """
    import numpy as np

    size = 4 * max(len(samples), 2048)
    power = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size)) ** 2
    bins = hertz * size / RATE * np.arange(1, PARTIALS + 1)
    # Beyond the highest frequency there is nothing.
    peaks = [power[int(each * (1 - _NEAR)) : int(each * (1 + _NEAR)) + 2].max(initial=1e-12) for each in bins]
    levels = 10 * np.log10(np.array(peaks) / max(peaks))
    strongest = int(levels.argmax()) + 1
    there = next(
        each for each in range(1, PARTIALS + 1) if strongest % each == 0 and levels[each - 1] > LACKING
    )
    return round(12 * float(np.log2(there)))
