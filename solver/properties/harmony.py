"""What notes are over their chords: degrees, notes outside the chord, where each change is landed on."""

from __future__ import annotations

from collections.abc import Iterable

from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold
from everyline.solver.properties.base import (
    NOTES,
    Count,
    Facet,
    NoteReader,
    Property,
    Tallied,
    facet,
    faceted,
)
from everyline.solver.properties.pitch import played


def _outside_notes(rules: Rules) -> NoteReader:
    def by_number(diagram: Diagram) -> dict[int, int]:
        outside = [int(not rules.note(event).chord_tone) for event in diagram.events]
        return Fold.plain(diagram, outside).histogram()

    return NoteReader(0, lambda state, note: state + (not note.chord_tone), str, by_number)


def _degrees(rules: Rules, diagram: Diagram) -> Iterable[Count]:
    found: dict[tuple[int, str], int] = {}
    for event, count in played(diagram):
        note = rules.note(event)
        name = rules.progression.chords[note.chord].degree_of(event.pitch)
        found[note.degree, name] = found.get((note.degree, name), 0) + count
    return (Count(name, tone, found[tone, name]) for tone, name in sorted(found))


def _landings(rules: Rules, diagram: Diagram) -> list[Facet]:
    """The first note in each chord after the first, whatever an analysis makes of it."""
    notes = [rules.note(event) for event in diagram.events]

    def step(chord: int, label: int) -> tuple[int, tuple[int, int] | None]:
        note = notes[label]
        return note.chord, (note.chord, note.degree) if note.chord != chord else None

    passed = Fold.of(diagram, -1, step).passed()
    found = []
    for index, chord in enumerate(rules.progression.chords[1:], 1):
        names = (chord.degree_of(chord.root_class + degree) for degree in range(12))
        values = [(name, passed.get((index, degree), 0)) for degree, name in enumerate(names)]
        values.append(("none", diagram.count - sum(count for _, count in values)))
        where = rules.progression.place(rules.progression.starts[index])
        title = f"degree of the first note over {chord.symbol}, {where}"
        found.append(facet("landing", title, values))
    return found


OUTSIDE_NOTES = faceted(
    "outside-notes",
    "notes that are not chord tones of the chord they sound over",
    _outside_notes,
    "outside_notes",
)
LANDING = Property("landing", "degree of the first note in each chord", note_facet=_landings)
DEGREE = Property(
    "degree",
    "each note as a degree of the chord it sounds over",
    tally=Tallied(NOTES, _degrees, has_mean=False),
)
