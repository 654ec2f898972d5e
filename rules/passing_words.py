"""What is said of faults with passing notes, and of rests inside a move, in the trade's words."""

from __future__ import annotations

from collections.abc import Iterable

from everyline.corpora.counted import choice
from everyline.rules.fault_words import Words
from everyline.rules.limits.base import within

FILLED = "filled move"


def _kinds(kinds: Iterable[str]) -> str:
    return choice(f"{kind} passing notes" for kind in kinds)


def unwanted(words: Words, index: int, kinds: list[str]) -> str:
    """Passing notes of a kind that the rules do not allow."""
    allowed = words.rules.passing.kinds
    only = f"only {_kinds(allowed)}" if allowed else "no passing notes"
    return f"{words.note(index)} begins {_kinds(kinds)}, and these rules allow {only}."


def on_beat(words: Words, index: int) -> str:
    """A passing note on a beat."""
    return (
        f"{words.note(index)} is a passing note on a beat; under these rules passing notes fall off the beat."
    )


def too_many(words: Words, index: int) -> str:
    """One filled move more than the chord may have."""
    chord = words.notes[index].chord
    most = words.rules.passing.bounds(chord)[1]
    symbol = words.rules.progression.chords[chord].symbol
    return (
        f"the passing notes from {words.note(index)} on are one filled move too many: {symbol} takes "
        f"{within(0, most, FILLED)}."
    )


def too_few(words: Words, chord: int, fills: int) -> str:
    """A chord left with fewer filled moves than it must have."""
    least, most = words.rules.passing.bounds(chord)
    symbol = words.rules.progression.chords[chord].symbol
    return f"{symbol} has {within(fills, fills, FILLED)}; the rules ask for {within(least, most, FILLED)}."


def turned(words: Words, index: int, way: int) -> str:
    """A filled move that turns once too often, or runs in a direction that is not allowed."""
    direction = words.rules.arpeggio.direction
    word = "up" if way > 0 else "down"
    if direction not in ("either", word):
        return f"the move to {words.note(index)} runs {word}, and under these rules runs go {direction} only."
    return f"the run turns {word} on the way to {words.note(index)}, once more than the rules allow."


def rest_inside(words: Words, index: int, what: str) -> str:
    """A rest where notes have to follow one another."""
    return f"there is a rest before {words.note(index)}; {what} has no rest before its last note."
