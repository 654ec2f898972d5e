"""The Python face of chorus plans: whole choruses, counted, numbered and sliced like any space of lines."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus
from everyline.corpora import load as load_corpus
from everyline.corpora.errors import InputError
from everyline.rules.annotate import AnnotatedLine, AnnotatedNote, annotate
from everyline.rules.chorus_file import load_plan_file, read_plan
from everyline.rules.chorus_plan import ChorusPlan, Phrase
from everyline.rules.line import Event, Events, brief
from everyline.rules.taste import Taste
from everyline.solver.chorus import Solved, cuts, solve
from everyline.solver.chorus_remedies import chorus_remedies
from everyline.solver.conflicts import Remedy
from everyline.solver.diagram import Diagram
from everyline.solver.facets import Facet
from everyline.solver.onward import Ahead
from everyline.solver.phrase_facets import phrase_facets
from everyline.spaces import arguments
from everyline.spaces.shown import Line
from everyline.spaces.space import Space


@dataclass(frozen=True)
class PhraseLine:
    """One phrase of a chorus: its place in the plan, its notes by index (from ``first`` to the one before
    ``beyond``), and its line by itself, in ticks of the phrase."""

    phrase: Phrase
    first: int
    beyond: int
    line: AnnotatedLine

    def as_row(self, numbered: bool = True) -> dict[str, Any]:
        """The phrase as data; notes count from 0. A line that was moved has no number."""
        return {
            "name": self.phrase.name,
            "bars": list(self.phrase.bars),
            "first_note": self.first,
            "notes": self.beyond - self.first,
            "number": self.line.number if numbered else None,
            "ending": self.line.ending,
        }


@dataclass(frozen=True)
class ChorusLine(Line):
    """A whole chorus as one line: roles and degrees are those that each note has in its own phrase."""

    phrases: tuple[PhraseLine, ...] = ()

    @property
    def ending_words(self) -> str:
        """The phrases' endings in turn, for a heading."""
        return f"endings {' | '.join(each.line.ending for each in self.phrases)}"

    @property
    def guide(self) -> str:
        """Which phrase begins in which bar, where the plan names its phrases."""
        phrases = [each.phrase for each in self.phrases]
        if all(each.name == str(place) for place, each in enumerate(phrases, 1)):
            return ""
        return "Bar " + "; ".join(f"{each.bars[0]}: {each.name}" for each in phrases)

    @property
    def sections(self) -> tuple[AnnotatedLine, ...]:
        """The phrases with their own rules, as they sound in the form."""
        return tuple(replace(each.line, notes=self.notes[each.first : each.beyond]) for each in self.phrases)

    def as_row(self) -> dict[str, Any]:
        """The chorus as one row of data, with its phrases."""
        return {
            **super().as_row(),
            "phrases": [each.as_row(self.number is not None) for each in self.phrases],
        }


class Chorus(Space):
    """All valid choruses under a plan. Everything that a space of lines answers, it answers too."""

    def __init__(self, plan: ChorusPlan) -> None:
        """The choruses of a plan. Raises InputError for what is none."""
        if not isinstance(plan, ChorusPlan):
            raise InputError(
                f"{brief(plan)} is not a plan; load_plan(...) takes a plan file, parse_plan(...) its text."
            )
        super().__init__(plan.form)
        self.plan = plan

    @cached_property
    def solved(self) -> Solved:
        """The plan, compiled when it is first needed."""
        return solve(self.plan)

    @cached_property
    def diagram(self) -> Diagram:
        """Every chorus as a path."""
        return self.solved.diagram

    @property
    def why_none(self) -> str | None:
        """Where there is no chorus: which phrase, which two phrases or which limit is at fault."""
        return self.solved.fault.words if self.solved.fault else None

    def remedies(self, corpus: Corpus | None = None) -> tuple[Remedy, ...]:
        """Where there is no chorus: changes of the plan that bring choruses back, each with how many.

        ``corpus`` has the figures and endings that come in when those of a phrase are dropped.
        """
        return chorus_remedies(self.solved, load_corpus() if corpus is None else corpus)

    def facets(self, phrase: int, only: Iterable[str] | None = None) -> tuple[Facet, ...]:
        """What a phrase (1 is the first) is made of: how many choruses have each figure, target, handoff,
        ending and kind of passing notes in it, or what of these is named in ``only``.

        Raises InputError where the plan has no such phrase.
        """
        phrases = self.plan.phrases
        if not 1 <= phrase <= len(phrases):
            raise InputError(f"phrase {phrase}: the phrases are numbered from 1 to {len(phrases)}.")
        return phrase_facets(self.solved, phrase - 1, only)

    @property
    def counts(self) -> tuple[int, ...]:
        """How many lines each phrase has by itself."""
        return tuple(piece.diagram.count for piece in self.solved.pieces)

    def _ahead(self, beginning: Events) -> dict[Event, Ahead]:
        return {}

    def _shown(self, events: Events, number: int) -> Line:
        return annotate_chorus(self.solved, events, number, self.taste)


def annotate_chorus(
    solved: Solved, events: Events, number: int | None = None, taste: Taste | None = None
) -> ChorusLine:
    """A chorus with the analysis of each of its phrases. ValueError for a line that is none of the plan's."""
    beyond = cuts(solved.pieces, events)
    if beyond is None:
        raise ValueError("the line is none of the choruses of this plan, so it has no phrases")
    phrases, first = [], 0
    for phrase, piece, stop in zip(solved.plan.phrases, solved.pieces, beyond, strict=True):
        own = tuple(Event(each.onset - phrase.shift, each.pitch, each.length) for each in events[first:stop])
        line = annotate(phrase.rules, own, piece.diagram.number(own))
        phrases.append(PhraseLine(phrase, first, stop, line))
        first = stop
    return ChorusLine(
        solved.plan.form,
        tuple(note for each in phrases for note in _moved(each)),
        tuple(
            figure._replace(first=figure.first + each.first, target=figure.target + each.first)
            for each in phrases
            for figure in each.line.figures
        ),
        phrases[-1].line.ending,
        number,
        taste,
        tuple(phrases),
    )


def _moved(phrase: PhraseLine) -> Iterable[AnnotatedNote]:
    """The phrase's notes in the form's ticks."""
    shift = phrase.phrase.shift
    return (replace(note, onset=note.onset + shift) for note in phrase.line.notes)


def load_plan(path: str | Path) -> Chorus:
    """Every chorus under a plan file."""
    return Chorus(load_plan_file(arguments.path(path, "plan file"), load_corpus()))


def parse_plan(text: str) -> Chorus:
    """Every chorus under a plan given as TOML text."""
    return Chorus(read_plan(text, load_corpus()))
