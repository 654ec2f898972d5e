"""A line that was given stays what it was, and what has become of its rules is said."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from everyline.corpora import load as load_corpus
from everyline.corpora import read_toml
from everyline.corpora.errors import InputError
from everyline.practice.kept import OWN_TEXT, KeptLines, RuleFile
from everyline.rules.annotate import unexplained
from everyline.rules.canonical import fingerprint
from everyline.rules.rulefile import parse_rules
from everyline.spaces.space import Space, parse
from tests.spaces import CORPUS

DAY = date(2026, 11, 26)
TEXT = '# mine\nchanges = "Dm7 | G7 | Cmaj7"\nentry.start = ["D4"]\n'


def kept(path: Path, number: int = 7):
    tables = {"changes": "Dm7 | G7 | Cmaj7", "entry": {"start": ["D4"]}}
    source = RuleFile.of(tables, str(path), CORPUS, path)
    return source.line(Space(source.rules).line(number), DAY)


@pytest.mark.parametrize("name", list(CORPUS.rulefiles))
def test_lines_of_every_rule_file_of_the_corpora_are_kept_and_shown(name: str) -> None:
    entry = CORPUS.rulefiles[name]
    source = RuleFile.of(read_toml(entry.path), name, CORPUS, entry.path)
    assert (source.name, source.level, source.altered) == (name, entry.level, False)
    assert fingerprint(parse_rules(source.text, CORPUS)) == fingerprint(source.rules), "the text stands alone"


@pytest.mark.parametrize("name", ["first-enclosure", "waltz", "triplets", "long-short", "sixteenths"])
def test_a_kept_line_is_shown_as_it_was(name: str) -> None:
    entry = CORPUS.rulefiles[name]
    source = RuleFile.of(read_toml(entry.path), name, CORPUS, entry.path)
    space, kept_lines = Space(source.rules), KeptLines(CORPUS)
    for line in space.samples(12, seed=3):
        given = source.line(line, DAY)
        shown = kept_lines.line(given)
        assert (shown.notes, shown.number) == (line.notes, line.number)
        assert given.strangeness == line.strangeness and kept_lines.moved_on(given) == ""
        assert given.beats == space.rules.progression.bars * space.rules.progression.beats_per_bar


def test_a_rule_file_that_changes_does_not_change_the_line(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(TEXT)
    line = kept(path)
    assert line.rules_text == TEXT and line.rules_name == str(path) and not line.altered
    before = KeptLines(CORPUS).line(line)
    for text in ('changes = "Gm7 | C7 | Fmaj7"\n', "changes = ", TEXT.replace("D4", "F4")):
        path.write_text(text)
        kept_lines = KeptLines(CORPUS)
        assert kept_lines.line(line).notes == before.notes and kept_lines.line(line).number == 7
        assert "has moved on since this line was given" in kept_lines.moved_on(line)
    path.write_text("# another remark\n" + TEXT)
    assert KeptLines(CORPUS).moved_on(line) == "", "the same lines under the same numbers"
    path.unlink()
    assert KeptLines(CORPUS).moved_on(line) == "", "the line needs its file no more"


def test_corpora_that_change_do_not_change_the_line(tmp_path: Path) -> None:
    """An ending of one's own, used by name, gets other notes and is then gone."""
    folder = tmp_path / "own"
    (folder / "endings").mkdir(parents=True)
    ending = '[[ending]]\nname = "mine"\nnotes = "b9 1 b7 5 | 3"\n'
    (folder / "endings" / "mine.toml").write_text(ending)
    tables = {"changes": "Dm7 | G7 | Cmaj7", "ending": {"use": ["mine"]}}
    corpus = load_corpus(folder)
    source = RuleFile.of(tables, "mine", corpus, None)
    line = source.line(Space(source.rules).line(1), DAY)
    assert line.rules_name == OWN_TEXT and line.altered
    shown = KeptLines(corpus).line(line)
    assert shown.ending == "mine" and KeptLines(corpus).moved_on(line) == ""

    (folder / "endings" / "mine.toml").write_text(ending.replace("b9 1 b7 5 | 3", "3 5 b7 b9 | 5"))
    kept_lines = KeptLines(load_corpus(folder))
    assert "corpora have moved on" in kept_lines.moved_on(line)
    assert kept_lines.line(line).events == shown.events and kept_lines.line(line).number is None

    (folder / "endings" / "mine.toml").unlink()
    kept_lines = KeptLines(load_corpus(folder))
    assert "can no longer be read" in kept_lines.moved_on(line) and "mine" in kept_lines.moved_on(line)
    assert kept_lines.line(line).events == shown.events
    assert [note.chord for note in kept_lines.line(line).notes] == [note.chord for note in shown.notes]


def test_changes_by_name_are_kept_as_chords() -> None:
    name = next(iter(CORPUS.progressions))
    source = RuleFile.of({"changes": name}, "named", CORPUS, None)
    assert name not in source.text
    assert fingerprint(parse_rules(source.text, CORPUS)) == fingerprint(source.rules)


def test_rules_that_options_changed_are_kept_as_they_were_then() -> None:
    entry = CORPUS.rulefiles["first-enclosure"]
    tables = {**read_toml(entry.path), "range": {"lowest": "C4", "highest": "C6"}}
    source = RuleFile.of(tables, "first-enclosure", CORPUS, entry.path)
    assert source.altered and source.level == entry.level and source.name == "first-enclosure"
    line = source.line(Space(source.rules).line(1), DAY)
    assert KeptLines(CORPUS).moved_on(line) == "" and KeptLines(CORPUS).line(line).number == 1


def test_a_line_that_is_not_valid_is_kept_too() -> None:
    source = RuleFile.of({"changes": "Dm7 | G7 | Cmaj7"}, "x", CORPUS, None)
    line = parse(source.text).line(1)
    odd = source.line(unexplained(source.rules, line.events[:3]), DAY, "Mine")
    assert (odd.number, odd.strangeness, odd.title) == (None, None, "Mine")
    shown = KeptLines(CORPUS).line(odd)
    assert shown.events == line.events[:3] and shown.number is None


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ("Dm7 | G7 | Cmaj7", "C"),
        ("A#m7 | D#7 | G#maj7", "Ab"),
        ("A#7 | D#m7", "D#m"),
        ("E#7 | A#m7", "A#m"),
        ("F#7 | B#m7", "Cm"),
        ("Gb7 | Cbmaj7", "Cb"),
        ("Cb7 | Fbmaj7", "E"),
    ],
)
def test_every_line_is_at_home_in_a_key_that_can_be_written(changes: str, key: str) -> None:
    assert RuleFile.of({"changes": changes}, "x", CORPUS, None).key == key


def test_rules_in_python_are_refused() -> None:
    with pytest.raises(InputError, match="cannot be kept with rules in Python"):
        RuleFile.of({"changes": "Dm7 | G7", "own_rules": ["x.py:no"]}, "x", CORPUS, None)


def test_equal_notes_under_equal_rules_have_one_id(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(TEXT)
    assert kept(path).id == kept(path).id != kept(path, 8).id
    assert replace(kept(path), title="x").id == kept(path).id
