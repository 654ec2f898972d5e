"""The lesson file: chosen lines with titles and remarks, in TOML that a teacher can edit.

Each ``[[line]]`` names its rules and its number under them, its notes, or both. A line that was kept has
both: its notes say which line it is for ever, its number where it stood when it was kept. The rules are a
path, a name in the corpora, or a rule file's own text, which makes the lesson whole in itself.

    title = "Enclosures, week 3"
    [[line]]
    rules = "first-enclosure"
    number = 17
    notes = "@1 D4 F4 A4 C5 B4 G4 F4 D4 C4:4"
    title = "Through the fifth"
    remark = "Sing the target first."

    [[line]]
    number = 3
    rules = \"\"\"
    changes = "Dm7 | G7 | Cmaj7"
    \"\"\"
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus, parse_toml, read_toml
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.toml_text import toml_row, toml_rows
from everyline.files.writing import changing, writing
from everyline.rules.annotate import AnnotatedLine, annotate, unexplained
from everyline.rules.breaches import breaches
from everyline.rules.line_text import format_line, parse_line
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.schema import FileKey, KeyType, Where, check_table
from everyline.rules.spelling import parse_key
from everyline.rules.transpose import home_key, transpose_tables
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram

_ONE_ROW = re.compile(r"\s*changes\s*=")


@dataclass(frozen=True, slots=True)
class LessonLine:
    """One line of a lesson: ``rules`` a path, a name in the corpora or a rule file's own text, ``key``
    another key than its own; ``number``, ``notes`` or both, where the notes say which line it is."""

    rules: str
    number: int | None = None
    notes: str | None = None
    key: str | None = None
    title: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        """Check that the line is named. Raises InputError."""
        if self.number is None and self.notes is None:
            raise InputError("name a line by its number or by its notes.")
        if self.number is not None and self.number < 1:
            raise InputError(f"number = {self.number}: lines are numbered from 1.")

    @property
    def own_text(self) -> bool:
        """Whether ``rules`` is a rule file's own text: several rows, or one that begins ``changes =``."""
        return "\n" in self.rules or _ONE_ROW.match(self.rules) is not None

    @property
    def rules_name(self) -> str:
        """What a message calls the rules."""
        return "its rules" if self.own_text else self.rules


@dataclass(frozen=True, slots=True)
class Lesson:
    """Chosen lines in order, with a title and a remark on the whole."""

    title: str = ""
    remark: str = ""
    lines: tuple[LessonLine, ...] = ()


_LINE: Mapping[str, FileKey] = {
    key.name: key
    for key in (
        FileKey("rules", KeyType.RULES, "the rule file", required=True),
        FileKey("number", KeyType.NUMBER, "the line's number under its rules", least=1),
        FileKey("notes", KeyType.LINE, "its notes, which go before the number"),
        FileKey("key", KeyType.KEY, "another key than the rule file's own"),
        FileKey("title", KeyType.TEXT, "a title for the line", default=""),
        FileKey("remark", KeyType.TEXT, "a remark on the line", default=""),
    )
}
_TOP: Mapping[str, FileKey] = {
    "title": FileKey("title", KeyType.TEXT, "a title for the whole", default=""),
    "remark": FileKey("remark", KeyType.TEXT, "a remark on the whole", default=""),
    "line": FileKey("line", KeyType.TABLES, "the lines, each under [[line]]", default=()),
}


def read_lesson(path: Path) -> Lesson:
    """Read a lesson file. Raises InputError with the file, the place, the key and what is allowed."""
    return _lesson(read_toml(path), str(path))


def parse_lesson(text: str, name: str = "the lesson file") -> Lesson:
    """The lesson in a lesson file's text; ``name`` is what a message calls the file. Raises InputError."""
    return _lesson(parse_toml(text, name), name)


def _lesson(tables: Mapping[str, Any], name: str) -> Lesson:
    data = check_table(tables, _TOP, Where(name))
    lines = (line_of(table, Where(name, f"[[line]] {place}")) for place, table in enumerate(data["line"], 1))
    return Lesson(data["title"], data["remark"], tuple(lines))


def line_of(table: Mapping[str, Any], where: Where) -> LessonLine:
    """A line of a lesson from its keys. Raises InputError that names the place."""
    checked = check_table(table, _LINE, where)
    try:
        return LessonLine(**checked)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def lesson_text(lesson: Lesson) -> str:
    """The lesson as TOML; what is empty is left out. A rule file's own text stands last in its line,
    row by row."""
    rows = [_row(name, getattr(lesson, name)) for name in ("title", "remark") if getattr(lesson, name)]
    for line in lesson.lines:
        rows += ["", "[[line]]"]
        values = {name: getattr(line, name) for name in sorted(_LINE, key=lambda name: _last(line, name))}
        rows += [_row(name, value) for name, value in values.items() if value not in (None, "")]
    return "\n".join(rows).lstrip("\n") + "\n"


def _last(line: LessonLine, name: str) -> bool:
    return name == "rules" and line.own_text


def _row(name: str, value: str | int) -> str:
    if isinstance(value, str) and "\n" in value:
        return f"{name} = {toml_rows(value)}"
    return toml_row(name, value)


def keep(line: LessonLine, path: Path) -> int:
    """Add a line at the end of a lesson file, or begin one; answers how many lines it has then.

    Of several that add to one file at the same time none is lost. Raises InputError.
    """
    with changing(path):
        before = read_lesson(path) if path.exists() else Lesson()
        after = replace(before, lines=(*before.lines, line))
        write_lesson(after, path)
    return len(after.lines)


def write_lesson(lesson: Lesson, path: Path) -> None:
    """Write a lesson file, whole or not at all. Raises InputError."""
    text = lesson_text(lesson)
    with writing(path) as file:
        file.write(text)


def lesson_lines(
    lesson: Lesson, corpus: Corpus, base: Path | None = None, tell: Callable[[str], object] | None = None
) -> Iterator[tuple[LessonLine, AnnotatedLine]]:
    """Each line of a lesson with its notes and analysis. Rule files are found from ``base``, then in the
    corpora; each is compiled once.

    A line that was kept with its notes is that line whatever has become of its rules; where they have moved
    on, ``tell`` is given a sentence that says so. Raises InputError.
    """
    known: dict[tuple[str, str | None], tuple[Rules, Diagram]] = {}
    for place, line in enumerate(lesson.lines, 1):
        source = (line.rules, line.key)
        try:
            if source not in known:
                rules = _rules(line, corpus, base or Path())
                known[source] = rules, compile_rules(rules)
            found = kept_line(line, *known[source])
        except InputError as error:
            raise InputError(f"line {place} of the lesson: {error}") from None
        moved = moved_on(line, found)
        if moved and tell is not None:
            tell(f"line {place} of the lesson: {moved}")
        yield line, found


def _rules(line: LessonLine, corpus: Corpus, base: Path) -> Rules:
    folder = base if line.own_text else (base / line.rules).parent
    return parse_rules(rule_tables(line, corpus, base), corpus, name=line.rules_name, base=folder)


def rule_tables(line: LessonLine, corpus: Corpus, base: Path | None) -> dict[str, Any]:
    """The tables of a line's rule file, in the line's key. Paths start from ``base``; where that is None no
    file is read but those of the corpora. Raises InputError."""
    tables = _tables(line, corpus, base)
    if line.key is None:
        return tables
    parse_rules(tables, corpus, name=line.rules_name)  # what moves to another key is sound in its own
    if parse_key(line.key) == parse_key(home_key(tables)):
        return tables
    return transpose_tables(tables, line.key)


def _tables(line: LessonLine, corpus: Corpus, base: Path | None) -> dict[str, Any]:
    if line.own_text:
        return parse_toml(line.rules, line.rules_name)
    if base is not None and os.path.isfile(base / line.rules):
        return read_toml(base / line.rules)
    entry = corpus.rulefiles.get(line.rules)
    if entry is not None:
        return read_toml(entry.path)
    near = did_you_mean(line.rules, corpus.rulefiles)
    if base is None:
        raise InputError(
            f'"{line.rules[:100]}" is not a rule file of the corpora, and the page cannot read files from '
            f"disk; embed the rule file's text under rules.{near}"
        )
    raise InputError(f'there is no rule file "{line.rules[:100]}".{near}')


def found_line(line: LessonLine, rules: Rules, diagram: Diagram) -> AnnotatedLine:
    """The line that a lesson's line names, among those of its rules. Raises InputError where it is none."""
    found = kept_line(line, rules, diagram)
    if found.number is None:
        raise InputError(f'"{line.notes}" is not valid under {line.rules_name}: {_why_not(found)}')
    return found


def kept_line(line: LessonLine, rules: Rules, diagram: Diagram) -> AnnotatedLine:
    """The same; notes that are no line of the rules, or no more, come without number and roles. Raises
    InputError for a number that there is not, and for what cannot be read as notes."""
    if line.notes is None:
        assert line.number is not None, "a line has a number or notes"
        if line.number > diagram.count:
            raise InputError(
                f"there is no line {line.number} under {line.rules_name}: "
                f"{plural(diagram.count, 'line')} in all."
            )
        return annotate(rules, diagram.line(line.number), line.number)
    candidates = parse_line(line.notes, rules)
    numbers = {diagram.number(events): events for events in reversed(candidates)}
    number = line.number if line.number in numbers else next(filter(None, reversed(numbers)), None)
    if number is None:
        return unexplained(rules, candidates[0])
    return annotate(rules, numbers[number], number)


def moved_on(line: LessonLine, found: AnnotatedLine) -> str:
    """What is to be said of a line whose rules are no more what they were when it was kept; nothing where
    there is nothing to be said. ``found`` is its ``kept_line``."""
    if line.notes is None or (found.number is not None and line.number in (None, found.number)):
        return ""
    if line.number is None:
        return f"its notes are not valid under {line.rules_name}: {_why_not(found)}"
    now = f"line {found.number}" if found.number is not None else f"none of its lines: {_why_not(found)}"
    return (
        f"{line.rules_name} has moved on since this line was kept, and its notes are kept as they were; it "
        f"was line {line.number} then and is now {now.removesuffix('.')}."
    )


def _why_not(line: AnnotatedLine) -> str:
    found = breaches(line.rules, line.events)
    return found[0].message if found else "it is none of its lines."


def with_notes(line: LessonLine, found: AnnotatedLine) -> LessonLine:
    """The line with its notes beside its number, so that it stays that line; ``found`` is the line itself."""
    return replace(line, number=found.number, notes=line_notes(found))


def line_notes(line: AnnotatedLine) -> str:
    """The notes of a line as text, with the place where they start in front."""
    return format_line(line.rules, line.events, [note.name for note in line.notes], start=True)
