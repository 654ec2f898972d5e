"""The mix: the line in the middle, every part at a level of its own, whatever else is in the file.

The bank's recordings are in stereo, some of them with one side only, so that an instrument would wander to
the left; the left side is complete in all of them, and is the sound of the line. Samples have the shape
(frames, 2).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from everyline.sound import bank

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

GAIN = 2.9
"""By how much everything is louder than it leaves the synthesiser."""
SIDES = ((1.0, 0.8), (0.8, 1.0))
"""How loud each of two players is on the left and on the right: two decibels to one side."""
KNEE = 0.7
"""The part of full scale up to which samples are kept as they are; what is louder nears full scale softly."""
LOUDEST_VOLUME = 127
_CHUNK = 1 << 20


def line_volumes() -> Mapping[int, int]:
    """For each program of the bank the MIDI volume (controller 7) at which all of them are equally loud.

    Amplitude goes with the square of the volume (General MIDI Level 1 guidelines), so 40 times its logarithm
    is decibels.
    """
    sounds = [sound for sound in bank.SOUNDS if not sound.drums]
    softest = min(sound.loudness for sound in sounds)
    return {
        sound.program: round(LOUDEST_VOLUME * 10 ** ((softest - sound.loudness) / 40)) for sound in sounds
    }


def mixed(
    line: NDArray[np.int16] | None,
    backing: NDArray[np.int16] | None,
    second: NDArray[np.int16] | None = None,
) -> NDArray[np.float32]:
    """The parts together, full scale at 1; any may be missing. A line alone is in the middle, of two each
    stands a little to its side."""
    import numpy as np

    two = line is not None and second is not None
    there = [part for part in (line, second, backing) if part is not None]
    total = np.zeros((max((len(part) for part in there), default=0), 2), np.float32)
    # In chunks: an hour in floating point twice over would take gigabytes.
    for part in there:
        for start in range(0, len(part), _CHUNK):
            piece = part[start : start + _CHUNK]
            heard = piece if part is backing else piece[:, :1]
            if two and part is not backing:
                heard = heard * np.array(SIDES[part is second], np.float32)
            total[start : start + len(piece)] += heard * np.float32(GAIN / 32768)
    return total


def folded(sound: NDArray[np.float32], start: int, period: int) -> NDArray[np.float32]:
    """A loop without a gap: ``period`` frames from ``start`` on, with all that sounds before and after laid
    over them, as it is heard where the loop meets itself.
    """
    import numpy as np

    loop = np.zeros((period, 2), np.float32)
    for place in range(-(-start % period), len(sound), period):
        piece = sound[max(0, place) : place + period]
        at = max(0, -place)
        loop[at : at + len(piece)] += piece
    return loop


def printed(sound: NDArray[np.float32]) -> NDArray[np.int16]:
    """Samples of 16 bits; what is above ``KNEE`` is bent so that nothing is cut off."""
    import numpy as np

    out = np.empty(sound.shape, np.int16)
    for start in range(0, len(sound), _CHUNK):
        piece = sound[start : start + _CHUNK]
        size = np.abs(piece)
        soft = KNEE + (1 - KNEE) * np.tanh((size - KNEE) / (1 - KNEE))
        out[start : start + _CHUNK] = np.rint(np.sign(piece) * np.where(size > KNEE, soft, size) * 32767)
    return out
