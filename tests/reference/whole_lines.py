"""A line judged as a whole: the same rules with no memory carried along, for the very small spaces of a test.

Every way of dividing the notes into chord tones and figures is tried with every sequence of pitches.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from tests.reference.anatomy import handoff_pitches
from tests.reference.progression import BEAT
from tests.reference.result import Line
from tests.reference.rulefile import Rules
from tests.reference.vocabulary import Ending, Event, figure_pitches

Labels = tuple[str, ...]  # per note: "tone" (a chord tone, not a target), "approach" or "target"


def labellings(size: int, lengths: set[int]) -> Iterator[Labels]:
    """Every division of so many notes into chord tones and figures with their targets."""
    if size == 0:
        yield ()
        return
    for rest in labellings(size - 1, lengths):
        yield ("tone", *rest)
    for length in lengths:
        if length < size:
            for rest in labellings(size - length - 1, lengths):
                yield ("approach",) * length + ("target",) + rest


@dataclass(frozen=True, slots=True)
class Body:
    """The notes before a stock ending, or a whole line with the plain one; `first` is its first slot."""

    rules: Rules
    first: int
    pitches: tuple[int, ...]
    labels: Labels

    def slot(self, place: int) -> int:
        return self.first + place

    def figures(self) -> list[tuple[int, int]]:
        """The places of each figure's first note and of its target."""
        targets = [i for i, label in enumerate(self.labels) if label == "target"]
        starts = []
        for target in targets:
            start = target
            while start and self.labels[start - 1] == "approach":
                start -= 1
            starts.append(start)
        return list(zip(starts, targets, strict=True))

    def changes(self) -> bool:
        """Every first slot of a new chord holds a legal handoff, be it a target or not."""
        for place, pitch in enumerate(self.pitches):
            if self.rules.progression.is_change(self.slot(place)):
                before = [self.pitches[i] for i in range(place) if self.labels[i] != "approach"]
                chord = self.rules.progression.chord_at(self.slot(place))
                legal = before and pitch in handoff_pitches(self.rules, before[-1], chord)
                if self.labels[place] == "approach" or not legal:
                    return False
        return True

    def runs(self) -> bool:
        """Every run between two anchors climbs or falls by rungs, and turns no more often than it may."""
        progression = self.rules.progression
        ways: list[int] = []
        for place in range(1, len(self.pitches)):
            if self.labels[place] != "tone" or progression.is_change(self.slot(place)):
                ways = []
                continue
            if self.labels[place - 1] == "approach":
                return False
            chord, before = progression.chord_at(self.slot(place)), self.pitches[place - 1]
            rungs = {chord.rung(before, way): way for way in (1, -1)}
            if self.pitches[place] not in rungs:
                return False
            ways.append(rungs[self.pitches[place]])
            turned = sum(a != b for a, b in itertools.pairwise(ways))
            wanted = {"up": {1}, "down": {-1}, "either": {1, -1}}[self.rules.direction]
            if turned > self.rules.turns or not set(ways) <= wanted:
                return False
        return True

    def in_time(self) -> bool:
        """Every figure fills slots of one chord and lands on a beat there, or where the next begins."""
        progression = self.rules.progression
        for start, target in self.figures():
            chords = {progression.index_at(self.slot(i)) for i in range(start, target)}
            landing = progression.index_at(self.slot(target))
            near = landing in chords or (start > 0 and progression.is_change(self.slot(target)))
            if len(chords) != 1 or not near or not progression.on_beat(self.slot(target)):
                return False
        return True

    def approaches(self) -> bool:
        """Every figure: its notes, its target's degree, its distance from the note and the figure before."""
        rules, progression = self.rules, self.rules.progression
        last_target = None
        for start, target in self.figures():
            chord = progression.chord_at(self.slot(target))
            degree = (self.pitches[target] - chord.root) % 12
            notes = self.pitches[start:target]
            known = any(notes == figure_pitches(f, self.pitches[target], chord) for f in rules.figures)
            if not known or (rules.targets is not None and degree not in rules.targets):
                return False
            if start and not 1 <= abs(self.pitches[start] - self.pitches[start - 1]) <= rules.reach:
                return False
            if last_target is not None and start - last_target < rules.after:
                return False
            last_target = target
        return True

    def counts(self) -> bool:
        """Every chord but the last has as many figures as it may and must, up to where this ends."""
        progression = self.rules.progression
        starts = [progression.index_at(self.slot(start)) for start, _ in self.figures()]
        return all(
            least <= starts.count(index) <= most for index, (least, most) in enumerate(self.rules.counts[:-1])
        )

    def opening(self) -> bool:
        rules, pitch = self.rules, self.pitches[0]
        degree = (pitch - rules.progression.chords[0].root) % 12
        named = rules.start_pitches is None or pitch in rules.start_pitches
        return named and (rules.entry_degrees is None or degree in rules.entry_degrees)

    def is_valid(self) -> bool:
        """Whether all holds that depends on pitches."""
        questions = (self.opening, self.changes, self.counts, self.approaches, self.runs)
        return all(question() for question in questions)


def with_ending(rules: Rules, body: Line, ending: Ending) -> Line | None:
    """The body and the ending after it, where they fit together."""
    before = body[-1][2]
    pitches = ending.pitches(before, rules.progression)
    near = 1 <= abs(pitches[0] - before) <= rules.lead_in
    if not near or not set(pitches) <= rules.pitches:
        return None
    return body + tuple((n.onset, n.length, p) for n, p in zip(ending.notes, pitches, strict=True))


def every_line(rules: Rules) -> set[Line]:
    """All valid lines, limits aside."""
    progression, ticks = rules.progression, rules.progression.slot_ticks
    lengths = {len(steps) for steps in rules.figures}
    found: set[Line] = set()
    ends: list[tuple[Ending | None, int]] = [(e, e.start // ticks) for e in rules.endings]
    if rules.plain:
        ends.append((None, progression.resolution + 1))
    for first, (ending, end) in itertools.product(rules.entry_slots, ends):
        if end <= first:
            continue
        for labels in labellings(end - first, lengths):
            if not Body(rules, first, (), labels).in_time():
                continue
            for pitches in itertools.product(*choices(rules, first, labels)):
                if Body(rules, first, pitches, labels).is_valid():
                    line: Line = tuple(note(rules, first + i, pitch) for i, pitch in enumerate(pitches))
                    whole = with_ending(rules, line, ending) if ending else line
                    if whole:
                        found.add(whole)
    return found


def choices(rules: Rules, first: int, labels: Labels) -> list[list[int]]:
    """For each note every pitch in range; an approach note aside, only those that are chord tones there."""
    chords = [rules.progression.chord_at(first + i) for i in range(len(labels))]
    return [
        [pitch for pitch in sorted(rules.pitches) if label == "approach" or chord.has(pitch)]
        for chord, label in zip(chords, labels, strict=True)
    ]


def note(rules: Rules, slot: int, pitch: int) -> Event:
    ticks = rules.progression.slot_ticks
    return slot * ticks, BEAT if slot == rules.progression.resolution else ticks, pitch
