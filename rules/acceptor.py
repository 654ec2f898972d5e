"""The one shape that every rule about a finished line has.

An *acceptor* reads a line note by note: it has a start state, answers each note with the next state or with
``None`` ("no line may go on like this"), and says at the end whether it is content. States are hashable
values, so that any engine can tabulate them. Beside the acceptor stands ``holds``, the same rule written
for the reader; the tests hold one against the other.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Protocol

from everyline.rules.line import Note

State = Hashable
Notes = tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Breach:
    """Where and why a line breaks a rule.

    ``index`` is the place of the offending note in the line (from 0), or ``None`` where the line as a whole
    is at fault; ``message`` is one sentence in the trade's words that names bar, beat and note.
    """

    rule: str
    message: str
    index: int | None = None


class Acceptor(Protocol):
    """What every engine needs of a rule that reads pitches and slots alone."""

    @property
    def kind(self) -> str:
        """The rule's identifier, as the rule file spells it."""

    def start(self) -> State:
        """The state before the first note; never ``None``."""

    def step(self, state: State, note: Note) -> State | None:
        """The state after one more note, or ``None`` when no continuation can be valid."""

    def content(self, state: State) -> bool:
        """Whether the line may end here."""


class Limit(Acceptor, Protocol):
    """An acceptor that can also speak for itself."""

    def holds(self, notes: Notes) -> bool:
        """The rule, stated plainly, on a whole line."""

    def describe(self) -> str:
        """What the rule asks, in the trade's words."""

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        """Every place at which the line breaks the rule; empty when it holds."""
