"""The reference's limits on lines worked out by hand, at the places where a limit could be read two ways."""

from __future__ import annotations

from typing import Any

import pytest

from tests.reference.limits import LIMITS
from tests.reference.progression import parse_progression

TWO_FIVE_ONE = parse_progression("Dm7 | G7 | Cmaj7")
D4, E4, F4, G4, A4 = 62, 64, 65, 67, 69
EIGHTH = 240


def eighths(*pitches: int) -> tuple[tuple[int, int, int], ...]:
    return tuple((place * EIGHTH, EIGHTH, pitch) for place, pitch in enumerate(pitches))


LATE_OUTSIDE = ((0, EIGHTH, D4), (EIGHTH, 3 * EIGHTH, E4), (4 * EIGHTH, EIGHTH, F4))
REST_ON_TWO = ((0, EIGHTH, D4), (EIGHTH, EIGHTH, E4), (4 * EIGHTH, EIGHTH, F4))

CASES: list[tuple[str, dict[str, Any], Any, bool]] = [
    # E begins on 1& and still sounds on 2; with a rest on 2 nothing sounds there.
    ("strong-beats", {"beats": ["2"]}, LATE_OUTSIDE, False),
    ("strong-beats", {"beats": ["2"]}, REST_ON_TWO, True),
    ("strong-beats", {"beats": ["1", "3"]}, LATE_OUTSIDE, True),
    # Up, repeated, down is one turn; the repeated note itself is none.
    ("direction-changes", {"most": 0}, eighths(D4, F4, F4, D4), False),
    ("direction-changes", {"least": 1, "most": 1}, eighths(D4, F4, F4, D4), True),
    ("direction-changes", {"most": 0}, eighths(D4, F4, F4, A4), True),
    ("no-return", {"notes": 2}, eighths(D4, F4, D4), True),
    ("no-return", {"notes": 3}, eighths(D4, F4, D4), False),
    ("no-return", {"notes": 9}, eighths(D4, F4, A4), True),
    # Over any chord is enough where none is named; over the named one where one is.
    ("require-degrees", {"degrees": ["b3"]}, eighths(D4, F4), True),
    ("require-degrees", {"degrees": ["b3"], "chord": "G7"}, eighths(D4, F4), False),
    ("avoid-degrees", {"degrees": ["b3"], "chord": "G7"}, eighths(D4, F4), True),
    ("avoid-degrees", {"degrees": ["b3"]}, eighths(D4, F4), False),
    # D4 to A4 on one string spans eight frets; on two it fits four.
    ("playable", {"strings": [2], "span": 7}, eighths(D4, A4), False),
    ("playable", {"strings": [2], "span": 8}, eighths(D4, A4), True),
    ("playable", {"strings": [1, 2], "span": 3}, eighths(D4, A4), True),
    ("playable", {"strings": [1, 2], "span": 2}, eighths(D4, A4), False),
    # B3 and E4 are the open strings 2 and 1.
    ("playable", {"strings": [1, 2], "fret": 0, "span": 1}, eighths(59, E4), True),
    ("playable", {"strings": [1, 2], "fret": 1}, eighths(59, E4), False),
    ("require-intervals", {"intervals": [-2, -1]}, eighths(G4, F4, E4), True),
    ("require-intervals", {"intervals": [-1, -2]}, eighths(G4, F4, E4), False),
    ("forbid-intervals", {"intervals": [-2, -1]}, eighths(G4, F4, E4), False),
    ("single-peak", {}, eighths(D4, A4, D4, A4), False),
    ("single-peak", {}, eighths(D4, D4, A4), True),
]


@pytest.mark.parametrize(("kind", "limit", "line", "expected"), CASES)
def test_by_hand(kind: str, limit: dict[str, Any], line: Any, expected: bool) -> None:
    assert LIMITS[kind](TWO_FIVE_ONE, line, limit) is expected
