"""From a line of a space to a line that a student was given, and back, whatever has become of its rules."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus, parse_toml, read_toml
from everyline.corpora.errors import InputError
from everyline.practice.copies import line_id, tune
from everyline.practice.records import GivenLine
from everyline.rules.analysis import best_analysis
from everyline.rules.annotate import AnnotatedLine, annotate, unexplained
from everyline.rules.canonical import fingerprint
from everyline.rules.line_text import format_line, parse_line
from everyline.rules.pitch import parse_note_name
from everyline.rules.rule_text import to_toml
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import parse_key
from everyline.rules.transpose import CHROMATIC, home_key, keys_in_order
from everyline.rules.typed_changes import with_changes

OWN_TEXT = "a rule file's own text"
"""What rules are called that come from no file."""
_PLAIN_KEYS = ("changes", "key", "meter", "beat", "subdivision", "range")
"""What still shows a line where its rules cannot be read any more."""


@dataclass(frozen=True)
class RuleFile:
    """A rule file as it is kept with lines: its rules, its text, and where it came from (see GivenLine)."""

    rules: Rules
    text: str
    name: str
    key: str
    level: int | None
    altered: bool

    @classmethod
    def of(cls, tables: Mapping[str, Any], name: str, corpus: Corpus, path: Path | None) -> RuleFile:
        """The rule file of some tables. ``path`` is the file they were read from, whose text is kept where
        nothing in it was changed. Raises InputError; rules in Python are refused, as no text can keep them.
        """
        if "own_rules" in tables:
            raise InputError(f"{name}: a line cannot be kept with rules in Python; take them out.")
        stated = with_changes(tables, corpus, name)  # with the chords themselves, where tables name them
        rules = parse_rules(stated, corpus, name=name)
        altered = path is None or dict(read_toml(path)) != dict(tables)
        as_it_stands = path is not None and not altered and stated == tables
        text = path.read_text(encoding="utf-8-sig") if path and as_it_stands else to_toml(stated)
        entry = None if path is None else _in_corpora(path, corpus)
        where = OWN_TEXT if path is None else entry or str(path.resolve())
        level = None if entry is None else corpus.rulefiles[entry].level
        return cls(rules, text, where, _home(stated), level, altered)

    @property
    def _called(self) -> str:
        """What a line is called whose rule file has no title: as the file is, else as its chords are."""
        return self.rules.progression.text if self.name == OWN_TEXT else Path(self.name).stem

    def line(self, line: AnnotatedLine, on: date, title: str = "") -> GivenLine:
        """A line as it is kept; one that is not valid under the rules comes without number."""
        notes = format_line(line.rules, line.events, [note.name for note in line.notes], start=True)
        found = fingerprint(self.rules)
        progression = self.rules.progression
        instrument = self.rules.instrument
        return GivenLine(
            id=line_id(found, notes),
            place=0,
            title=title or self.rules.title or self._called,
            tune=tune(self.rules, line.events),
            notes=notes,
            rules_name=self.name,
            rules_text=self.text,
            fingerprint=found,
            number=line.number,
            strangeness=None if line.number is None else line.strangeness,
            given=on,
            key=self.key,
            beats=progression.slots // progression.subdivision,
            instrument="" if instrument is None else instrument.name,
            level=self.level,
            altered=self.altered,
        )


def key_name(text: str) -> str:
    """A key in the one way in which records have it: ``Eb`` or ``Am``. Raises InputError for what is none."""
    key = parse_key(text)
    return key.tonic + ("m" if key.minor else "")


def _home(tables: Mapping[str, Any]) -> str:
    """The key of a rule file, one with seven signs at most: a last chord of D# is at home in Eb."""
    home = home_key(tables)
    try:
        return key_name(home)
    except InputError:
        minor = home.endswith("m")
        return keys_in_order(CHROMATIC, minor)[parse_note_name(home.removesuffix("m"))]


def _in_corpora(path: Path, corpus: Corpus) -> str | None:
    """The name of a rule file in the corpora, where the path leads to one."""
    there = path.resolve()
    return next((each.name for each in corpus.rulefiles.values() if each.path.resolve() == there), None)


def readable(text: str, corpus: Corpus) -> tuple[Mapping[str, Any], Rules, str]:
    """The rules in a line's own text, as tables and read; where the corpora no longer have what it names, its
    changes alone, with a sentence on it. Raises InputError where not even these can be read."""
    tables: Mapping[str, Any] = parse_toml(text, "its rules")
    try:
        return tables, parse_rules(text, corpus, name="its rules"), ""
    except InputError as error:
        plain = {name: tables[name] for name in _PLAIN_KEYS if name in tables}
        why = str(error).rstrip(".")
        said = f"the rules of this line can no longer be read ({why}); its notes are kept as they were."
        return plain, parse_rules(plain, corpus, name="its rules"), said


@dataclass
class KeptLines:
    """Shows kept lines. Rules are read once for all lines that have them."""

    corpus: Corpus
    _rules: dict[str, tuple[Rules, str]] = field(default_factory=dict, repr=False)
    _named: dict[tuple[str, str], str] = field(default_factory=dict, repr=False)

    def line(self, kept: GivenLine) -> AnnotatedLine:
        """The line with its analysis, or without where its rules, as they are read today, have none for it.
        Raises InputError where not even its changes can be read."""
        rules, _ = self._read(kept)
        (events,) = parse_line(kept.notes, rules)
        analysis = best_analysis(rules, events)
        if analysis is None or kept.number is None:
            return unexplained(rules, events)
        number = kept.number if fingerprint(rules) == kept.fingerprint else None
        return annotate(rules, events, number, analysis)

    def moved_on(self, kept: GivenLine) -> str:
        """What has become of the rules of a line since it was kept, as a sentence; nothing where they are
        what they were."""
        rules, why = self._read(kept)
        if why:
            return why
        if fingerprint(rules) != kept.fingerprint:
            return "the corpora have moved on since this line was given; its notes are kept as they were."
        return self._named_file(kept)

    def _read(self, kept: GivenLine) -> tuple[Rules, str]:
        """The rules in a line's own text; where the corpora no longer have what it names, its changes alone,
        with a sentence on it."""
        found = self._rules.get(kept.rules_text)
        if found is None:
            _, rules, why = readable(kept.rules_text, self.corpus)
            found = self._rules[kept.rules_text] = rules, why
        return found

    def _named_file(self, kept: GivenLine) -> str:
        """What has become of the rule file that a line was given from."""
        known = (kept.rules_name, kept.fingerprint)
        if kept.altered or kept.rules_name == OWN_TEXT:
            return ""
        if known not in self._named:
            self._named[known] = self._compared(kept)
        return self._named[known]

    def _compared(self, kept: GivenLine) -> str:
        entry = self.corpus.rulefiles.get(kept.rules_name)
        path = Path(kept.rules_name) if entry is None else entry.path
        if not path.is_file():
            return ""
        try:
            now = fingerprint(parse_rules(read_toml(path), self.corpus, base=path.parent))
        except InputError:
            now = ""
        if now == kept.fingerprint:
            return ""
        return (
            f"{kept.rules_name} has moved on since this line was given; the line keeps its notes, and the "
            "rules that it had."
        )
