"""Lines and options that the tests of sound share."""

from __future__ import annotations

from functools import cache
from typing import Any

from everyline.rules.annotate import AnnotatedLine
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.sound.accompany import Span, spans
from everyline.spaces.space import Space
from tests.spaces import CORPUS, PICKUPS, TWO_FIVE_ONE

METERS: tuple[tuple[str, str, int], ...] = (
    ("4/4", "Dm7 | G7 | Cmaj7", 2),
    ("3/4", "Em7 | A7 | Dmaj7 | %", 2),
    ("5/4", "Cm7 | F7 | Bbmaj7", 2),
    ("6/8", "Gm7 | C7 | Fmaj7", 2),
    ("7/8", "Gm7 | C7 | Fmaj7", 2),
    ("2/2", "Am7 | D7 | Gmaj7", 2),
    ("4/4", "Dm7 G7 | Cmaj7", 3),
    ("4/4", "Dm7 G7 | Cmaj7", 4),
)
"""Meter, changes, subdivision."""


@cache
def two_five_one() -> Space:
    """1758 lines in 4/4."""
    return Space(parse_rules(TWO_FIVE_ONE, CORPUS))


@cache
def pickups() -> Space:
    """Lines with pickups and with endings in triplets."""
    return Space(parse_rules(PICKUPS, CORPUS))


@cache
def in_meter(meter: str, changes: str, subdivision: int) -> Space:
    """Lines without approach notes in any meter."""
    data: dict[str, Any] = {
        "changes": changes,
        "meter": meter,
        "subdivision": subdivision,
        "range": {"lowest": "E3", "highest": "E5"},
        "approach": {"count": ["0"]},
        "arpeggio": {"turns": 2},
        "ending": {"use": ["plain"]},
    }
    return Space(parse_rules(data, CORPUS))


def some_lines() -> list[AnnotatedLine]:
    """A few lines of every kind."""
    found = [*two_five_one().sample(3, 1), *pickups().sample(5, 1)]
    for meter in METERS:
        found += in_meter(*meter).sample(1, 1)
    return found


@cache
def corpus_rules() -> dict[str, Rules]:
    """Rules over every progression of the corpus, by its name."""
    return {
        name: parse_rules({"changes": entry.changes, "key": entry.key, "meter": entry.meter}, CORPUS)
        for name, entry in CORPUS.progressions.items()
    }


def spans_of(rules: Rules) -> tuple[Span, ...]:
    """The chords of the whole form, cut at the bar lines."""
    return spans(rules.progression, rules.progression.bars)
