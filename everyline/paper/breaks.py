"""Where systems break: as few systems as the width allows, filled evenly, on phrases of four or two bars if
it can be.
"""

from __future__ import annotations

from collections.abc import Sequence

from everyline.paper.bars import Bar
from everyline.paper.note_values import WHOLE

BAR_ROOM, SIGN_ROOM, LEAST_BAR, HEAD_ROOM = 40, 16, 180, 170
"""Room in tenths of a millimetre for a bar's edges, one accidental, the emptiest bar, and clef with
signatures.
"""

_EIGHTH = 240
NOTE_ROOM = {WHOLE: 140, 960: 95, 480: 70, _EIGHTH: 43, 120: 34}
"""The same for a note or rest of each undotted value, as measured; shorter ones take the least."""

SQUEEZE = 1.25
"""By how much a bar may be narrower than it wants, where no note in it is shorter than an eighth: two figures
of tablature still stand apart then.
"""

_LAST, _ALONE = 0.3, 0.3
_OFF_PHRASE = {0: 0.0, 2: 0.04, 1: 0.12, 3: 0.12}


def natural_width(bar: Bar, signs: int) -> int:
    """About how wide a bar with so many accidentals wants to be, in tenths of a millimetre."""
    notes = sum(NOTE_ROOM.get(each.value, NOTE_ROOM[120]) for each in bar.written)
    full = BAR_ROOM + notes + SIGN_ROOM * signs
    return full if bar.pickup else max(LEAST_BAR, full)


def least_width(bar: Bar, signs: int) -> float:
    """How narrow the same bar may become, in tenths of a millimetre."""
    wide = natural_width(bar, signs)
    return wide if any(each.value < _EIGHTH for each in bar.written) else wide / SQUEEZE


def system_starts(bars: Sequence[Bar], signs: Sequence[int], width: int) -> list[int]:
    """The places of the bars that begin a system, the first (0) included.

    ``signs`` counts the accidentals of each bar; ``width`` is in tenths of a millimetre.
    """
    widths = [natural_width(bar, count) for bar, count in zip(bars, signs, strict=True)]
    least = [least_width(bar, count) for bar, count in zip(bars, signs, strict=True)]
    room = width - HEAD_ROOM
    count = len(bars)
    # From each bar to the end: systems, unevenness and starts of the best way to set what is left.
    best: list[tuple[int, float, tuple[int, ...]]] = [(0, 0.0, ())] * (count + 1)
    for start in range(count - 1, -1, -1):
        choices = []
        used, needed = 0, 0.0
        for stop in range(start + 1, count + 1):
            used += widths[stop - 1]
            needed += least[stop - 1]
            if needed > room and stop > start + 1:
                break
            systems, cost, starts = best[stop]
            alone = stop - start == 1 < count
            own = (1 - used / room) ** 2 + _ALONE * alone
            if stop == count:
                own = own * _LAST if used <= room else own
            else:
                own += _OFF_PHRASE[bars[stop - 1].number % 4]
            choices.append((systems + 1, cost + own, (start, *starts)))
        best[start] = min(choices)
    return list(best[0][2])
