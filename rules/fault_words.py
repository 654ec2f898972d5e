"""What is said of each fault of a line, in the trade's words: where, what, and what the rules would have."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from everyline.corpora import Figure
from everyline.corpora.counted import choice, plural
from everyline.rules.chords import Chord
from everyline.rules.ladder import figure_pitches, handoffs, rung
from everyline.rules.limits.base import named, note_name, place, times, within
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.names import line_names
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell

HANDOFF_WORDS = {
    "nearest": "the nearest other chord tone",
    "nearest-or-common": "the nearest other chord tone, or the same note held over",
    "step": "a chord tone a step away",
    "guide": "the nearest other third or seventh",
    "any": "any other chord tone within reach",
}
MOST_HINTS = 2


class Words:
    """Sentences about one line. Notes are given by their place in the line, from 0."""

    def __init__(self, rules: Rules, events: Events) -> None:
        self.rules = rules
        self.notes = rules.notes(events)

    # -- names -----------------------------------------------------------------------------------------------

    def note(self, index: int) -> str:
        """A note with its place: ``Ab4 (bar 2, beat 3&)``."""
        return named(self.rules.progression, self.notes[index])

    def at(self, tick: int) -> str:
        """A moment: ``bar 2, beat 3&``."""
        return place(self.rules.progression, tick)

    def pitch(self, pitch: int, chord: int) -> str:
        """A pitch as it is spelled over a chord, given by its index."""
        rules = self.rules
        return spell(pitch, rules.progression.chords[chord], rules.scales[chord], rules.key)

    def _pitches(self, pitches: Iterable[int], chord: int) -> str:
        return choice(self.pitch(each, chord) for each in pitches)

    def _chord(self, index: int) -> Chord:
        return self.rules.progression.chords[index]

    def _tones(self, chord: int) -> str:
        tones = self._chord(chord)
        names = (self.pitch(48 + (tones.root_class + tone) % 12, chord) for tone in tones.tones)
        return " ".join(name.rstrip("0123456789") for name in names)

    # -- the line as a whole ---------------------------------------------------------------------------------

    def out_of_range(self, index: int) -> str:
        """A note that cannot be played."""
        return f"{self.note(index)} is out of range; the range is {self.rules.range_text}."

    def entry_beat(self) -> str:
        """The line begins where no line may."""
        progression = self.rules.progression
        allowed = choice(progression.place(slot) for slot in sorted(self.rules.entry.slots))
        return f"the line starts on {self.at(self.notes[0].onset)}; it has to start on {allowed}."

    def grid(self, index: int) -> str | None:
        """Why a note of the body does not fill the slot that is its own; None where it does."""
        note, ticks = self.notes[index], self.rules.slot_ticks
        if index and note.onset < self.notes[index - 1].end:
            return (
                f"{self.note(index)} begins before the note before it has ended; a line is one note at a "
                "time."
            )
        if note.onset % ticks:
            return (
                f"{self.note(index)} begins between two slots; before its ending a line has one note a slot."
            )
        if index and note.onset > self.notes[index - 1].end:
            gap = self.at(self.notes[index - 1].end)
            return f"nothing begins on {gap}; up to its ending a line fills every slot."
        if note.onset != self.rules.resolution_tick and note.length != ticks:
            return (
                f"{self.note(index)} lasts {plural(note.length / TICKS_PER_BEAT, 'beat')}; up to its ending "
                f"every note of a line lasts one slot, {ticks / TICKS_PER_BEAT:.3g} of a beat."
            )
        return None

    def cells(self, index: int) -> str:
        """A note that no cell allows where it is."""
        note = self.notes[index]
        if index and note.onset < self.notes[index - 1].end:
            return self.grid(index) or ""
        cells = choice(f'"{cell.text}"' for cell in self.rules.cells)
        beats = plural(note.length / TICKS_PER_BEAT, "beat")
        return (
            f"{self.note(index)}, which lasts {beats}, does not continue the rhythm of the notes before it; "
            f"up to its ending a line is made of the cells {cells}, one after another from beat to beat."
        )

    # -- entry, arpeggio, handoff ----------------------------------------------------------------------------

    def entry_note(self) -> str:
        """The first note is not among those allowed."""
        entry, chord = self.rules.entry, self._chord(0)
        allowed = [
            p
            for p in sorted(self.rules.pitches)
            if entry.allows(p, chord.root_class) and p % 12 in chord.tone_classes
        ]
        words = (
            f"; a chord tone to start on is {self._pitches(allowed, 0)}"
            if len(allowed) in range(1, 9)
            else ""
        )
        return f"the line may not start on {self.note(0)} under these rules{words}."

    def entry_tone(self, hints: str) -> str:
        """The first note is no chord tone and begins no figure."""
        return (
            f"{self.note(0)} cannot open the line: it is not a chord tone of {self._chord(0).symbol} "
            f"({self._tones(0)}) and {hints}."
        )

    def _next_rungs(self, index: int) -> tuple[int, ...]:
        chord = self._chord(self.notes[index].chord)
        before = self.notes[index - 1].pitch
        return tuple(rung(chord, before, way) for way in self.rules.arpeggio.directions)

    def arpeggio(self, index: int, rungs: int = 0) -> str:
        """A chord tone that a run does not lead to; ``rungs`` is 2 where it skips one rung."""
        note, before = self.notes[index], self.notes[index - 1]
        chord = self._chord(note.chord)
        if note.pitch == before.pitch:
            tones = self._pitches(self._next_rungs(index), note.chord)
            return f"{self.note(index)} repeats the note before it; the arpeggio would go on to {tones}."
        way = 1 if note.pitch > before.pitch else -1
        expected = rung(chord, before.pitch, way)
        word = "up" if way > 0 else "down"
        if rungs == 2 and self.rules.arpeggio.skips:
            return (
                f"{self.note(index)} skips a rung or turns once too often; a run may skip "
                f"{times(None, self.rules.arpeggio.skips)} and turn {times(None, self.rules.arpeggio.turns)}."
            )
        if note.pitch != expected:
            return (
                f"{self.note(index)} skips a rung: {word} from {self.note(index - 1)} the next chord tone of "
                f"{chord.symbol} is {self.pitch(expected, note.chord)}."
            )
        if way not in self.rules.arpeggio.directions:
            return (
                f"{self.note(index)} runs {word}, and under these rules runs go "
                f"{self.rules.arpeggio.direction} only."
            )
        turns = self.rules.arpeggio.turns
        allowed = "goes one way until its next anchor" if not turns else f"may turn {plural(turns, 'time')}"
        return f"the run turns {word} at {self.note(index)}; a run {allowed}."

    def handoff(self, index: int) -> str:
        """A wrong first note of a new chord."""
        rules, note = self.rules, self.notes[index]
        before = self.notes[index - 1]
        chord = self._chord(note.chord)
        allowed = handoffs(rules.handoff, before.pitch, chord, rules.approach.reach)
        fault = "is not a legal handoff" if note.chord_tone else f"is not a chord tone of {chord.symbol}"
        return (
            f"{self.note(index)} {fault}: from {note_name(rules.progression, before)} the new chord "
            f"{chord.symbol} "
            f"is entered on {HANDOFF_WORDS[rules.handoff]}, {self._pitches(allowed, note.chord)}."
        )

    # -- figures ---------------------------------------------------------------------------------------------

    def parity(self, figure: Figure, first: int, target: int) -> str:
        """A figure that lands off the beat: where it starts, how long it is, what would land it."""
        progression = self.rules.progression
        slot, size = self.notes[first].slot, len(figure.steps)
        start, landing = progression.beat_name(slot), progression.beat_name(self.notes[target].slot)
        if progression.subdivision == 2:
            odd = slot % 2 == 1
            fix = (
                "an odd number of notes, or a start on the beat, would land it"
                if odd
                else "an even number of notes, or a start on an upbeat, would land it"
            )
        else:
            sizes = [k for k in range(1, 9) if progression.on_beat(slot + k)][:2]
            fix = f"a figure of {choice(map(str, sizes))} notes from there would land it"
        return (
            f"the figure {figure.name} starts on {start} at {self.note(first)} and has "
            f"{plural(size, 'note')}, "
            f"so it lands on {landing}, off the beat, at {self.note(target)}; {fix}."
        )

    def target(self, figure: Figure, index: int) -> str:
        """A figure that lands on a degree not asked for."""
        note = self.notes[index]
        chord = self._chord(note.chord)
        allowed = choice(
            chord.degree_of(chord.root_class + tone) for tone in sorted(self.rules.approach.targets or ())
        )
        return (
            f"the figure {figure.name} lands on {self.note(index)}, the {chord.degree_of(note.pitch)} of "
            f"{chord.symbol}; figures land on {allowed}."
        )

    def reach(self, figure: Figure, index: int) -> str:
        """A figure whose first note lies too far from the note before it, or is the same."""
        leap = abs(self.notes[index].pitch - self.notes[index - 1].pitch)
        if not leap:
            return (
                f"the figure {figure.name} begins at {self.note(index)} on the note just played; it has to "
                "move."
            )
        return (
            f"the figure {figure.name} begins at {self.note(index)}, {plural(leap, 'semitone')} from the "
            "note before "
            f"it; the reach allowed is {self.rules.approach.reach}."
        )

    def after(self, figure: Figure, index: int, since: int) -> str:
        """A figure that begins too soon after the last one."""
        return (
            f"the figure {figure.name} begins at {self.note(index)} after {plural(since, 'chord tone')} "
            "since the last "
            f"figure, its target included; the rules ask for {self.rules.approach.after}."
        )

    def too_many(self, figure: Figure, index: int) -> str:
        """One figure more than the chord may have."""
        note = self.notes[index]
        most = self.rules.approach.bounds(note.chord)[1]
        return (
            f"the figure {figure.name} at {self.note(index)} is one too many: "
            f"{self._chord(note.chord).symbol} takes "
            f"{within(0, most, 'approach figure')}."
        )

    def too_few(self, chord: int, figures: int) -> str:
        """A chord left with fewer figures than it must have."""
        least, most = self.rules.approach.bounds(chord)
        there = plural(figures, "approach figure") if figures else "no approach figure"
        return (
            f"{self._chord(chord).symbol} has {there}; the rules ask for "
            f"{within(least, most, 'approach figure')}."
        )

    def unexplained(self, index: int, hints: str) -> str:
        """A note that is neither chord tone nor part of a figure: what each way to go on would have "
        "needed."""
        note = self.notes[index]
        rungs = self._pitches(self._next_rungs(index), note.chord)
        return (
            f"{self.note(index)} is not a chord tone of {self._chord(note.chord).symbol} "
            f"({self._tones(note.chord)}) and "
            f"{hints}; from {self.note(index - 1)} the arpeggio would go to {rungs}."
        )

    def hints(self, index: int) -> str:
        """Why no figure is heard at a note, and how one that starts on it would have to go on."""
        note = self.notes[index]
        if not self.rules.approach.bounds(note.chord)[1]:
            return f"no approach figure may begin over {self._chord(note.chord).symbol}"
        found = list(dict.fromkeys(self._ways(index)))[:MOST_HINTS]
        if not found:
            return "no approach figure in use that begins on it would land on a beat"
        return f"does not start any approach figure in use (one on it would go on {choice(found)})"

    def _ways(self, index: int) -> Iterator[str]:
        rules, note = self.rules, self.notes[index]
        progression = rules.progression
        for figure in rules.approach.figures:
            slot = note.slot + len(figure.steps)
            chord = progression.chord_index(slot)
            fresh = chord > note.chord and slot == progression.starts[chord]
            if (
                not progression.on_beat(slot)
                or not (chord == note.chord or fresh)
                or slot > progression.resolution
            ):
                continue
            tones = self._chord(chord)
            legal = (
                handoffs(rules.handoff, self.notes[index - 1].pitch, tones, rules.approach.reach)
                if fresh and index
                else range(note.pitch - 4, note.pitch + 5)
            )
            for target in legal:
                wanted = rules.approach.targets
                degree = (target - tones.root_class) % 12
                if degree not in tones.tones or (wanted is not None and degree not in wanted):
                    continue
                pitches = figure_pitches(figure.steps, target, tones.root_class, rules.scales[chord])
                if pitches[0] == note.pitch and rules.pitches.issuperset((*pitches, target)):
                    ticks = rules.slot_ticks
                    played = rules.notes(
                        tuple((note.onset + k * ticks, p, ticks) for k, p in enumerate((*pitches, target)))
                    )
                    ends = dict.fromkeys(range(len(pitches)), len(pitches))
                    yield " ".join(line_names(rules, played, ends)[1:])
