"""Lines made by hand, for what shows and plays them: any rhythm, whether or not rules would make it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from everyline.rules.analysis import ARPEGGIO, PLAIN
from everyline.rules.annotate import AnnotatedLine, AnnotatedNote, spell_line
from everyline.rules.line_text import parse_line
from everyline.rules.rulefile import parse_rules
from tests.spaces import CORPUS


def handmade(
    text: str,
    changes: str = "Dm7 | G7 | Cmaj7 | %",
    roles: Sequence[str] = (),
    number: int | None = None,
    **keys: Any,
) -> AnnotatedLine:
    """A line as it is typed, over changes and further keys of a rule file; ``roles`` from the first note on,
    arpeggio for the rest.
    """
    rules = parse_rules({"changes": changes, **keys}, CORPUS)
    (events, *_) = parse_line(text, rules)
    notes = rules.notes(events)
    roles = [*roles, *[ARPEGGIO] * (len(notes) - len(roles))]
    shown = (
        AnnotatedNote(
            note.onset,
            note.length,
            note.pitch,
            name,
            role,
            rules.called(note)[1],
            rules.progression.chords[note.chord].symbol,
        )
        for note, name, role in zip(notes, spell_line(rules, events), roles, strict=True)
    )
    return AnnotatedLine(rules, tuple(shown), (), PLAIN, number)
