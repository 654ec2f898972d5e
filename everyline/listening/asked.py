"""A take held against the line that was asked for: note by note what was right, other, missing or added."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from everyline.corpora.counted import plural
from everyline.listening.heard import Heard, HeardNote, told
from everyline.rules.annotate import spell_each
from everyline.rules.limits.base import place
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.ruleset import Rules

RIGHT, UNSURE, OCTAVE, PLACE, OTHER, NOT_HEARD, ADDED = (
    "right", "unsure", "other octave", "other place", "other note", "not heard", "added",
)  # fmt: skip
OCTAVES = (0, 12, -12, 24, -24)
_GAP = 1.0


@dataclass(frozen=True, slots=True)
class Compared:
    """One note of the line asked for, of the take, or of both: ``asked`` and ``heard`` are None where it is
    in one of them only; ``verdict`` is one of the words above."""

    asked: Event | None
    heard: HeardNote | None
    verdict: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """A take against the line asked for. ``events`` is the candidate of the take that fits it best,
    ``octaves`` by how many semitones the take as a whole was moved to meet the line."""

    heard: Heard
    asked: Events
    events: Events
    octaves: int
    notes: tuple[Compared, ...]

    @property
    def as_asked(self) -> bool:
        """Whether every note was heard surely, right and in its place, and no other."""
        return all(each.verdict == RIGHT for each in self.notes)

    @property
    def summary(self) -> str:
        """How many of what: ``15 of 17 notes right, 1 other note, 1 unsure``."""
        counts = Counter(each.verdict for each in self.notes)
        said = [f"{counts[RIGHT]} of {plural(len(self.asked), 'note')} right"]
        said += [plural(counts[word], word) for word in (OTHER, OCTAVE, PLACE) if counts[word]]
        said += [f"{counts[word]} {word}" for word in (NOT_HEARD, ADDED, UNSURE) if counts[word]]
        return ", ".join(said)

    def lines(self) -> list[str]:
        """Every note that was not right, and every one early or late, in a sentence each."""
        return [said for each in self.notes if (said := self._line(each))]

    def _line(self, each: Compared) -> str:
        rules, found = self.heard.rules, each.heard
        if found is None:
            assert each.asked is not None
            return f"{_at(rules, each.asked)}: {_name(rules, each.asked)} was not heard."
        late, name = told(found), _name(rules, found.event)
        if each.asked is None:
            return f"{_at(rules, found.event)}: {name} was added{_doubt(found)}."
        if each.verdict == RIGHT:
            return f"{_at(rules, each.asked)}: {name} {late}." if late else ""
        wanted = _name(rules, each.asked)
        if each.verdict == PLACE:
            return f"{_at(rules, each.asked)}: {wanted} came on {_at(rules, found.event)}{_doubt(found)}."
        if each.verdict == UNSURE and found.event.pitch == each.asked.pitch:
            return f"{_at(rules, each.asked)}: {wanted} was heard{_doubt(found)}."
        return f"{_at(rules, each.asked)}: {name} in place of {wanted}{_doubt(found)}."

    def as_row(self) -> dict[str, Any]:
        """As one row of data; notes of the take are counted from 1."""
        places = {id(note): at for at, note in enumerate(self.heard.notes(self.events), 1)}
        return {
            "as_asked": self.as_asked,
            "octaves": self.octaves // 12,
            "compared": [
                {
                    "asked": None if each.asked is None else each.asked._asdict(),
                    "heard": None if each.heard is None else places[id(each.heard)],
                    "verdict": each.verdict,
                    "words": self._line(each),
                }
                for each in self.notes
            ],
        }


def compare(heard: Heard, asked: Events) -> Comparison:
    """Hold a take against the line asked for: the candidate and the octave that agree with it most."""
    best: tuple[float, int, Events, list[tuple[int | None, int | None]]] | None = None
    for events in heard.line.candidates:
        for octaves in OCTAVES:
            cost, pairs = _aligned(asked, events, octaves)
            if best is None or cost < best[0] - 1e-9:
                best = cost, octaves, events, pairs
    assert best is not None, "a take has a candidate"
    _, octaves, events, pairs = best
    notes = heard.notes(events)
    return Comparison(
        heard,
        asked,
        events,
        octaves,
        tuple(
            _compared(None if left is None else asked[left], None if right is None else notes[right], octaves)
            for left, right in pairs
        ),
    )


def _cost(asked: Event, heard: Event, octaves: int) -> float:
    """What it costs to take a note for one asked for, a note left out or added costing 1."""
    apart = abs(asked.onset - heard.onset) / TICKS_PER_BEAT
    if asked.pitch == heard.pitch + octaves:
        return min(1.5, apart and 0.4 + 0.3 * apart)
    if apart:
        return 2.5
    return 0.6 if (asked.pitch - heard.pitch) % 12 == 0 else 0.9


def _aligned(asked: Events, heard: Events, octaves: int) -> tuple[float, list[tuple[int | None, int | None]]]:
    """The cheapest way to lay the one against the other: its cost, and pairs of places."""
    table = [[_GAP * column for column in range(len(heard) + 1)]]
    for row, want in enumerate(asked, 1):
        line = [_GAP * row]
        for column, have in enumerate(heard, 1):
            line.append(
                min(
                    table[row - 1][column - 1] + _cost(want, have, octaves),
                    table[row - 1][column] + _GAP,
                    line[column - 1] + _GAP,
                )
            )
        table.append(line)
    pairs: list[tuple[int | None, int | None]] = []
    row, column = len(asked), len(heard)
    while row or column:
        both = (
            row and column and table[row - 1][column - 1] + _cost(asked[row - 1], heard[column - 1], octaves)
        )
        if row and column and abs(table[row][column] - both) < 1e-9:
            row, column = row - 1, column - 1
            pairs.append((row, column))
        elif row and abs(table[row][column] - table[row - 1][column] - _GAP) < 1e-9:
            row -= 1
            pairs.append((row, None))
        else:
            column -= 1
            pairs.append((None, column))
    return table[-1][-1], pairs[::-1]


def _compared(asked: Event | None, heard: HeardNote | None, octaves: int) -> Compared:
    if heard is None:
        return Compared(asked, None, NOT_HEARD)
    if heard.note.unsure:
        return Compared(asked, heard, UNSURE)
    if asked is None:
        return Compared(None, heard, ADDED)
    if asked.pitch != heard.event.pitch + octaves:
        return Compared(asked, heard, OTHER if (asked.pitch - heard.event.pitch) % 12 else OCTAVE)
    return Compared(asked, heard, RIGHT if asked.onset == heard.event.onset else PLACE)


def _at(rules: Rules, event: Event) -> str:
    return place(rules.progression, event.onset)


def _name(rules: Rules, event: Event) -> str:
    return spell_each(rules, (event,))[0]


def _doubt(found: HeardNote) -> str:
    """What is doubtful about a note, in words that follow a sentence."""
    if found.note.octave:
        return f", or an octave {'higher' if found.note.octave > 0 else 'lower'}"
    return f", not surely ({found.note.sure:.0%})" if found.note.unsure else ""


def unsure_notes(rules: Rules, notes: Sequence[HeardNote]) -> list[str]:
    """The notes of a take that are not sure, in words: place, name, why."""
    return [
        f"{_at(rules, each.event)}: {_name(rules, each.event)}{_doubt(each)}."
        for each in notes
        if each.note.unsure
    ]
