"""Everything that the page's controls are made from, out of the same tables as the rule file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.endings import Ending
from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.loader import parse_toml
from everyline.drill.exercises import KINDS
from everyline.drill.spec import KEY_ORDERS, ORDERS, SAMPLINGS
from everyline.page.lines_view import MOST_RANKED
from everyline.page.params import KEYS
from everyline.page.rule_words import LIMIT_SHOWS, LIMIT_TITLES, rule_words
from everyline.paper.look import MARKS
from everyline.paper.sheet_options import MOST_PER_PAGE, PAPERS
from everyline.rules.chord_table import QUALITIES
from everyline.rules.degrees import DEGREES
from everyline.rules.ending_facts import ending_level, rests_on
from everyline.rules.endings import thirds
from everyline.rules.keys import SECTIONS, Section
from everyline.rules.limits import LIMITS
from everyline.rules.pitch import parse_pitch
from everyline.rules.scales import SCALES
from everyline.rules.schema import FileKey
from everyline.rules.transpose import LEVEL_SIGNS
from everyline.solver.properties.table import TRAITS

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

NOT_HERE = frozenset({"own_rules"})
"""Keys that the page has no control for: rules in Python are never taken from it."""

CHOICE_WORDS: dict[str, dict[str, str]] = {
    "beat": {"4.": "the dotted quarter", "8": "each eighth"},
    "arpeggio.direction": {"either": "up or down", "up": "up only", "down": "down only"},
    "passing.kinds": {"scale": "scale tones", "chromatic": "every semitone"},
    "passing.place": {"off": "off the beat", "any": "on or off the beat"},
    "handoff.rule": {
        "nearest": "nearest chord tone",
        "nearest-or-common": "nearest, or the same note",
        "step": "by step",
        "guide": "nearest third or seventh (guide tones)",
        "any": "any chord tone within reach",
    },
}
"""The words allowed in a rule file, by dotted key, as a player would say them."""

CELLS: dict[str, str] = {
    "8 8": "two eighths",
    "4": "quarter",
    "r8 8": "eighth rest, eighth",
    "8t 8t 8t": "eighth triplet",
    "4. 8": "dotted quarter, eighth",
    "8 4 8": "eighth, quarter, eighth",
    "2": "half",
    "8 16 16": "eighth, two sixteenths",
    "16 16 16 16": "four sixteenths",
}
"""Rhythm cells to choose from."""

DOTTED_CELLS: dict[str, str] = {
    "8 8 8": "three eighths",
    "4 8": "quarter, eighth",
    "4.": "dotted quarter",
    "r8 8 8": "eighth rest, two eighths",
    "8 4": "eighth, quarter",
    "2.": "dotted half",
    "8. 16 8": "dotted eighth, sixteenth, eighth",
    "8 16 16 8": "eighth, two sixteenths, eighth",
    "16 16 16 16 16 16": "six sixteenths",
}
"""The same where the beat is a dotted quarter."""


def vocabulary(workspace: Workspace) -> dict[str, Any]:
    """Sections and keys of the rule file, limits, figures, endings, progressions, instruments, rule files."""
    corpus = workspace.corpus
    return {
        "sections": [_section(section) for section in SECTIONS.values()],
        "limits": [
            {
                **_fields(kind, "kind", "summary"),
                "title": LIMIT_TITLES.get(kind.kind, kind.title),
                "keys": [_key(key) for key in kind.keys],
                "example": dict(kind.example.rule),
                "show": dict(LIMIT_SHOWS.get(kind.kind, {})),
            }
            for kind in LIMITS.values()
        ],
        "figures": [
            {
                **_fields(figure, "name", "remark"),
                "steps": figure.text,
                "both_sides": figure.two_sided,
                "notes": len(figure),
            }
            for figure in corpus.figures.values()
        ],
        "families": [
            {"name": name, "members": [each.text for each in members]}
            for name, members in corpus.families.items()
        ],
        "endings": [_ending(ending) for ending in corpus.endings.values()],
        "progressions": [
            _fields(each, "name", "title", "key", "changes", "numerals", "meter", "level", "remark")
            for each in corpus.progressions.values()
        ],
        "instruments": [
            {
                **_fields(each, "name", "title", "family", "lowest", "highest", "frets"),
                "comfortable": list(each.comfortable),
                "strings": [parse_pitch(pitch) for pitch in reversed(each.strings)],
            }
            for each in corpus.instruments.values()
        ],
        "rulefiles": [
            _fields(each, "name", "title", "level", "remark") for each in corpus.rulefiles.values()
        ],
        "orders": dict(MOST_RANKED),
        "cells": dict(CELLS),
        "dotted_cells": dict(DOTTED_CELLS),
        "scales": list(SCALES),
        "degrees": list(DEGREES),
        "qualities": [quality.name for quality in QUALITIES],
        "drill": {
            "samplings": dict(SAMPLINGS),
            "orders": dict(ORDERS),
            "keys": list(KEY_ORDERS),
            "levels": {f"level-{level}": most for level, most in LEVEL_SIGNS.items()},
            "kinds": {name: words for name, (_, words) in KINDS.items()},
            "traits": dict(TRAITS),
        },
        "keys": list(KEYS),
        "sheet": {"papers": list(PAPERS), "most_per_page": MOST_PER_PAGE},
        "marks": [
            _fields(each, "role", "word", "meaning", "path", "hollow", "colour") for each in MARKS.values()
        ],
    }


def _fields(row: object, *names: str) -> dict[str, Any]:
    """Some fields of a row of a table, by name."""
    return {name: getattr(row, name) for name in names}


def corpus_rules(workspace: Workspace, name: str) -> dict[str, Any]:
    """The text and the tables of a rule file of the corpora. Raises InputError for one that is not there."""
    entry = workspace.corpus.rulefiles.get(name)
    if entry is None:
        raise InputError(
            f'there is no rule file "{name}" in the corpora.{did_you_mean(name, workspace.corpus.rulefiles)}'
        )
    text = entry.text()
    return {"text": text, "tables": parse_toml(text, name)}


def _section(section: Section) -> dict[str, Any]:
    return {
        "name": section.name,
        "help": section.help,
        "many": section.many,
        "keys": [_key(key, section.name) for key in section.keys.values() if key.name not in NOT_HERE],
    }


def _key(key: FileKey, section: str = "") -> dict[str, Any]:
    path = f"{section}.{key.name}" if section else key.name
    words = CHOICE_WORDS.get(path, {})
    return {
        **rule_words(path, key.help),
        "name": key.name,
        "type": key.type.name.lower(),
        "shape": key.type.shape.name.lower(),
        "words": key.type.words,
        "example": key.type.example,
        "help": key.help,
        "required": key.required,
        "default": key.default,
        "default_text": key.default_text,
        "least": key.least,
        "most": key.most,
        "choices": [[each, words.get(each, each)] for each in key.choices],
    }


def _ending(ending: Ending) -> dict[str, Any]:
    return {
        "name": ending.name,
        "notes": ending.notes,
        "rhythm": ending.rhythm or "all eighths",
        "over": list(ending.over),
        "remark": ending.remark,
        "starts": f"on {ending.start_degree} at {ending.start_beat}",
        "resolves_to": rests_on(ending),
        "suits": thirds(ending),
        "level": ending_level(ending),
        "colour": ending.colour,
    }
