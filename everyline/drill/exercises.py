"""The kinds of exercise that a line can be made into, each with its key.

``play`` gives the line; ``complete`` leaves notes blank, and the key holds every way to fill them that the
rules allow; ``slip`` changes one note so that exactly one rule breaks, and the key names note and rule;
``continue`` gives the first bar.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from everyline.corpora.counted import plural
from everyline.rules.acceptor import Breach
from everyline.rules.analysis import best_analysis
from everyline.rules.annotate import AnnotatedLine, annotate, spell_line
from everyline.rules.breaches import judge
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.line_text import format_line
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.fill import Fill, continuations
from everyline.solver.sample import sample_numbers
from everyline.solver.stratify import sub_seed

BLANK = "__"
FURTHEST_SLIP = 4
"""Semitones by which a slip may miss the right note."""

MOST_TRIES = 24
"""Draws of blanks before a line is given up."""

MOST_SLIPS = 72
"""Changes of one note looked at before a line is given up."""


class NotPossible(Exception):
    """The line cannot be made into this kind of exercise; the text says why."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """What the player sees (``shown``: events, ``blank`` places without a pitch), and the key.

    ``key`` is data for the manifest, ``answer`` the key in words.
    """

    kind: str
    task: str
    shown: Events
    blanks: tuple[int, ...] = ()
    key: Mapping[str, Any] = field(default_factory=dict)
    answer: tuple[str, ...] = ()

    def names(self, line: AnnotatedLine) -> tuple[str, ...]:
        """The name of every note shown: as in the line, where it is the line's own."""
        spelled = spell_line(line.rules, self.shown)
        return tuple(
            note.name if note.pitch == event.pitch else name
            for event, note, name in zip(self.shown, line.notes, spelled, strict=False)
        )

    def text(self, line: AnnotatedLine) -> str:
        """The notes as typed text, a sign for every blank."""
        names = list(self.names(line))
        for place in self.blanks:
            names[place] = BLANK
        return format_line(line.rules, self.shown, names)


@dataclass(frozen=True, slots=True)
class Wishes:
    """How many notes ``complete`` leaves blank, and how many ways to fill them there may be at most."""

    blanks: int = 3
    completions: int = 8


Maker = Callable[[AnnotatedLine, Diagram, int, Wishes], Exercise]


def play(line: AnnotatedLine, diagram: Diagram, seed: int, wishes: Wishes) -> Exercise:
    """The line itself."""
    return Exercise("play", "Play it.", line.events)


def complete(line: AnnotatedLine, diagram: Diagram, seed: int, wishes: Wishes) -> Exercise:
    """Blanks drawn by the seed; raises NotPossible where every draw leaves too many ways."""
    size = len(line.events)
    blanks = min(wishes.blanks, size)
    for attempt in range(MOST_TRIES):
        places = tuple(sorted(n - 1 for n in sample_numbers(size, blanks, sub_seed(seed, attempt))))
        fill = Fill(diagram, line.events, places)
        if fill.count > wishes.completions:
            continue
        answers = list(fill.lines())
        spelled = [[note.name for note in annotate(line.rules, each).notes] for each in answers]
        names = [format_line(line.rules, each, name) for each, name in zip(answers, spelled, strict=True)]
        numbers = [diagram.number(each) for each in answers]
        ways = "one way" if len(answers) == 1 else f"{len(answers)} ways"
        return Exercise(
            "complete",
            f"Fill in the {plural(len(places), 'missing note')}.",
            line.events,
            places,
            {"blanks": [place + 1 for place in places], "completions": len(answers), "answers": numbers},
            (f"There {'is' if len(answers) == 1 else 'are'} {ways} to fill it:", *names),
        )
    raise NotPossible(f"every {blanks} blanks tried leave more than {wishes.completions} ways to fill them")


def slip(line: AnnotatedLine, diagram: Diagram, seed: int, wishes: Wishes) -> Exercise:
    """One note changed; raises NotPossible where no change breaks exactly one rule."""
    changes = list(_changes(line, seed))
    if seed % 2:
        # Few changes break a limit and nothing else, so every other exercise looks for those first.
        changes.sort(key=lambda each: not _breaks_one_limit(line.rules, each[1]))
    for place, changed in changes[:MOST_SLIPS]:
        breach = sole_breach(line.rules, changed, diagram)
        if breach is None or breach.index is None or not place <= breach.index <= place + 1:
            continue
        names = spell_line(line.rules, changed)
        was, now = line.notes[place].name, names[place]
        return Exercise(
            "slip",
            "One note is wrong. Which one, and which rule does it break?",
            changed,
            (),
            {"note": place + 1, "was": was, "now": now, "rule": breach.rule, "why": breach.message},
            (f"Note {place + 1} is {now}; the line has {was}. Rule: {breach.rule}.", breach.message),
        )
    raise NotPossible("no change of one note breaks exactly one rule")


def _changes(line: AnnotatedLine, seed: int) -> Iterator[tuple[int, Events]]:
    """Lines with one note changed, in an order drawn by the seed."""
    steps = [step for step in range(-FURTHEST_SLIP, FURTHEST_SLIP + 1) if step]
    size = len(line.events) * len(steps)
    for number in sample_numbers(size, size, seed):
        place, which = divmod(number - 1, len(steps))
        event = line.events[place]
        pitch = event.pitch + steps[which]
        if pitch in line.rules.pitches:
            changed = event._replace(pitch=pitch)
            yield place, (*line.events[:place], changed, *line.events[place + 1 :])


def _breaks_one_limit(rules: Rules, events: Events) -> bool:
    """Whether one limit alone does not hold and the anatomy is valid."""
    notes = rules.notes(events)
    broken = sum(not limit.holds(notes) for limit in rules.limits)
    return broken == 1 and best_analysis(rules, events) is not None


def sole_breach(rules: Rules, events: Events, diagram: Diagram) -> Breach | None:
    """The one breach of a line that breaks exactly one rule in one place; None for any other line.

    Proven by the plain checkers: the line is none of the diagram's; either its anatomy is valid and one
    limit alone does not hold, or all limits hold and the likeliest reading has one fault.
    """
    if diagram.number(events) is not None:
        return None
    notes = rules.notes(events)
    broken = [limit.kind for limit in rules.limits if not limit.holds(notes)]
    if len(broken) > 1:
        return None
    verdict = judge(rules, events)
    if len(verdict.breaches) != 1 or bool(broken) != (verdict.analysis is not None):
        return None
    return verdict.breaches[0]


def go_on(line: AnnotatedLine, diagram: Diagram, seed: int, wishes: Wishes) -> Exercise:
    """The notes before bar 2; raises NotPossible where none or all of the line lies there."""
    bar = line.rules.progression.beats_per_bar * TICKS_PER_BEAT
    given = tuple(event for event in line.events if event.onset < bar)
    if not given or len(given) == len(line.events):
        raise NotPossible("the line does not go beyond its first bar")
    ways = continuations(diagram, given)
    return Exercise(
        "continue",
        "Go on from here to the end.",
        given,
        (),
        {"given": len(given), "continuations": ways},
        (f"{plural(ways, 'line begins', 'lines begin')} like this; one of them:",),
    )


KINDS: Mapping[str, tuple[Maker, str]] = {
    "play": (play, "play the line"),
    "complete": (complete, "fill in the notes that are blank"),
    "slip": (slip, "find the note that breaks a rule"),
    "continue": (go_on, "go on from the first bar"),
}
"""Every kind: what makes it, and what the player does."""


def make(kind: str, line: AnnotatedLine, diagram: Diagram, seed: int, wishes: Wishes) -> Exercise:
    """The exercise, or one to play whose key says why the kind asked for is not possible with this line."""
    try:
        return KINDS[kind][0](line, diagram, seed, wishes)
    except NotPossible as error:
        key = {"instead_of": kind, "because": str(error)}
        return Exercise("play", "Play it.", line.events, (), key, (f"({kind}: {error}.)",))
