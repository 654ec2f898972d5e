"""The lesson file: chosen lines with titles and remarks, in TOML that a teacher can edit.

Each ``[[line]]`` names its rule file and either its number there or its notes. A line given by its notes may
break the rules (a lesson may be about that); by its number it cannot.

    title = "Enclosures, week 3"
    [[line]]
    rules = "first-enclosure"
    number = 17
    title = "Through the fifth"
    remark = "Sing the target first."
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from corpora import Corpus, read_toml
from corpora.errors import InputError, did_you_mean
from everyline.files import writing
from rules.annotate import AnnotatedLine, annotate
from rules.breaches import breaches
from rules.line_text import parse_line
from rules.rulefile import parse_rules
from rules.ruleset import Rules
from rules.spelling import parse_key
from rules.transpose import home_key, transpose_tables
from solver.compiler import compile_rules
from solver.diagram import Diagram


@dataclass(frozen=True, slots=True)
class LessonLine:
    """One line of a lesson: ``rules`` a path or a name in the corpora, ``key`` another key than its own;
    ``number`` or ``notes``."""

    rules: str
    number: int | None = None
    notes: str | None = None
    key: str | None = None
    title: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        """Check that the line is named in one way. Raises InputError."""
        if (self.number is None) == (self.notes is None):
            raise InputError("name a line by its number or by its notes, one of the two.")
        if self.number is not None and self.number < 1:
            raise InputError(f"number = {self.number}: lines are numbered from 1.")


@dataclass(frozen=True, slots=True)
class Lesson:
    """Chosen lines in order, with a title and a remark on the whole."""

    title: str = ""
    remark: str = ""
    lines: tuple[LessonLine, ...] = ()


_LINE: Mapping[str, type] = {
    "rules": str, "number": int, "notes": str, "key": str, "title": str, "remark": str,
}  # fmt: skip
_TOP: Mapping[str, type] = {"title": str, "remark": str, "line": list}
_WORDS = {str: "text in quotes", int: "a whole number", list: "tables, each under [[line]]"}


def read_lesson(path: Path) -> Lesson:
    """Read a lesson file. Raises InputError with the file, the place, the key and what is allowed."""
    data = _checked(read_toml(path), _TOP, str(path))
    lines = []
    for number, table in enumerate(data.get("line", ()), 1):
        where = f"{path}, [[line]] {number}"
        if not isinstance(table, Mapping):
            raise InputError(f"{where}: write each line as a table under [[line]].")
        keys = _checked(table, _LINE, where)
        if "rules" not in keys:
            raise InputError(f'{where}: the key "rules" is missing; it names a rule file.')
        try:
            lines.append(LessonLine(**keys))
        except InputError as error:
            raise InputError(f"{where}: {error}") from None
    return Lesson(data.get("title", ""), data.get("remark", ""), tuple(lines))


def _checked(table: Mapping[str, Any], keys: Mapping[str, type], where: str) -> dict[str, Any]:
    for name, value in table.items():
        if name not in keys:
            raise InputError(
                f'{where}: unknown key "{name}"; allowed are {", ".join(keys)}.{did_you_mean(name, keys)}'
            )
        if not isinstance(value, keys[name]) or isinstance(value, bool):
            raise InputError(f"{where}: {name} = {value!r} does not fit; it holds {_WORDS[keys[name]]}.")
    return dict(table)


def lesson_text(lesson: Lesson) -> str:
    """The lesson as TOML; what is empty is left out."""
    rows = [
        f"{name} = {_toml(getattr(lesson, name))}" for name in ("title", "remark") if getattr(lesson, name)
    ]
    for line in lesson.lines:
        rows += ["", "[[line]]"]
        values = {name: getattr(line, name) for name in _LINE}
        rows += [f"{name} = {_toml(value)}" for name, value in values.items() if value not in (None, "")]
    return "\n".join(rows).lstrip("\n") + "\n"


def _toml(value: str | int) -> str:
    # A JSON string is a TOML string, save that TOML wants the delete sign escaped.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def write_lesson(lesson: Lesson, path: Path) -> None:
    """Write a lesson file, whole or not at all. Raises InputError."""
    with writing(path) as file:
        file.write(lesson_text(lesson))


def lesson_lines(
    lesson: Lesson, corpus: Corpus, base: Path | None = None
) -> Iterable[tuple[LessonLine, AnnotatedLine]]:
    """Each line of a lesson with its notes and analysis. Rule files are found from ``base``, then in the
    corpora; each is compiled once. Raises InputError."""
    known: dict[tuple[str, str | None], tuple[Rules, Diagram]] = {}
    for place, line in enumerate(lesson.lines, 1):
        source = (line.rules, line.key)
        try:
            if source not in known:
                rules = _rules(line, corpus, base or Path())
                known[source] = rules, compile_rules(rules)
            yield line, _resolved(line, *known[source])
        except InputError as error:
            raise InputError(f"line {place} of the lesson: {error}") from None


def _rules(line: LessonLine, corpus: Corpus, base: Path) -> Rules:
    path = base / line.rules
    if not path.is_file():
        entry = corpus.rulefiles.get(line.rules)
        if entry is None:
            raise InputError(
                f'there is no rule file "{line.rules}".{did_you_mean(line.rules, corpus.rulefiles)}'
            )
        path = entry.path
    tables = read_toml(path)
    if line.key is not None and parse_key(line.key) != parse_key(home_key(tables)):
        tables = transpose_tables(tables, line.key)
    return parse_rules(tables, corpus, name=line.rules, base=path.parent)


def _resolved(line: LessonLine, rules: Rules, diagram: Diagram) -> AnnotatedLine:
    if line.number is not None:
        if line.number > diagram.count:
            raise InputError(f"there is no line {line.number}; {line.rules} has {diagram.count} lines.")
        return annotate(rules, diagram.line(line.number), line.number)
    candidates = parse_line(line.notes or "", rules)
    for events in candidates:
        number = diagram.number(events)
        if number is not None:
            return annotate(rules, events, number)
    found = breaches(rules, candidates[0])
    why = found[0].message if found else "it is none of its lines."
    raise InputError(f'"{line.notes}" is not valid under {line.rules}: {why}')
