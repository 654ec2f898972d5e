"""What the page calls each rule, in a player's words, what it is, and what a short example of it changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

Change = Mapping[str, Any]
"""Values by dotted key of a rule file."""


@dataclass(frozen=True)
class RuleWords:
    """``label`` heads the control, ``what`` explains it, ``show`` is what an example changes in the rules of
    its two bars, and ``roles`` are the roles of the notes to look at."""

    label: str
    what: str
    show: Change | None = None
    roles: tuple[str, ...] = ()


ARPEGGIOS = ("arpeggio", "entry")
FIGURES = ("approach", "target")

RULE_WORDS: Mapping[str, RuleWords] = {
    "title": RuleWords("Name of these lines", "A name of your own, printed on sheets."),
    "changes": RuleWords("Chord changes", "The chords that the lines are over, bar by bar."),
    "key": RuleWords(
        "Key", "Numerals such as ii7 need it; otherwise it only decides between sharps and flats."
    ),
    "meter": RuleWords("Time signature", "Beats in a bar, such as 4/4, 3/4 or 6/8."),
    "beat": RuleWords(
        "The beat is", "In 6/8, 9/8 and 12/8 three eighths can make a beat, as a slow blues in 12/8 is felt."
    ),
    "subdivision": RuleWords("A beat is divided into", "How fast the notes are where no rhythm is chosen."),
    "range.lowest": RuleWords(
        "Lowest note", "No note is lower than this, such as E3.", {"range.lowest": "C4"}
    ),
    "range.highest": RuleWords(
        "Highest note", "No note is higher than this, such as E5.", {"range.highest": "E4"}
    ),
    "range.instrument": RuleWords(
        "Instrument", "Its comfortable range, its clef, and tablature where it has frets."
    ),
    "range.position": RuleWords(
        "Position: its lowest fret",
        "The hand stays here: every note lies within a few frets from this one, 0 with open strings.",
        {"range": None, "range.instrument": "guitar", "range.position": 5},
    ),
    "range.strings": RuleWords(
        "Strings to play on",
        "1 is the highest string.",
        {"range": None, "range.instrument": "guitar", "range.strings": [1, 2, 3]},
    ),
    "range.span": RuleWords(
        "Frets that the hand covers",
        "How many frets a position has; five is one finger stretched.",
        {"range": None, "range.instrument": "guitar", "range.position": 7, "range.span": 5},
    ),
    "entry.beats": RuleWords(
        "Beats to start on",
        "The beats of bar 1 on which the first note may come.",
        {"entry.beats": ["2"]},
        ("entry",),
    ),
    "entry.pickup": RuleWords(
        "Length of a pickup",
        "How many notes before bar 1 the line may start, in the notes that a beat is divided into.",
        {"entry.pickup": [2]},
        ("entry",),
    ),
    "entry.start": RuleWords(
        "First note", "Lines start on one of these notes.", {"entry.start": ["B3"]}, ("entry",)
    ),
    "entry.degrees": RuleWords(
        "First note, as a chord tone",
        "Which chord tone of the first chord the line starts on.",
        {"entry.degrees": ["3"]},
        ("entry",),
    ),
    "arpeggio.direction": RuleWords(
        "Chord tones go",
        "Between figures a line runs through the chord tones, one to the next.",
        {"arpeggio.direction": "up", "arpeggio.turns": 0, "approach.count": ["1"]},
        ARPEGGIOS,
    ),
    "arpeggio.turns": RuleWords(
        "Turns in one run, at most",
        "How often a run of chord tones may turn from up to down or back.",
        {"arpeggio.turns": 2, "approach.count": ["0"]},
        ARPEGGIOS,
    ),
    "arpeggio.skips": RuleWords(
        "Chord tones a run may skip",
        "How many moves of one run may leap over a chord tone.",
        {"arpeggio.skips": 2, "approach.count": ["0"]},
        ARPEGGIOS,
    ),
    "passing.kinds": RuleWords(
        "Passing notes",
        "The way from one chord tone to the next is filled with steps.",
        {
            "passing.kinds": ["scale"],
            "passing.place": "any",
            "passing.count": ["1-99"],
            "approach.count": ["0"],
        },
        ("passing",),
    ),
    "passing.place": RuleWords(
        "Passing notes start",
        "Off the beat they are light; on the beat they are heard as tension.",
        {
            "passing.kinds": ["scale"],
            "passing.place": "any",
            "passing.count": ["1-99"],
            "approach.count": ["0"],
        },
        ("passing",),
    ),
    "passing.count": RuleWords(
        "How many passing moves in each chord",
        "How many moves from chord tone to chord tone are filled.",
        {"passing.kinds": ["scale"], "passing.place": "any", "passing.count": ["1"], "approach.count": ["0"]},
        ("passing",),
    ),
    "rhythm.cells": RuleWords(
        "Rhythms to build from",
        "Each rhythm fills whole beats; a line is made of them, one after another.",
        {"rhythm.cells": ["4", "8 8"]},
    ),
    "approach.figures": RuleWords(
        "Approach figures",
        "A few notes that lead into a chord tone on the beat, such as from above and from below.",
        {"approach.figures": ["above-below"], "approach.count": ["1"]},
        FIGURES,
    ),
    "approach.count": RuleWords(
        "How many figures in each chord",
        "How many approach figures start while a chord sounds.",
        {"approach.count": ["1"]},
        FIGURES,
    ),
    "approach.targets": RuleWords(
        "Chord tones they lead to",
        "Which chord tones may be approached.",
        {"approach.targets": ["3"], "approach.count": ["1"]},
        FIGURES,
    ),
    "approach.reach": RuleWords(
        "Widest leap into a figure",
        "In semitones, from the note before to the first note of the figure; 7 is a fifth.",
        {"approach.reach": 2, "approach.count": ["1"]},
        FIGURES,
    ),
    "approach.after": RuleWords(
        "Chord tones between two figures, at least",
        "How many chord tones come after a figure, its target included, before the next.",
        {"approach.after": 2, "approach.count": ["1"]},
        FIGURES,
    ),
    "handoff.rule": RuleWords(
        "Into the next chord",
        "Which chord tone of the new chord the line goes to when the chord changes.",
        {"handoff.rule": "guide", "ending.use": ["plain"]},
        ("handoff", "ending"),
    ),
    "ending.use": RuleWords(
        "Endings",
        "How a line closes over the last change of chord.",
        {"ending.use": ["anticipated-tonic"]},
        ("ending",),
    ),
    "ending.lead_in": RuleWords(
        "Widest leap into the ending",
        "In semitones, from the note before to the first note of the ending.",
        {"ending.lead_in": 2, "ending.use": ["anticipated-tonic"]},
        ("ending",),
    ),
}
"""By dotted key. Keys that are not here go by their own help and have no example."""

LIMIT_TITLES: Mapping[str, str] = {
    "ambitus": "Range of the whole line",
    "avoid-degrees": "Notes to avoid over a chord",
    "require-degrees": "Notes that must be heard over a chord",
    "single-peak": "Only one highest note",
    "no-return": "No note comes back soon",
    "forbid-intervals": "A succession of intervals that never occurs",
    "require-intervals": "A succession of intervals that occurs",
    "last-degree": "Last note",
    "landing": "First note over a chord",
    "rhythm": "A rhythm that is heard",
    "must-target": "A chord tone that is approached",
    "standing": "The line keeps moving",
}
"""Titles of kinds of limit whose own is not a player's word."""


LIMIT_SHOWS: Mapping[str, Change] = {
    kind: {"rhythm.cells": ["8 8", "r8 8", "4", "2", "r8 8 4"]} for kind in ("rhythm", "notes", "rests")
}
"""What an example of a kind of limit changes beside it."""


def rule_words(path: str, help_text: str) -> dict[str, Any]:
    """The words of a key for the page; ``help_text`` is what the rule file says of it."""
    found = RULE_WORDS.get(path)
    if found is None:
        return {"label": help_text[0].upper() + help_text[1:], "what": "", "show": None, "roles": []}
    show = None if found.show is None else dict(found.show)
    return {"label": found.label, "what": found.what, "show": show, "roles": list(found.roles)}
