"""From one chord tone to another: the legal handoffs, and the passing notes that may fill a move."""

from __future__ import annotations

from functools import lru_cache

from tests.reference.rulefile import Rules
from tests.reference.theory import Chord, between


@lru_cache(maxsize=4096)
def handoff_pitches(rules: Rules, p: int | None, index: int) -> list[int]:
    """The legal handoff notes of a chord, in range or not.  The rules say: "With p the last note before it
    that is neither an approach note nor a passing note, the handoff note q must be ..."."""
    if p is None:
        raise AssertionError("a chord tone of the first chord comes before every handoff")
    chord = rules.progression.chords[index]
    around = [q for q in range(p - 128, p + 129) if q != p]
    tones = [q for q in around if chord.has(q)]
    common = [p] if chord.has(p) else []
    if rules.handoff == "nearest":
        # "a chord tone of the new chord, other than p itself, at the least distance from p, both where two
        # tie"
        return nearest(tones, p)
    if rules.handoff == "nearest-or-common":
        # "the same, and also p itself where it is a chord tone of the new chord"
        return nearest(tones, p) + common
    if rules.handoff == "step":
        # "any chord tone at 1 or 2 semitones from p"
        return [q for q in tones if abs(q - p) <= 2]
    if rules.handoff == "guide":
        # "the nearest of the new chord's third and seventh, other than p"
        return nearest([q for q in around if any(chord.is_degree(q, d) for d in chord.guides())], p)
    if rules.handoff == "any":
        # "any chord tone other than p at most `reach` from p"
        return [q for q in tones if abs(q - p) <= rules.reach]
    raise ValueError(f"{rules.handoff!r} is not a handoff rule")


def nearest(pitches: list[int], p: int) -> list[int]:
    """All the pitches at the least distance from p."""
    least = min((abs(q - p) for q in pitches), default=0)
    return [q for q in pitches if abs(q - p) == least]


def fillings(kinds: tuple[str, ...], chord: Chord, p: int, q: int) -> set[tuple[int, ...]]:
    """The passing notes that may stand between p and q over a chord.

    The rules say: "`scale` is every tone of the chord's scale strictly between p and q, in order from p;
    `chromatic` is every semitone strictly between them, in order. Where there is nothing strictly between,
    the move cannot be filled so. Two kinds that give the same notes are one".
    """
    found = set()
    for kind in kinds:
        if kind not in ("scale", "chromatic"):
            raise ValueError(f"{kind!r} is not a kind of passing note")
        everything = between(p, q)
        found.add(tuple(n for n in everything if kind == "chromatic" or chord.in_scale(n)))
    return found - {()}
