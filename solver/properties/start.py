"""How a line starts: its first note, that note as a degree, the beat."""

from __future__ import annotations

from collections.abc import Callable

from everyline.corpora.counted import plural
from everyline.rules.line import Note
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.diagram import Diagram
from everyline.solver.properties.base import NoteReader, faceted


def _start_note(rules: Rules) -> NoteReader:
    chord, scale = rules.progression.chords[0], rules.scales[0]

    def step(state: int | None, note: Note) -> int:
        return note.pitch if state is None else state

    return NoteReader(
        None,
        step,
        lambda pitch: spell(pitch, chord, scale, rules.key),
        lambda diagram: _by_first(diagram, lambda pitch, onset: pitch),
    )


def _start_degree(rules: Rules) -> NoteReader:
    chord = rules.progression.chords[0]

    def degree(pitch: int) -> int:
        return (pitch - chord.root_class) % 12

    def step(state: int | None, note: Note) -> int:
        return degree(note.pitch) if state is None else state

    return NoteReader(
        None,
        step,
        lambda state: chord.degree_of(chord.root_class + state),
        lambda diagram: _by_first(diagram, lambda pitch, onset: degree(pitch)),
    )


def _entry_beat(rules: Rules) -> NoteReader:
    def step(state: int | None, note: Note) -> int:
        return note.slot if state is None else state

    return NoteReader(
        None,
        step,
        lambda slot: entry_beat(rules, slot),
        lambda diagram: _by_first(diagram, lambda pitch, onset: onset // rules.slot_ticks),
    )


def entry_beat(rules: Rules, slot: int) -> str:
    """The beat on which a line starts, in words."""
    progression = rules.progression
    if slot < 0:
        return f"pickup of {plural(-slot, 'slot')}"
    bar = "" if slot < progression.slots_per_bar else f"bar {progression.bar(slot)}, "
    return f"{bar}beat {progression.beat_name(slot)}"


def _by_first(diagram: Diagram, state: Callable[[int, int], int]) -> dict[int, int]:
    """Lines by the state that the pitch and onset of their first event give."""
    found: dict[int, int] = {}
    for label, child in zip(diagram.labels[diagram.root], diagram.children[diagram.root], strict=True):
        event = diagram.events[label]
        value = state(event.pitch, event.onset)
        found[value] = found.get(value, 0) + diagram.totals[child]
    return found


START_NOTE = faceted("start-note", "first note", _start_note, "start_pitch")
START_DEGREE = faceted(
    "start-degree",
    "first note as a degree of the first chord",
    _start_degree,
    "start_degree",
    "first note as a degree of {first}",
)
ENTRY_BEAT = faceted("entry-beat", "beat on which the line starts", _entry_beat, "entry_beat")
