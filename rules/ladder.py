"""Moves that the harmony decides: rungs of a chord's ladder, handoffs to a new chord, notes of a figure.

All of them are computed on every pitch, in range or not; the range is asked of each note afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable

from everyline.rules.chords import Chord

HANDOFF_RULES: dict[str, str] = {
    "nearest": "the nearest other chord tone of the new chord, both where two tie",
    "nearest-or-common": "the nearest other chord tone of the new chord, or the same note where it is one",
    "step": "a chord tone of the new chord one or two semitones away",
    "guide": "the nearest other third or seventh of the new chord",
    "any": "any other chord tone of the new chord within reach",
}

FREE = "free"
"""No handoff rule at all: any chord tone, however far. No rule file says it; it tells what a rule costs."""

_THIRDS = ((3, 4), (5,), (2,))
_SEVENTHS = ((10, 11), (9,))


def rung(chord: Chord, pitch: int, direction: int) -> int:
    """The next chord tone above (``direction`` 1) or below (-1) a pitch."""
    classes = chord.tone_classes
    pitch += direction
    while pitch % 12 not in classes:
        pitch += direction
    return pitch


def guide_tones(chord: Chord) -> tuple[int, ...]:
    """Third and seventh in semitones above the root.

    Where the chord has no third, its fourth (or second) stands in for it; where it has no seventh, its
    sixth (the diminished seventh is one and the same key) does. A triad has only its third.
    """

    def first(groups: tuple[tuple[int, ...], ...]) -> tuple[int, ...]:
        for group in groups:
            found = tuple(tone for tone in group if tone in chord.tones[:4])
            if found:
                return found[:1]
        return ()

    return first(_THIRDS) + first(_SEVENTHS)


def nearest(pitch: int, classes: Iterable[int]) -> tuple[int, ...]:
    """The pitches of these pitch classes, other than ``pitch`` itself, at the least distance; low before
    high."""
    wanted = frozenset(classes)
    for distance in range(1, 13):
        found = tuple(p for p in (pitch - distance, pitch + distance) if p % 12 in wanted)
        if found:
            return found
    return ()


def handoffs(rule: str, pitch: int, chord: Chord, reach: int) -> tuple[int, ...]:
    """Every pitch that may open ``chord`` after the chord or target tone ``pitch``; low before high.

    ``rule`` is a name out of HANDOFF_RULES, or FREE; ``reach`` (semitones) matters to ``any`` alone.
    """
    classes = chord.tone_classes
    if rule == FREE:
        return tuple(q for q in range(128) if q % 12 in classes)
    if rule == "nearest":
        return nearest(pitch, classes)
    if rule == "nearest-or-common":
        common = (pitch,) if pitch % 12 in classes else ()
        return tuple(sorted(nearest(pitch, classes) + common))
    if rule == "guide":
        return nearest(pitch, ((chord.root_class + tone) % 12 for tone in guide_tones(chord)))
    widest = 2 if rule == "step" else reach
    return tuple(q for q in range(pitch - widest, pitch + widest + 1) if q != pitch and q % 12 in classes)


def neighbour(pitch: int, root_class: int, scale: tuple[int, ...], direction: int) -> int:
    """The nearest pitch of a chord scale above (1) or below (-1) a pitch, that pitch itself excluded."""
    pitch += direction
    while (pitch - root_class) % 12 not in scale:
        pitch += direction
    return pitch


def figure_pitches(
    steps: tuple[str, ...], target: int, root_class: int, scale: tuple[int, ...]
) -> tuple[int, ...]:
    """The notes of an approach figure around its target, in the chord scale at the target's slot."""
    found = []
    for step in steps:
        if step.endswith("d"):
            found.append(neighbour(target, root_class, scale, 1 if step[0] == "+" else -1))
        else:
            found.append(target + int(step))
    return tuple(found)
