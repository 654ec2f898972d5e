"""What is settled before any pitch is: when the notes sound, and in which chord.

The lines of one space fall into *skeletons*, one for each entry slot and ending. Within a skeleton all lines
have the same rhythm, so a line is a sequence of pitches, and finding lines is a constraint problem with one
variable a note.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from everyline.rules.endings import PlacedEnding
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.ruleset import Rules


@dataclass(frozen=True)
class Skeleton:
    """All lines that share an entry slot and an ending.

    ``body`` are the slots before the ending's first note, one note each; without a stock ending the
    resolution slot is the last of them. ``shape`` has (onset, length) in ticks for every note, those of the
    ending included.
    """

    rules: Rules
    body: tuple[int, ...]
    ending: PlacedEnding | None
    shape: tuple[tuple[int, int], ...]

    def events(self, pitches: Sequence[int]) -> Events:
        """The line with these pitches, one for each note."""
        return tuple(
            Event(onset, pitch, length) for (onset, length), pitch in zip(self.shape, pitches, strict=True)
        )

    def chord(self, slot: int) -> int:
        """Index of the chord at a slot."""
        return self.rules.progression.chord_index(slot)

    def fresh(self, slot: int) -> bool:
        """Whether a new chord begins on a slot, so that a handoff is due there."""
        chord = self.chord(slot)
        return chord > 0 and slot == self.rules.progression.starts[chord]

    def tones(self, slot: int) -> tuple[int, ...]:
        """The chord tones at a slot, in range, low to high."""
        classes = self.rules.progression.chords[self.chord(slot)].tone_classes
        return tuple(pitch for pitch in sorted(self.rules.pitches) if pitch % 12 in classes)

    def targets(self, slot: int) -> tuple[int, ...]:
        """The pitches on which a figure may land at a slot, as far as chord, range and ``targets`` go."""
        wanted = self.rules.approach.targets
        root = self.rules.progression.chords[self.chord(slot)].root_class
        return tuple(p for p in self.tones(slot) if wanted is None or (p - root) % 12 in wanted)

    def fits(self, first: int, target: int) -> bool:
        """Whether a figure may start on slot ``first`` and land on slot ``target``, as far as time goes.

        It lands on a beat of the body; its notes lie in one chord, and it lands in that chord or on the first
        slot of the next, but never leaves the first chord from the entry. The first slot of a new chord
        belongs to a handoff.
        """
        if first < self.body[0] or target > self.body[-1] or target % self.rules.progression.subdivision:
            return False
        if self.fresh(first) or self.chord(first) != self.chord(target - 1):
            return False
        return self.chord(first) == self.chord(target) or first > self.body[0]

    def counted(self) -> Iterator[tuple[int, int, int]]:
        """(chord, least, most) for every chord whose number of figures is asked.

        It is asked of every chord before the last; with a stock ending up to and including the chord in which
        that starts.
        """
        progression = self.rules.progression
        end = progression.resolution
        if self.ending is not None:
            end = self.ending.start // self.rules.slot_ticks + 1
        for chord, start in enumerate(progression.starts[:-1]):
            if chord == 0 or start < end:
                yield chord, *self.rules.approach.bounds(chord)

    def ending_pitches(self, previous: int) -> tuple[int, ...] | None:
        """The stock ending's pitches after a note, or None where it cannot follow that note."""
        assert self.ending is not None
        pitches = tuple(event.pitch for event in self.ending.after(previous))
        if not 0 < abs(pitches[0] - previous) <= self.rules.lead_in:
            return None
        return pitches if self.rules.pitches.issuperset(pitches) else None


def skeletons(rules: Rules) -> Iterator[Skeleton]:
    """Every skeleton under these rules in which there is a note before the ending."""
    ticks, resolution = rules.slot_ticks, rules.progression.resolution
    for entry in sorted(rules.entry.slots):
        if rules.plain and entry < resolution:
            body = tuple(range(entry, resolution + 1))
            shape = [(slot * ticks, ticks) for slot in body[:-1]] + [(resolution * ticks, TICKS_PER_BEAT)]
            yield Skeleton(rules, body, None, tuple(shape))
        for ending in rules.endings:
            body = tuple(range(entry, ending.start // ticks))
            if body:
                shape = [(slot * ticks, ticks) for slot in body]
                shape += [(note.onset, note.length) for note in ending.notes]
                yield Skeleton(rules, body, ending, tuple(shape))
