"""Traits of a line by which sets of lines are balanced or covered: its first note, its place on the neck ...

A trait is read note by note, so that a whole diagram can be told apart by it without listing a line. The
traits that depend on the analysis (figures, targets, handoffs, endings) come from the graph of readings; as
everywhere, a line has such a value when one of its analyses has it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any

from everyline import corpora
from everyline.corpora.counted import plural
from everyline.rules.line import Note
from everyline.rules.ranges import DEFAULT_SPAN, Fretboard
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.figure_marks import ENDING, FIGURE, HANDOFF, TARGET, Mark

State = Hashable


@dataclass(frozen=True, slots=True)
class NoteTrait:
    """A trait that the notes alone decide.

    ``start`` is the state before the first note, ``step`` gives the state after one more, ``label`` the
    value in words at the end of the line.
    """

    name: str
    start: State
    step: Callable[[Any, Note], State]
    label: Callable[[Any], str]


def _first(state: int | None, note: Note) -> int:
    return note.pitch if state is None else state


def _start_note(rules: Rules) -> NoteTrait:
    chord, scale = rules.progression.chords[0], rules.scales[0]
    return NoteTrait("start-note", None, _first, lambda pitch: spell(pitch, chord, scale, rules.key))


def _start_degree(rules: Rules) -> NoteTrait:
    chord = rules.progression.chords[0]

    return NoteTrait("start-degree", None, _first, chord.degree_of)


def _entry_beat(rules: Rules) -> NoteTrait:
    def step(state: int | None, note: Note) -> int:
        return note.slot if state is None else state

    return NoteTrait("entry-beat", None, step, lambda slot: entry_beat(rules, slot))


def entry_beat(rules: Rules, slot: int) -> str:
    """The beat on which a line starts, in words."""
    progression = rules.progression
    if slot < 0:
        return f"pickup of {plural(-slot, 'slot')}"
    bar = "" if slot < progression.slots_per_bar else f"bar {progression.bar(slot)}, "
    return f"{bar}beat {progression.beat_name(slot)}"


def _highest_note(rules: Rules) -> NoteTrait:
    chord, scale = rules.progression.chords[-1], rules.scales[-1]
    return NoteTrait(
        "highest-note",
        -1,
        lambda state, note: max(state, note.pitch),
        lambda pitch: spell(pitch, chord, scale, rules.key),
    )


def _outside_notes(rules: Rules) -> NoteTrait:
    return NoteTrait("outside-notes", 0, lambda state, note: state + (not note.chord_tone), str)


def _direction(rules: Rules) -> NoteTrait:
    """Where the line ends, seen from its first note."""

    def step(state: tuple[int, int] | None, note: Note) -> tuple[int, int]:
        first = note.pitch if state is None else state[0]
        return first, (note.pitch > first) - (note.pitch < first)

    return NoteTrait("direction", None, step, lambda state: ("level", "up", "down")[state[1]])


def _position(rules: Rules) -> NoteTrait:
    """The lowest fretboard position that holds the whole line."""
    board, strings, span = hand_positions(rules)
    masks = position_masks(board, strings, span)

    def label(mask: int) -> str:
        if not mask:
            return "no position"
        fret = (mask & -mask).bit_length() - 1
        return board.frets_text(fret, span)

    return NoteTrait(
        "position", every_position(board, span), lambda mask, note: mask & masks.get(note.pitch, 0), label
    )


def hand_positions(rules: Rules) -> tuple[Fretboard, tuple[int, ...], int]:
    """(fretboard, its strings in use, frets under the hand): those of the rules' instrument where it is
    fretted, else a guitar's."""
    board = Fretboard.of(rules.instrument) if rules.instrument is not None else None
    if board is None:
        board = Fretboard.of(corpora.load().instruments["guitar"])
        assert board is not None  # a guitar has strings and frets
    if rules.position is None:
        return board, board.strings, DEFAULT_SPAN
    return board, rules.position.strings, rules.position.span


def every_position(board: Fretboard, span: int) -> int:
    """All positions of a fretboard, each as the bit of its lowest fret."""
    return (1 << (max(0, board.frets - span + 1) + 1)) - 1


def position_masks(board: Fretboard, strings: tuple[int, ...], span: int) -> dict[int, int]:
    """For each pitch, the positions (lowest frets, as bits) in which it can be fretted."""
    masks: dict[int, int] = {}
    for lowest in range(max(0, board.frets - span + 1) + 1):
        for string in strings:
            for fret in range(lowest, min(lowest + span - 1, board.frets) + 1):
                pitch = board.at(string, fret)
                masks[pitch] = masks.get(pitch, 0) | 1 << lowest
    return masks


NOTE_TRAITS: dict[str, Callable[[Rules], NoteTrait]] = {
    "start-note": _start_note,
    "start-degree": _start_degree,
    "entry-beat": _entry_beat,
    "highest-note": _highest_note,
    "outside-notes": _outside_notes,
    "direction": _direction,
    "position": _position,
}


@dataclass(frozen=True, slots=True)
class ReadingTrait:
    """A trait that the analyses decide: its kind of mark, each mark in words, what a line without one has."""

    name: str
    kind: str
    label: Callable[[Mark], str]
    without: str | None = None


def _figure(rules: Rules) -> ReadingTrait:
    return ReadingTrait("figure", FIGURE, lambda mark: str(mark.value), "no figure")


def _target(rules: Rules) -> ReadingTrait:
    name = rules.progression.beat_name
    return ReadingTrait(
        "target", TARGET, lambda mark: f"{mark.value[0]} on beat {name(mark.value[1])}", "no target"
    )


def _target_degree(rules: Rules) -> ReadingTrait:
    return ReadingTrait("target-degree", TARGET, lambda mark: str(mark.value[0]), "no target")


def _handoff(rules: Rules) -> ReadingTrait:
    progression = rules.progression

    def label(mark: Mark) -> str:
        chord = progression.chords[mark.chord]
        place = f"{chord.symbol} in bar {progression.bar(progression.starts[mark.chord])}"
        if mark.value is None:
            return f"{place} inside the ending"
        return f"{spell(mark.value, chord, rules.scales[mark.chord], rules.key)} into {place}"

    return ReadingTrait("handoff", HANDOFF, label)


def _ending(rules: Rules) -> ReadingTrait:
    return ReadingTrait("ending", ENDING, lambda mark: str(mark.value))


READING_TRAITS: dict[str, Callable[[Rules], ReadingTrait]] = {
    "figure": _figure,
    "target": _target,
    "target-degree": _target_degree,
    "handoff": _handoff,
    "ending": _ending,
}

TRAITS: dict[str, str] = {
    "start-note": "first note",
    "start-degree": "first note as a degree of the first chord",
    "entry-beat": "beat on which the line starts",
    "highest-note": "highest note",
    "outside-notes": "number of notes that are not chord tones of their chord",
    "direction": "whether the line ends above, below or at its first note",
    "position": "lowest fretboard position that holds the whole line",
    "figure": "approach figure",
    "target": "degree and beat on which a figure lands",
    "target-degree": "degree on which a figure lands",
    "handoff": "note on which a new chord is entered",
    "ending": "ending",
}
"""Every trait, and what its values are."""
