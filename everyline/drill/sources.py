"""Where the lines of a drill set come from: every rule file in every key, on every instrument asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus, read_toml
from everyline.corpora.errors import InputError, did_you_mean
from everyline.drill.spec import Spec
from everyline.rules.annotate import AnnotatedLine, annotate
from everyline.rules.canonical import fingerprint
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import parse_key
from everyline.rules.transpose import (
    CHROMATIC,
    CYCLE,
    home_key,
    keys_in_order,
    keys_of_level,
    transpose_tables,
)
from everyline.rules.typed_changes import with_changes
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.stratify import shuffle, sub_seed


@dataclass(frozen=True, eq=False)
class Source:
    """One rule file in one key on one instrument. ``tables`` are the rule file's own, as they then read."""

    name: str
    key: str
    instrument: str
    position: str
    tables: Mapping[str, Any]
    rules: Rules

    @cached_property
    def diagram(self) -> Diagram:
        """Its lines, compiled when they are first needed."""
        return compile_rules(self.rules)

    @cached_property
    def fingerprint(self) -> str:
        """The name of its set of lines."""
        return fingerprint(self.rules)

    def line(self, number: int) -> AnnotatedLine:
        """A line by its number. Raises InputError where there is none of that number."""
        if not 1 <= number <= self.diagram.count:
            raise InputError(
                f"there is no line {number} of {self.name} in {self.key}; the lines are numbered from 1 to "
                f"{self.diagram.count}."
            )
        return annotate(self.rules, self.diagram.line(number), number)

    def value(self, trait: str) -> str:
        """What this source has for a trait of whole rule files (see ``spec.SOURCE_TRAITS``)."""
        return {
            "rules": self.name,
            "key": self.key,
            "instrument": self.instrument,
            "position": self.position,
        }[trait]


def source_of(name: str, key: str, tables: Mapping[str, Any], corpus: Corpus) -> Source:
    """A source from the tables of a rule file. Raises InputError."""
    rules = parse_rules(tables, corpus, name=name)
    place = rules.position
    position = "" if place is None or place.fret is None else f"position {place.fret}"
    instrument = "" if rules.instrument is None else rules.instrument.name
    return Source(name, key, instrument, position, tables, rules)


def sources_of(spec: Spec, corpus: Corpus) -> list[Source]:
    """All sources, rule file by rule file, each in the keys' order. Raises InputError."""
    found = []
    for written in spec.rules:
        path = _path(written, corpus)
        tables = read_toml(path)
        if "own_rules" in tables:
            raise InputError(f"{written}: a drill set cannot be made under rules in Python; take them out.")
        found += sources_from(path.stem, with_changes(tables, corpus, written), spec, corpus)
    return found


def sources_from(name: str, tables: Mapping[str, Any], spec: Spec, corpus: Corpus) -> list[Source]:
    """The sources of one rule file, given by its tables. Raises InputError."""
    home = home_key(tables)
    found = []
    for placed in _placed(tables, spec):
        for key in _keys(spec, home):
            same = parse_key(key) == parse_key(home)
            moved = dict(placed) if same else transpose_tables(placed, key)
            found.append(source_of(name, key, moved, corpus))
    return found


def _path(written: str, corpus: Corpus) -> Path:
    path = Path(written)
    if path.exists() or path.suffix:
        return path
    entry = corpus.rulefiles.get(written)
    if entry is None:
        raise InputError(
            f'there is no rule file "{written}", and none of that name in the corpora.'
            f"{did_you_mean(written, corpus.rulefiles)}"
        )
    return entry.path


def _placed(tables: Mapping[str, Any], spec: Spec) -> list[dict[str, Any]]:
    """The tables on each instrument and in each position asked for."""
    if not spec.instruments:
        return [dict(tables)]
    ranges: list[dict[str, Any]] = [{"instrument": name} for name in spec.instruments]
    if spec.positions:
        ranges = [{"instrument": spec.instruments[0], "position": fret} for fret in spec.positions]
    return [{**tables, "range": each} for each in ranges]


def _keys(spec: Spec, home: str) -> tuple[str, ...]:
    """The keys in their order for rules at home in one; each name in ``keys`` adds its keys."""
    minor = parse_key(home).minor
    found: list[str] = []
    for name in spec.keys:
        if name == "home":
            found.append(home)
        elif name in ("cycle", "all"):
            found += _from(keys_in_order(CYCLE, minor), home)
        elif name == "chromatic":
            found += _from(keys_in_order(CHROMATIC, minor), home)
        elif name == "random":
            keys = list(keys_in_order(CHROMATIC, minor))
            shuffle(keys, sub_seed(spec.seed, "keys"))
            found += keys
        elif name.startswith("level-"):
            level = name.removeprefix("level-")
            found += keys_of_level(int(level) if level.isdecimal() else 0, minor)
        else:
            parse_key(name)
            found.append(name)
    return tuple(dict.fromkeys(found))


def _from(keys: tuple[str, ...], home: str) -> tuple[str, ...]:
    """The keys in their order, from the home key on."""
    place = next((n for n, key in enumerate(keys) if parse_key(key) == parse_key(home)), 0)
    return keys[place:] + keys[:place]
