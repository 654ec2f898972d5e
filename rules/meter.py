"""The meter: what a bar holds, which note value is a beat, and where note values become ticks.

All else counts in beats, and in ticks of 480 a beat, whatever note value a beat is. Here alone beats are
turned into note values and back, so that 12/8 felt in dotted quarters is counted as 4/4 in triplets is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from everyline.corpora.errors import InputError

DOTTED_QUARTER = "4."
BEAT_VALUES = (DOTTED_QUARTER, "8")
"""What a beat may be where eighths go in threes; in all other meters it is the lower figure's note value."""

SUBDIVISIONS = (1, 2, 3, 4)
DOTTED_SUBDIVISIONS = (1, 2, 3, 6)
"""Slots in a beat that a rule file may ask for, of a plain beat and of a dotted quarter."""

_NAMES = {2: "half note", 4: "quarter note", 8: "eighth note"}
_IN_THREES = 3


@dataclass(frozen=True, slots=True)
class Meter:
    """``count`` notes of the value ``unit`` (2 half, 4 quarter, 8 eighth) in a bar, ``per_beat`` of them in a
    beat: one, or three where the beat is a dotted quarter.

    Note values are in units of 480 to a quarter note, ticks are 480 to a beat.
    """

    count: int
    unit: int
    per_beat: int = 1

    def __str__(self) -> str:
        """As it is written: ``12/8``."""
        return f"{self.count}/{self.unit}"

    @property
    def beats(self) -> int:
        """Beats in a bar."""
        return self.count // self.per_beat

    @property
    def dotted(self) -> bool:
        """Whether the beat is a dotted quarter."""
        return self.per_beat == _IN_THREES

    @property
    def in_threes(self) -> bool:
        """Whether eighths go in threes, so that the beat may be a dotted quarter."""
        return self.unit == 8 and self.count % _IN_THREES == 0

    @property
    def in_quarters(self) -> bool:
        """Whether the beat is a quarter note: the only one whose halves swing."""
        return self.unit == 4

    @property
    def parts(self) -> int:
        """Into how many parts a beat is divided where nothing else is said."""
        return _IN_THREES if self.dotted else 2

    @property
    def subdivisions(self) -> tuple[int, ...]:
        """Slots that a beat may have in a rule file."""
        return DOTTED_SUBDIVISIONS if self.dotted else SUBDIVISIONS

    @property
    def beat(self) -> str | None:
        """The beat as a rule file states it; None where the meter says it all."""
        return DOTTED_QUARTER if self.dotted else None

    @property
    def beat_name(self) -> str:
        """The note value of a beat in words."""
        return "dotted quarter note" if self.dotted else _NAMES[self.unit]

    @property
    def quarters(self) -> float:
        """Quarter notes in a beat: 1 in 4/4, 0.5 in 6/8, 1.5 in 6/8 felt in two."""
        return 4 * self.per_beat / self.unit

    def ticks(self, value: int) -> int | None:
        """A note value in ticks; None where that is no whole number."""
        ticks, left = divmod(value * self.unit, 4 * self.per_beat)
        return None if left else ticks

    def value(self, ticks: int) -> int | None:
        """Ticks as a note value; None where that is no whole number."""
        value, left = divmod(ticks * 4 * self.per_beat, self.unit)
        return None if left else value

    @property
    def cannot_show(self) -> str:
        """What is said of a note value that is no whole number of ticks."""
        if self.dotted:
            return "is a triplet; in beats of a dotted quarter an 8 is a third of a beat already"
        return f"is too short to be shown in beats of {self.unit}"


def parse_meter(text: str, beat: str | None = None) -> Meter:
    """Read a meter such as ``4/4``: 1 to 15 beats of a half, quarter or eighth note; ``beat`` as in
    ``felt_in``. Raises InputError."""
    found = re.fullmatch(r"\s*(\d+)\s*/\s*(\d+)\s*", text)
    if found and 1 <= int(found[1]) <= 15 and int(found[2]) in _NAMES:
        return felt_in(Meter(int(found[1]), int(found[2])), beat)
    raise InputError(
        f'"{text}" is not a meter that can be used. Write beats over note value, 1 to 15 over 2, 4 or 8, '
        f'such as 4/4, 3/4 or 6/8 (six beats of an eighth note, or two with beat = "{DOTTED_QUARTER}").'
    )


def felt_in(meter: Meter, beat: str | None) -> Meter:
    """The meter with the note value that is its beat, ``4.`` or ``8``; its own where none is stated. Raises
    InputError for one that the meter does not have."""
    if beat is None:
        return meter
    if meter.unit == 8 and beat == "8":
        return Meter(meter.count, meter.unit)
    if beat == DOTTED_QUARTER and meter.in_threes:
        return Meter(meter.count, meter.unit, _IN_THREES)
    raise InputError(
        f"in {meter} the beat is the {meter.beat_name}. Leave beat out, or choose a meter of eighths in "
        f'threes, 3/8, 6/8, 9/8, 12/8 or 15/8, where it is "8" or "{DOTTED_QUARTER}".'
    )


def check_subdivision(subdivision: int, meter: Meter) -> None:
    """Refuse a number of slots that a beat cannot have in a rule file. Raises InputError."""
    if subdivision in meter.subdivisions:
        return
    if meter.dotted:
        raise InputError(
            "a beat of a dotted quarter has 1, 2, 3 or 6 slots: dotted quarters, dotted eighths in twos, "
            "eighths, sixteenths"
        )
    raise InputError("it takes a whole number from 1 to 4")
