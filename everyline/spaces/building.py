"""A line that is built note by note: what stands so far, what may come next, and where the harmony leads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from everyline.corpora.counted import choice
from everyline.rules.annotate import AnnotatedLine, spell_line
from everyline.rules.ladder import handoffs
from everyline.rules.line import Event, Events
from everyline.rules.line_text import value_name
from everyline.rules.moves.roles import Role
from everyline.rules.ruleset import Rules
from everyline.solver.beginning import beginning_with
from everyline.solver.sample import sample_numbers
from everyline.solver.smooth import smoothest
from everyline.solver.strange import least_strange
from everyline.spaces.following import NextNote
from everyline.spaces.space import Space

ROLE_WORDS = {
    Role.ENTRY: "the first note",
    Role.ARPEGGIO: "arpeggio",
    Role.PASSING: "passing note",
    Role.APPROACH: "approach note",
    Role.TARGET: "target of the approach",
    Role.HANDOFF: "into the new chord",
    Role.ENDING: "in the ending",
}
"""What a next note would be, as one would say it."""


ORDINALS = {"1": "root", "3": "3rd", "5": "5th", "6": "6th", "7": "7th"}

FINISHES = {"strange": "least strange", "smooth": "smoothest", "random": "at random"}
"""How the rest of a line can be found, and how one says it."""


@dataclass(frozen=True, slots=True)
class BegunFigure:
    """An approach figure that a next note can begin: its name, the note it lands on with its degree of the
    chord there, and all of that as one would say it."""

    figure: str
    target: str
    degree: str
    chord: str
    words: str

    def as_row(self) -> dict[str, str]:
        """The figure as data."""
        return {"figure": self.figure, "target": self.target, "degree": self.degree, "words": self.words}


@dataclass(frozen=True, slots=True)
class NextStep:
    """A note that may come next: its name, where it falls, its length in note values, its degree of the
    chord there, how many lines go on from it, and what it would be in some of them."""

    event: Event
    name: str
    place: str
    value: str
    degree: str
    chord: str
    count: int
    words: tuple[str, ...]
    figures: tuple[BegunFigure, ...] = ()

    def as_row(self) -> dict[str, Any]:
        """The step as one row of data; the count as text, for it may be of any size."""
        return {
            "event": list(self.event),
            "name": self.name,
            "place": self.place,
            "value": self.value,
            "degree": self.degree,
            "chord": self.chord,
            "count": str(self.count),
            "words": list(self.words),
            "figures": [each.as_row() for each in self.figures],
        }


@dataclass(frozen=True, slots=True)
class ChordAhead:
    """The next chord, where it begins, and the tones on which a line would enter it from the last note."""

    chord: str
    place: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Built:
    """The beginning of a line: its notes, how many lines begin so, whether one of them ends here, every next
    note, and the chord ahead (None before the first note and over the last chord)."""

    beginning: Events
    names: tuple[str, ...]
    count: int
    ends: bool
    steps: tuple[NextStep, ...]
    ahead: ChordAhead | None


def build(space: Space, beginning: object = (), words: bool = True) -> Built:
    """What may follow the first notes of a line, given as text or events; without ``words`` the steps have
    counts, and nothing of what they would be. Raises InputError for what no line begins with."""
    following = space.after(beginning, roles=words)
    rules, begun = space.rules, following.beginning
    last = begun[-1].pitch if begun else None
    steps = (_step(rules, note, last) for note in following.notes)
    names = spell_line(rules, begun) if begun else ()
    ahead = _ahead(rules, begun[-1]) if begun else None
    return Built(begun, names, following.count, following.ends, tuple(steps), ahead)


def finish(space: Space, beginning: object = (), how: str = "strange", seed: int = 1) -> AnnotatedLine:
    """A line that begins so: the least strange or the smoothest of them all, or any with equal chances.

    ``how`` is one of FINISHES; ``seed`` matters to "random" alone. Raises InputError for what no line begins
    with.
    """
    begun = space.after(beginning).beginning
    rules, whole = space.rules, space.diagram
    rest = beginning_with(whole, begun)
    if how == "random":
        events = rest.line(next(iter(sample_numbers(rest.count, 1, seed))))
    elif how == "smooth":
        events = next(smoothest(rest, rules.weights)).events
    else:
        events = next(least_strange(rules, rest, space.taste)).events
    number = whole.number(events)
    assert number is not None, "what begins as lines do and ends as they do is one"
    return space.line(number)


def _step(rules: Rules, next_note: NextNote, last: int | None) -> NextStep:
    event = next_note.event
    note = rules.note(event)
    figures = tuple(_figure(rules, name, landing, event) for name, landing in next_note.figures)
    chord = rules.progression.chords[note.chord].symbol
    value = value_name(event.length, rules) or f"{event.length} ticks"
    return NextStep(
        event,
        next_note.name,
        rules.progression.place(note.slot),
        value,
        rules.called(note)[1],
        chord,
        next_note.count,
        tuple(_words(next_note.roles, figures, event.pitch, last)),
        figures,
    )


def _words(
    roles: tuple[str, ...], figures: tuple[BegunFigure, ...], pitch: int, last: int | None
) -> Iterator[str]:
    """What a next note would be, each possibility as one would say it."""
    for role in roles:
        if role == Role.APPROACH and figures:
            yield from _begins(figures)
        elif role == Role.ARPEGGIO and last is not None and pitch != last:
            yield f"{ROLE_WORDS[Role.ARPEGGIO]} {'up' if pitch > last else 'down'}"
        else:
            yield ROLE_WORDS[Role(role)]


def _begins(figures: tuple[BegunFigure, ...]) -> Iterator[str]:
    """What begins, with everything that it can lead to: "begins an enclosure of the 5th or the 7th"."""
    kinds: dict[str, list[str]] = {}
    for each in figures:
        kind, _, goal = each.words.partition(" the ")
        kinds.setdefault(kind, []).append(f"the {goal}")
    for kind, goals in kinds.items():
        yield f"{kind} {choice(dict.fromkeys(goals))}"


def _figure(rules: Rules, name: str, landing: Event, first: Event) -> BegunFigure:
    figure = next(each for each in rules.approach.figures if each.name == name)
    note = rules.note(landing)
    called, degree = rules.called(note)
    chord = rules.progression.chords[note.chord]
    side = "below" if first.pitch < landing.pitch else "above"
    kind = "an enclosure of" if figure.two_sided else f"an approach from {side} to"
    there = "" if note.chord == rules.note(first).chord else f" of {chord.symbol}"
    words = f"begins {kind} the {spoken_degree(degree, chord.degrees)}{there}"
    return BegunFigure(name, called, degree, chord.symbol, words)


def spoken_degree(degree: str, tones: Sequence[str]) -> str:
    """A degree as players say it over a chord with these tones: its only third is "the 3rd", whatever its
    size.

    >>> [spoken_degree(each, ("1", "b3", "5", "b7")) for each in ("1", "b3", "5", "b7", "#11")]
    ['root', '3rd', '5th', '7th', '#11']
    """
    number = degree.lstrip("b#")
    alone = [each for each in tones if each.lstrip("b#") == number] == [degree]
    return ORDINALS[number] if alone and number in ORDINALS else degree


def _ahead(rules: Rules, last: Event) -> ChordAhead | None:
    """The chord after the last note's, entered straight from that note under the handoff rule."""
    progression = rules.progression
    index = rules.note(last).chord + 1
    if index >= len(progression.chords):
        return None
    chord, slot = progression.chords[index], progression.starts[index]
    pitches = handoffs(rules.handoff, last.pitch, chord, rules.approach.reach)
    opening = (
        Event(slot * rules.slot_ticks, pitch, last.length) for pitch in pitches if pitch in rules.pitches
    )
    names = tuple(rules.called(rules.note(event))[0] for event in opening)
    return ChordAhead(chord.symbol, progression.place(slot), names)
