"""The sound bank that comes with the program: where it is, what it holds, what it was made from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

PATH = Path(__file__).with_name("everyline.sf2")
LICENCE = Path(__file__).with_name("LICENSE.txt")


@dataclass(frozen=True, slots=True)
class Sound:
    """One sound of the bank: General MIDI program (1 to 128), and what must be recorded for it.

    ``loudness`` is how loud lines in the comfortable range of its instruments leave the synthesiser on the
    left, as measured, in decibels as ITU-R BS.1770 weighs them: only the differences between sounds count (0
    for drums, of which it is not asked). ``lowest`` and ``highest`` are MIDI
    keys; beyond them the nearest recording serves. ``width`` is how many semitones one recording may serve,
    ``rate`` the samples a second that are enough, ``tuning`` corrects the recording of a key by cents, as
    measured. ``keys`` are those of a drum kit on the tenth channel, each with the decibels by which it is
    held back, and empty for all else.
    """

    program: int
    loudness: float
    lowest: int
    highest: int
    width: int = 6
    rate: int = 22050
    tuning: tuple[tuple[int, int], ...] = ()
    keys: tuple[tuple[int, int], ...] = ()

    @property
    def drums(self) -> bool:
        """Whether it is a drum kit."""
        return bool(self.keys)


KIT = ((36, 6), (37, 8), (38, 6), (40, 0), (42, 10), (44, 9), (51, 6), (76, 0), (77, 0))
"""What the kits hold, with the decibels by which each is held back: bass drum, side stick, two of the snare
drum (with brushes, a tap and a sweep), hi-hat closed and by foot, ride, and the wood blocks of the click. The
kits share most recordings.
"""

SOUNDS: tuple[Sound, ...] = (
    Sound(1, -29.3, 53, 96, 10, tuning=((85, -5), (95, -12))),  # piano
    Sound(5, -27.6, 48, 79, 9),  # electric piano
    Sound(12, -32.1, 53, 89, tuning=((64, 4), (67, -5))),  # vibraphone
    Sound(25, -26.7, 55, 84, 9),  # nylon-string guitar
    Sound(26, -26.0, 55, 96, 12),  # steel-string guitar
    Sound(27, -24.7, 35, 86, 5, tuning=((41, -7), (46, -7))),  # jazz guitar
    Sound(33, -25.4, 28, 67, 5, 16000),  # acoustic bass
    Sound(34, -26.2, 23, 67, 12, 16000),  # fingered bass
    Sound(41, -27.8, 55, 100, 12, tuning=((75, 7), (87, -16), (97, -27))),  # violin
    Sound(42, -30.1, 48, 88, 9, tuning=((57, -4),)),  # viola
    Sound(43, -31.7, 36, 81, 12),  # cello
    Sound(54, -28.2, 40, 81, 12, 16000),  # voice
    Sound(57, -26.2, 52, 82, 5),  # trumpet
    Sound(58, -24.3, 40, 72, 5),  # trombone
    Sound(65, -25.7, 56, 87, 8, tuning=((72, -9), (79, 5))),  # soprano saxophone
    Sound(66, -24.4, 49, 80, 8),  # alto saxophone
    Sound(67, -25.8, 44, 75, 8, tuning=((68, -6),)),  # tenor saxophone
    Sound(68, -28.6, 36, 68, 12),  # baritone saxophone
    Sound(72, -24.6, 50, 89),  # clarinet
    Sound(74, -26.9, 60, 96, 7, tuning=((60, -7), (66, -6))),  # flute
    Sound(106, -25.6, 48, 88, 12, tuning=((48, -5),)),  # banjo
    *(Sound(kit, 0.0, KIT[0][0], KIT[-1][0], rate=44100, keys=KIT) for kit in (1, 33, 41)),
)
"""Every program of the corpus's instruments, those of the accompaniment, and three drum kits: standard, jazz,
brush.

The kits have the numbers and keys of General MIDI Level 2; in Level 1 any program of the tenth channel is the
standard kit.
"""

PROGRAMS = frozenset(sound.program for sound in SOUNDS if not sound.drums)
"""General MIDI programs (1 to 128) that the bank sounds."""
