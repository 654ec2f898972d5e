"""A line that a student was given, in any key: its rules moved as a rule file is, its notes with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from everyline.corpora import Corpus
from everyline.corpora.errors import InputError
from everyline.practice.kept import readable
from everyline.practice.records import GivenLine
from everyline.rules.analysis import best_analysis
from everyline.rules.annotate import AnnotatedLine, annotate, unexplained
from everyline.rules.line import Events
from everyline.rules.line_text import format_line, parse_line
from everyline.rules.pitch import HIGHEST
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.transpose import KeyChange, home_key, transpose_tables

OCTAVES = (0, 12, -12)
"""Semitones by which a line that leaves its range in another key is moved besides, first choice first."""


@dataclass(frozen=True)
class LineInKey:
    """A line with the tables of the rules that it is shown over; ``why`` is a sentence where these are not
    all of the rules that it was given under."""

    tables: Mapping[str, Any]
    rules: Rules
    events: Events
    why: str

    @property
    def line(self) -> AnnotatedLine:
        """The line with its analysis, or without where its rules have none for it."""
        return as_line(self.rules, self.events)

    @property
    def notes(self) -> str:
        """The line as ``parse_line`` reads it, with its start in front."""
        return format_line(self.rules, self.events, [note.name for note in self.line.notes], start=True)


def in_key(kept: GivenLine, key: str, corpus: Corpus) -> LineInKey:
    """A kept line in a key, by its notes and never by its number. It moves by at most six semitones, and by
    an octave besides where it would leave the range of an instrument. Raises InputError for a key of the
    other mode, and for changes that cannot be read."""
    tables, rules, why = readable(kept.rules_text, corpus)
    (events,) = parse_line(kept.notes, rules)
    if key != kept.key:
        semitones = KeyChange.between(home_key(tables), key).semitones
        tables = transpose_tables(tables, key)
        rules = parse_rules(tables, corpus, name="its rules")
        events = _within(events, semitones, rules)
    return LineInKey(tables, rules, events, why)


def _within(events: Events, semitones: int, rules: Rules) -> Events:
    moves = [_moved(events, semitones + octaves) for octaves in OCTAVES]
    fitting = [each for each in moves if each and all(event.pitch in rules.pitches for event in each)]
    if not fitting and not moves[0]:
        raise InputError("the line is out of reach in that key; play it in another one.")
    return fitting[0] if fitting else moves[0]


def _moved(events: Events, semitones: int) -> Events:
    """The line moved, or no notes where one of them would be none."""
    pitches = [event.pitch + semitones for event in events]
    if not all(0 <= pitch <= HIGHEST for pitch in pitches):
        return ()
    return tuple(event._replace(pitch=pitch) for event, pitch in zip(events, pitches, strict=True))


def as_line(rules: Rules, events: Events) -> AnnotatedLine:
    """Notes with their analysis under rules, or without one where there is none."""
    analysis = best_analysis(rules, events)
    return unexplained(rules, events) if analysis is None else annotate(rules, events, None, analysis)
