"""Lines as rows of data with what the notes alone say: no role and no ending, so no analysis, and each
note named by its chord and the key alone.

Rows are those of ``everyline.text.rows`` without the columns that need an analysis; a row of text is the
line's number, a tab, and the line as it is typed, which ``everyline number`` reads back. Lines are written
one by one, or, where there are many, in batches (``everyline.parallel.column_listing``), to the same bytes.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator
from itertools import islice
from typing import IO

from everyline.rules.annotate import spell_each
from everyline.rules.line import Events
from everyline.rules.line_text import format_line
from everyline.rules.roughness import roughness
from everyline.rules.ruleset import Rules
from everyline.rules.taste import Taste, default_taste, strangeness
from everyline.spaces.space import Space
from everyline.text.rows import NOTES_COLUMNS

MANY = 5000
"""From so many lines on batches are faster, although they take some tenths of a second to start."""

Numbered = tuple[int, Events]
"""A line's number and the line."""


def write_numbered(
    rules: Rules, lines: Iterable[Numbered], form: str, out: IO[str], taste: Taste | None = None
) -> None:
    """Write lines one by one in a format out of ``everyline.text.rows.FORMATS``; strangeness is by the taste,
    the default one where it is None."""
    rows = {"text": _text, "jsonl": _jsonl, "csv": _csv}[form](rules, lines, taste or default_taste())
    for row in rows:
        out.write(row)


def write_range(space: Space, first: int, last: int, form: str, out: IO[str], many: int = MANY) -> None:
    """Write lines ``first`` to ``last``, in batches where there are ``many`` or more."""
    if last + 1 - first < many:
        walk = islice(space.diagram.walk(first), max(0, last + 1 - first))
        write_numbered(space.rules, enumerate(walk, first), form, out, space.taste)
        return
    from everyline.parallel.column_listing import texts

    for text in texts(space.rules, space.diagram, first, last, form, space.taste):
        out.write(text)


def _text(rules: Rules, lines: Iterable[Numbered], taste: Taste) -> Iterator[str]:
    for number, events in lines:
        yield f"{number}\t{format_line(rules, events, spell_each(rules, events))}\n"


def _jsonl(rules: Rules, lines: Iterable[Numbered], taste: Taste) -> Iterator[str]:
    for number, events in lines:
        notes = [{"tick": onset, "length": length, "pitch": pitch} for onset, pitch, length in events]
        rough = roughness([event.pitch for event in events], rules.weights)
        strange = strangeness(rules, events, taste)
        row = {"number": number, "roughness": rough, "strangeness": strange, "notes": notes}
        yield json.dumps(row) + "\n"


class _Kept:
    """What the csv module writes to."""

    text = ""

    def write(self, text: str) -> int:
        self.text = text
        return len(text)


def _csv(rules: Rules, lines: Iterable[Numbered], taste: Taste) -> Iterator[str]:
    kept = _Kept()
    table = csv.writer(kept, lineterminator="\n")
    table.writerow(NOTES_COLUMNS)
    yield kept.text
    for number, events in lines:
        rough = roughness([event.pitch for event in events], rules.weights)
        strange = strangeness(rules, events, taste)
        for place, (onset, pitch, length) in enumerate(events, 1):
            table.writerow((number, rough, strange, place, onset, length, pitch))
            yield kept.text
