"""What may follow the first notes of a line, each note with how many lines go on from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from everyline.corpora.errors import InputError
from everyline.rules.annotate import spell_line
from everyline.rules.line import Event, Events
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram

if TYPE_CHECKING:
    from everyline.solver.onward import Ahead


@dataclass(frozen=True, slots=True)
class NextNote:
    """A note that may come next, its spelled pitch, the exact number of lines that go on from it, the roles
    that it has in some analysis of some of them, and the figures that can begin on it, by name with a note
    that each can land on (neither is worked out over a chorus plan)."""

    event: Event
    name: str
    count: int
    roles: tuple[str, ...]
    figures: tuple[tuple[str, Event], ...] = ()


@dataclass(frozen=True, slots=True)
class Following:
    """What may follow the beginning of a line: how many lines begin so, whether one ends there, every next
    note in the order of lines, and the beginning itself as it was read."""

    count: int
    ends: bool
    notes: tuple[NextNote, ...]
    beginning: Events = ()


def following(rules: Rules, diagram: Diagram, begun: Events, ahead: Mapping[Event, Ahead]) -> Following:
    """What may follow these events; ``ahead`` says what each next note can be. Raises InputError where no
    line begins so."""
    after = diagram.after(begun)
    if after is None:
        raise InputError(_strays(rules, diagram, begun))
    notes = (
        NextNote(
            event,
            spell_line(rules, (*begun, event))[-1],
            count,
            ahead[event].roles if event in ahead else (),
            ahead[event].figures if event in ahead else (),
        )
        for event, count in after.events
    )
    return Following(after.count, after.ends, tuple(notes), begun)


def _strays(rules: Rules, diagram: Diagram, events: Events) -> str:
    """How far some line goes along with these events."""
    kept, _ = diagram.reach(events)
    names = spell_line(rules, events)
    if not kept:
        return f"no line begins with {names[0]} there."
    return (
        f"no line begins so: lines go along as far as {' '.join(names[:kept])}, and none goes on with "
        f"{names[kept]} there."
    )
