"""A line judged as a whole: the same rules with no memory carried along, for very small spaces.

Every rhythm, every way of dividing its notes into chord tones, figures and filled moves, and every sequence
of pitches are tried with one another.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from tests.reference.between_chords import fillings, handoff_pitches
from tests.reference.endings import Ending
from tests.reference.progression import BEAT, on_beat
from tests.reference.result import Line
from tests.reference.rhythm import fits, length_of
from tests.reference.rulefile import Rules
from tests.reference.vocabulary import figure_pitches

Labels = tuple[str, ...]  # per note: "tone" (a chord tone, not a target), "approach", "target" or "passing"
Times = tuple[tuple[int, int], ...]  # onset and length of each note


def labellings(size: int, lengths: set[int], passing: bool) -> Iterator[Labels]:
    """Every division of so many notes into chord tones, figures with their targets, and passing notes with
    the chord tones that they lead to."""
    pieces = {("tone",)} | {("approach",) * length + ("target",) for length in lengths}
    if passing:
        pieces |= {("passing",) * length + ("tone",) for length in range(1, size)}
    if size == 0:
        yield ()
    for piece in pieces:
        if len(piece) <= size:
            for rest in labellings(size - len(piece), lengths, passing):
                yield piece + rest


@dataclass(frozen=True, slots=True)
class Body:
    """The notes before a stock ending, or a whole line with the plain one."""

    rules: Rules
    times: Times
    pitches: tuple[int, ...]
    labels: Labels

    def chord(self, place: int) -> int:
        """The number of the chord that a note belongs to."""
        return self.rules.progression.index_at(self.times[place][0])

    def is_new(self, place: int) -> bool:
        """Whether a note is the first of a new chord."""
        return place > 0 and self.chord(place) != self.chord(place - 1)

    def without_rest(self, first: int, last: int) -> bool:
        """Whether these notes and all between them follow one another without a rest."""
        return all(self.times[i][0] + self.times[i][1] == self.times[i + 1][0] for i in range(first, last))

    def groups(self, label: str) -> list[tuple[int, int]]:
        """The places of the first of these notes and of the note after the last, for each such row."""
        starts = [
            i
            for i, name in enumerate(self.labels)
            if name == label and (i == 0 or self.labels[i - 1] != label)
        ]
        return [(start, next(i for i in range(start, 99) if self.labels[i] != label)) for start in starts]

    def changes(self) -> bool:
        """The first note of a new chord is a legal handoff, be it a target or not."""
        for place, pitch in enumerate(self.pitches):
            if self.is_new(place):
                before = [self.pitches[i] for i in range(place) if self.labels[i] in ("tone", "target")]
                if pitch not in handoff_pitches(self.rules, before[-1], self.chord(place)):
                    return False
        return True

    def runs(self) -> bool:
        """Every run between two anchors climbs or falls by rungs, and turns and skips no more often than it
        may."""
        ways: list[int] = []
        skips = 0
        for place in range(1, len(self.pitches)):
            if self.labels[place] in ("approach", "passing"):
                continue
            if self.labels[place] == "target" or self.is_new(place):
                ways, skips = [], 0
                continue
            start = place - 1
            while self.labels[start] == "passing":
                start -= 1
            chord = self.rules.progression.chords[self.chord(place)]
            before, pitch = self.pitches[start], self.pitches[place]
            if self.chord(start) != self.chord(place) or self.labels[start] == "approach":
                return False
            way = 1 if pitch > before else -1
            skipped = pitch == chord.rung(chord.rung(before, way), way)
            if not skipped and pitch != chord.rung(before, way):
                return False
            if skipped and start < place - 1:
                return False
            ways.append(way)
            skips += skipped
            turned = sum(a != b for a, b in itertools.pairwise(ways))
            wanted = {"up": {1}, "down": {-1}, "either": {1, -1}}[self.rules.direction]
            if turned > self.rules.turns or skips > self.rules.skips or not set(ways) <= wanted:
                return False
        return True

    def in_time(self) -> bool:
        """Every figure and every passing note stays in one chord, without rests, up to where it may go."""
        for start, target in self.groups("approach"):
            chords = {self.chord(i) for i in range(start, target)}
            first = self.chord(start - 1) if start else 0
            allowed = {first, first + 1} if start else {0}
            landing = self.chord(target)
            if chords != {first} or landing not in allowed or not on_beat(self.times[target][0]):
                return False
            if not self.without_rest(start, target):
                return False
        for start, goal in self.groups("passing"):
            chords = {self.chord(i) for i in range(start - 1, goal)}
            if start == 0 or len(chords) != 1 or not self.without_rest(start, goal):
                return False
            beats = [on_beat(self.times[i][0]) for i in range(start, goal)]
            if any(beats) and not self.rules.passing_anywhere:
                return False
        return True

    def passings(self) -> bool:
        """The passing notes are those of a kind that is allowed, between neighbouring chord tones."""
        for start, goal in self.groups("passing"):
            chord = self.rules.progression.chords[self.chord(start)]
            p, q = self.pitches[start - 1], self.pitches[goal]
            if self.pitches[start:goal] not in fillings(self.rules.kinds, chord, p, q):
                return False
            if any(chord.has(pitch) for pitch in range(min(p, q) + 1, max(p, q))):
                return False
        return True

    def approaches(self) -> bool:
        """Every figure: its notes, its target's degree, its distance from the note and the figure before."""
        rules, progression = self.rules, self.rules.progression
        last_target = None
        for start, target in self.groups("approach"):
            chord = progression.chords[self.chord(target)]
            degree = (self.pitches[target] - chord.root) % 12
            notes = self.pitches[start:target]
            known = any(notes == figure_pitches(f, self.pitches[target], chord) for f in rules.figures)
            if not known or (rules.targets is not None and degree not in rules.targets):
                return False
            if start and not 1 <= abs(self.pitches[start] - self.pitches[start - 1]) <= rules.reach:
                return False
            if last_target is not None:
                between = [name for name in self.labels[last_target:start] if name != "passing"]
                if len(between) < rules.after:
                    return False
            last_target = target
        return True

    def counts(self) -> bool:
        """Every chord but the last has as many figures and filled moves as it may and must, up to where this
        ends."""
        for label, bounds in (("approach", self.rules.counts), ("passing", self.rules.fills)):
            starts = [self.chord(start) for start, _ in self.groups(label)]
            for index, (least, most) in enumerate(bounds[:-1]):
                if not least <= starts.count(index) <= most:
                    return False
        return True

    def opening(self) -> bool:
        rules, pitch = self.rules, self.pitches[0]
        degree = (pitch - rules.progression.chords[0].root) % 12
        named = rules.start_pitches is None or pitch in rules.start_pitches
        return named and (rules.entry_degrees is None or degree in rules.entry_degrees)

    def is_valid(self) -> bool:
        """Whether all holds that depends on pitches."""
        questions = (self.opening, self.changes, self.approaches, self.passings, self.runs)
        return all(question() for question in questions)


def with_ending(rules: Rules, body: Line, ending: Ending) -> Line | None:
    """The body and the ending after it, where they fit together."""
    before = body[-1][2]
    pitches = ending.pitches(before, rules.progression)
    near = 1 <= abs(pitches[0] - before) <= rules.lead_in
    if not near or not set(pitches) <= rules.pitches:
        return None
    return body + tuple((n.onset, n.length, p) for n, p in zip(ending.notes, pitches, strict=True))


def rows_of_cells(rules: Rules, start: int, end: int) -> Iterator[list[tuple[int, int, bool]]]:
    """Every row of cells from a tick on that reaches another: onset, length and whether it is a rest."""
    if start >= end:
        yield []
        return
    for cell in rules.rhythm.cells:
        if fits(rules.rhythm, rules.progression, cell, start):
            words, clock = [], start
            for rest, ticks in cell:
                words.append((clock, ticks, rest))
                clock += ticks
            for others in rows_of_cells(rules, clock, end):
                yield words + others


def every_rhythm(rules: Rules, entry: int, end: int) -> set[Times]:
    """The notes of every row of cells that holds the entry and is cut at the end."""
    longest = max(length_of(cell) for cell in rules.rhythm.cells)
    found = set()
    for start in range(entry - longest, entry + 1):
        for words in rows_of_cells(rules, start, end) if start % rules.rhythm.grid == 0 else ():
            # The first cell is the one that holds the entry, the last one that which the end cuts.
            played = [(onset, length) for onset, length, rest in words if not rest and entry <= onset < end]
            cut = end in {onset for onset, _, _ in words} | {words[-1][0] + words[-1][1]}
            if cut and played and played[0][0] == entry:
                found.add(tuple(played))
    return found


def every_line(rules: Rules) -> set[Line]:
    """All valid lines, limits aside."""
    progression = rules.progression
    lengths = {len(steps) for steps in rules.figures}
    found: set[Line] = set()
    ends: list[tuple[Ending | None, int]] = [(e, e.start) for e in rules.endings]
    if rules.rhythm.plain:
        ends.append((None, progression.resolution))
    for entry, (ending, end) in itertools.product(rules.entries, ends):
        for times in every_rhythm(rules, entry, end) if entry < end else ():
            whole = times if ending else (*times, (progression.resolution, BEAT))
            for labels in labellings(len(whole), lengths, bool(rules.kinds)):
                if possible(rules, whole, labels):
                    found |= lines_with(rules, whole, labels, ending)
    return found


def possible(rules: Rules, times: Times, labels: Labels) -> bool:
    """Whether all holds that depends on the times and labels alone."""
    body = Body(rules, times, (), labels)
    firsts = [label for place, label in enumerate(labels) if body.is_new(place)]
    if "approach" in firsts or "passing" in firsts or labels[-1] in ("approach", "passing"):
        return False
    return body.in_time() and body.counts()


def lines_with(rules: Rules, times: Times, labels: Labels, ending: Ending | None) -> set[Line]:
    """The valid lines among all with these times and labels."""
    found: set[Line] = set()
    for pitches in itertools.product(*choices(rules, times, labels)):
        if Body(rules, times, pitches, labels).is_valid():
            line: Line = tuple((*time, pitch) for time, pitch in zip(times, pitches, strict=True))
            whole = with_ending(rules, line, ending) if ending else line
            if whole:
                found.add(whole)
    return found


def choices(rules: Rules, times: Times, labels: Labels) -> list[list[int]]:
    """For each note every pitch in range: a chord tone where the label asks for one."""
    chords = [rules.progression.chord_at(onset) for onset, _ in times]
    return [
        [pitch for pitch in sorted(rules.pitches) if label in ("approach", "passing") or chord.has(pitch)]
        for chord, label in zip(chords, labels, strict=True)
    ]
