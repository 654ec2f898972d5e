"""Lines out of files for what is learned from them: text with a line in each row, MusicXML, MIDI, lessons.

A row of text that begins ``changes:`` states the chords for the rows after it; ``#`` begins a remark.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus
from everyline.corpora.errors import InputError
from everyline.reading.fitted import SUFFIXES, TEXT, read_line
from everyline.reading.raw import read_bytes
from everyline.rules.line import Events
from everyline.rules.line_text import parse_line
from everyline.rules.rulefile import rules_from_options
from everyline.rules.ruleset import Rules

CHANGES = "changes:"
LESSON = ".toml"

Heard = tuple[Rules, Events]
"""A line with the rules whose chords it is heard over."""


def over(changes: str, corpus: Corpus, **options: Any) -> Rules:
    """Rules for the sake of their chords, in the whole range of pitches. Raises InputError."""
    return rules_from_options(
        corpus, changes=changes, lowest="C-1", highest="G9", endings=["plain"], **options
    )


def read_lines(path: Path, rules: Rules | None, corpus: Corpus) -> Iterator[Heard]:
    """The lines of a file, over the chords of ``rules`` or over those that the file states itself.

    Lines need not be valid under any rules. Raises InputError, with file and row.
    """
    suffix = path.suffix.lower()
    if suffix == LESSON:
        from everyline.files.lessons import lesson_lines, read_lesson

        for _, line in lesson_lines(read_lesson(path), corpus, path.parent):
            yield line.rules, line.events
    elif SUFFIXES.get(suffix) == TEXT:
        yield from _rows(path, rules, corpus)
    elif rules is None:
        raise InputError(f'{path}: over which chords? Give them, such as --changes "Dm7 | G7 | Cmaj7".')
    else:
        yield rules, read_line(path, rules).candidates[0]


def _rows(path: Path, rules: Rules | None, corpus: Corpus) -> Iterator[Heard]:
    try:
        rows = read_bytes(path).decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise InputError(
            f"{path}: not text in UTF-8; type a line in each row, such as D4 F4 A4 C5:4."
        ) from None
    for number, row in enumerate(rows, 1):
        text = row.strip()
        if not text or text.startswith("#"):
            continue
        try:
            if text.casefold().startswith(CHANGES):
                rules = over(text[len(CHANGES) :], corpus)
            elif rules is None:
                raise InputError(
                    f'over which chords? Write "{CHANGES} Dm7 | G7 | Cmaj7" above it, or give --changes.'
                )
            else:
                yield rules, parse_line(text, rules)[0]
        except InputError as error:
            raise InputError(f"{path}, row {number}: {error}") from None
