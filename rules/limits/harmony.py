"""Limits on the melody against the chords: outside notes, strong beats, degrees."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, ClassVar

from everyline.corpora.counted import choice, form, plural
from everyline.rules.acceptor import Breach, Notes, State
from everyline.rules.chords import Chord
from everyline.rules.limits.base import SEMITONES, ChordSet, DegreeSet, named, within
from everyline.rules.line import Note
from everyline.rules.progression import Progression
from everyline.rules.schema import listed


@dataclass(frozen=True, slots=True)
class OutsideNotes:
    """The notes that are not chord tones of the chord at their own slot number ``least`` to ``most``.

    State: how many there were so far, counted no further than it matters.
    """

    kind: ClassVar[str] = "outside-notes"
    least: int | None
    most: int | None
    progression: Progression

    def start(self) -> State:
        return 0

    def step(self, state: Any, note: Note) -> State | None:
        count: int = state + (not note.chord_tone)
        if self.most is None:
            return min(count, self.least or 0)
        return None if count > self.most else count

    def content(self, state: Any) -> bool:
        return bool(state >= (self.least or 0))

    def holds(self, notes: Notes) -> bool:
        outside = sum(not note.chord_tone for note in notes)
        return (self.least or 0) <= outside and (self.most is None or outside <= self.most)

    @property
    def _asked(self) -> str:
        words = within(self.least, self.most, "note")
        return f"{'is' if words.endswith('note') else 'are'} to be {words}"

    def describe(self) -> str:
        return f"outside the chord of the moment there {self._asked}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        outside = [index for index, note in enumerate(notes) if not note.chord_tone]
        which = ", ".join(named(self.progression, notes[index]) for index in outside)
        message = (
            f"{plural(len(outside), 'note')} outside the chord of the moment{f': {which}' if which else ''}; "
            f"there {self._asked}."
        )
        over = outside[self.most] if self.most is not None and len(outside) > self.most else None
        return (Breach(self.kind, message, over),)


@dataclass(frozen=True, slots=True)
class StrongBeats:
    """On these beats of every bar, the note sounding at that instant is a chord tone of the chord there.

    ``slots`` are slots within a bar. The note may have begun before the beat; a rest is no breach. A pickup
    counts as the end of a bar. Nothing need be remembered: onset and length tell every beat that a note
    covers.
    """

    kind: ClassVar[str] = "strong-beats"
    slots: tuple[int, ...]
    names: tuple[str, ...]
    progression: Progression

    def start(self) -> State:
        return 0

    def _chord(self, slot: int) -> Chord:
        return self.progression.chords[self.progression.chord_index(slot)]

    def _missed(self, note: Note) -> Iterator[int]:
        """Each strong slot at which the note sounds without being a chord tone."""
        ticks, bar = self.progression.slot_ticks, self.progression.slots_per_bar
        for slot in range(-(-note.onset // ticks), -(-note.end // ticks)):
            chord = self._chord(slot)
            if slot % bar in self.slots and note.pitch % SEMITONES not in chord.tone_classes:
                yield slot

    def step(self, state: Any, note: Note) -> State | None:
        return state if next(self._missed(note), None) is None else None

    def content(self, state: Any) -> bool:
        return True

    def holds(self, notes: Notes) -> bool:
        if not notes:
            return True
        ticks, bar = self.progression.slot_ticks, self.progression.slots_per_bar
        for slot in range(notes[0].onset // ticks, notes[-1].end // ticks + 1):
            chord = self._chord(slot)
            sounding = [note for note in notes if note.onset <= slot * ticks < note.end]
            if slot % bar in self.slots and any(
                (note.pitch - chord.root_class) % SEMITONES not in chord.tones for note in sounding
            ):
                return False
        return True

    def describe(self) -> str:
        beats = f"{form(len(self.names), 'beat')} {listed(self.names)}"
        return f"a chord tone sounds on {beats} of every bar"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        return tuple(
            Breach(
                self.kind,
                f"{named(self.progression, note)} sounds on {self.progression.place(slot)}, "
                f"where a chord tone of {self._chord(slot).symbol} is asked for.",
                index,
            )
            for index, note in enumerate(notes)
            for slot in self._missed(note)
        )


@dataclass(frozen=True, slots=True)
class AvoidDegrees:
    """None of these degrees is heard over that chord (every chord where none is named). Stateless."""

    kind: ClassVar[str] = "avoid-degrees"
    degrees: DegreeSet
    chords: ChordSet
    progression: Progression

    def start(self) -> State:
        return 0

    def step(self, state: Any, note: Note) -> State | None:
        return None if note.chord in self.chords and note.degree in self.degrees.semitones else state

    def content(self, state: Any) -> bool:
        return True

    def holds(self, notes: Notes) -> bool:
        return not any(note.degree in self.degrees.semitones for note in notes if note.chord in self.chords)

    def describe(self) -> str:
        return f"no {' or '.join(self.degrees.names)}{self.chords.over or ' over any chord'}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        return tuple(
            Breach(
                self.kind,
                f"{named(self.progression, note)} is the {self.degrees.name(note.degree)} of "
                f"{self.progression.chords[note.chord].symbol}, which is to be avoided.",
                index,
            )
            for index, note in enumerate(notes)
            if note.chord in self.chords and note.degree in self.degrees.semitones
        )


@dataclass(frozen=True, slots=True)
class RequireDegrees:
    """Each of these degrees is heard at least once over that chord, at any of its occurrences.

    Where no chord is named, each is heard once over any chord. State: a bit for each degree still to be
    heard.
    """

    kind: ClassVar[str] = "require-degrees"
    degrees: DegreeSet
    chords: ChordSet
    progression: Progression

    def start(self) -> State:
        return sum(1 << degree for degree in self.degrees.semitones)

    def step(self, state: Any, note: Note) -> State | None:
        heard = 1 << note.degree if note.chord in self.chords else 0
        return int(state) & ~heard

    def content(self, state: Any) -> bool:
        return bool(state == 0)

    def _missing(self, notes: Notes) -> list[str]:
        heard = {note.degree for note in notes if note.chord in self.chords}
        return [self.degrees.name(degree) for degree in sorted(self.degrees.semitones - heard)]

    def holds(self, notes: Notes) -> bool:
        return not self._missing(notes)

    def describe(self) -> str:
        where = self.chords.over or " over some chord"
        each = "each " if len(self.degrees.semitones) > 1 else ""
        return f"{listed(self.degrees.names)} {'are ' if each else 'is '}{each}heard at least once{where}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        where = self.chords.over or " over any chord"
        return tuple(Breach(self.kind, f"the {name} is never heard{where}.") for name in self._missing(notes))


@dataclass(frozen=True, slots=True)
class Landing:
    """The first note that begins in each of these chords is one of these degrees of it.

    A chord in which no note begins is satisfied. State: the chord (index) of the last note.
    """

    kind: ClassVar[str] = "landing"
    degrees: DegreeSet
    chords: ChordSet
    progression: Progression

    def start(self) -> State:
        return -1

    def step(self, state: Any, note: Note) -> State | None:
        lands = note.chord != state and note.chord in self.chords
        return None if lands and note.degree not in self.degrees.semitones else note.chord

    def content(self, state: Any) -> bool:
        return True

    def _missed(self, notes: Notes) -> list[int]:
        """The first notes (indices) in their chords that are none of the degrees."""
        firsts: dict[int, int] = {}
        for index, note in enumerate(notes):
            firsts.setdefault(note.chord, index)
        return [
            index
            for chord, index in firsts.items()
            if chord in self.chords and notes[index].degree not in self.degrees.semitones
        ]

    def holds(self, notes: Notes) -> bool:
        return not self._missed(notes)

    def describe(self) -> str:
        return f"the first note{self.chords.over or ' over each chord'} is its {choice(self.degrees.names)}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        chords = self.progression.chords
        return tuple(
            Breach(
                self.kind,
                f"{named(self.progression, notes[index])}, the first note over "
                f"{chords[notes[index].chord].symbol}, is its "
                f"{chords[notes[index].chord].degree_of(notes[index].pitch)}; asked for: "
                f"{choice(self.degrees.names)}.",
                index,
            )
            for index in self._missed(notes)
        )


@dataclass(frozen=True, slots=True)
class LastDegree:
    """The last note is one of these degrees of the last chord. State: whether the last note was one."""

    kind: ClassVar[str] = "last-degree"
    degrees: DegreeSet
    progression: Progression

    def start(self) -> State:
        return False

    def _fits(self, note: Note) -> bool:
        root = self.progression.chords[-1].root_class
        return (note.pitch - root) % SEMITONES in self.degrees.semitones

    def step(self, state: Any, note: Note) -> State | None:
        return self._fits(note)

    def content(self, state: Any) -> bool:
        return bool(state)

    def holds(self, notes: Notes) -> bool:
        return bool(notes) and self._fits(notes[-1])

    def describe(self) -> str:
        return (
            f"the last note is the {' or '.join(self.degrees.names)} of {self.progression.chords[-1].symbol}"
        )

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        wanted = f"the {' or '.join(self.degrees.names)} of {self.progression.chords[-1].symbol}"
        if not notes:
            return (Breach(self.kind, f"there is no last note; it should be {wanted}."),)
        last = notes[-1]
        over = self.progression.chords[-1].degree_of(last.pitch)
        message = f"the last note, {named(self.progression, last)}, is the {over}; it should be {wanted}."
        return (Breach(self.kind, message, len(notes) - 1),)
