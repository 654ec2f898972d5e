"""A performance: what sounds when, in beats and seconds, before it becomes a file.

It is a row of passes. A pass is one line once, at one tempo, with its lead (count-in) and its accompaniment.
The MIDI writer, the audio and the highlighting on the page all read the same performance.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from everyline.corpora.errors import InputError
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.progression import Progression
from everyline.sound.accompany import accompany
from everyline.sound.phrasing import phrased
from everyline.sound.played import PartNote
from everyline.sound.sound_options import BACKBEAT, BASS, CHORDS, CLICK, COUNT_IN, LINE, SoundOptions
from everyline.sound.swing import SwingMap, swing_map

CLICK_VELOCITY, ACCENT_VELOCITY = 72, 96
# General MIDI Level 1 percussion: 76 is the high wood block, 77 the low one.
ACCENT_KEY, CLICK_KEY = 76, 77
CLICK_BEATS = 0.25
SHORTEST_TAIL = 2.0
"""Seconds of ringing at least after the last bar."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One line once. ``start`` is in seconds from the start of the performance, where the lead begins.

    ``index`` counts the lines of the performance from 0; ``lead`` and ``bars`` are in bars. The notes' beats
    count from beat 1 of bar 1, after the lead.
    """

    index: int
    line: AnnotatedLine
    map: SwingMap
    lead: int
    bars: int
    start: float
    notes: tuple[PartNote, ...]

    @property
    def lead_beats(self) -> int:
        """Beats from the start of the pass to beat 1 of bar 1."""
        return self.lead * self.line.rules.progression.beats_per_bar

    @property
    def beats(self) -> int:
        """Beats of the whole pass, lead included."""
        return self.lead_beats + self.bars * self.line.rules.progression.beats_per_bar

    @property
    def end(self) -> float:
        """When the pass ends, in seconds from the start of the performance."""
        return self.start + self.beats * 60 / self.map.tempo

    def seconds(self, beats: float) -> float:
        """Seconds from the start of the performance to a point in beats from beat 1 of bar 1."""
        return self.start + (self.lead_beats + beats) * 60 / self.map.tempo


@dataclass(frozen=True, slots=True)
class TimedNote:
    """A note of the line in seconds from the start: ``line`` counts the lines, ``note`` its notes, both from
    0.
    """

    line: int
    note: int
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Performance:
    """Passes in the order in which they sound."""

    passes: tuple[Pass, ...]

    @property
    def loop_start(self) -> float:
        """Where a loop of it begins, in seconds: at the first bar 1 if a pickup finds room in the last bar,
        else at the bar that the pickup needs.
        """
        first, last = self.passes[0], self.passes[-1]
        return first.seconds(0) if _pickup(first.line) <= _free(last.line, last.bars) else first.start

    @property
    def seconds(self) -> float:
        """Length to the end of the last bar."""
        return self.passes[-1].end

    @property
    def tail(self) -> int:
        """Beats of ringing after the last bar: a whole bar, and two seconds at least."""
        last = self.passes[-1]
        bar = last.line.rules.progression.beats_per_bar
        return max(bar, -int(-SHORTEST_TAIL * last.map.tempo // 60))

    def timed_notes(self) -> Iterator[TimedNote]:
        """Every note of every line with its time, for what follows the sound with the eye."""
        for each in self.passes:
            for note in each.notes:
                if note.part == LINE and note.index is not None:
                    yield TimedNote(each.index, note.index, each.seconds(note.start), each.seconds(note.end))


def perform(
    lines: AnnotatedLine | Iterable[AnnotatedLine], options: SoundOptions | None = None
) -> Performance:
    """Lay lines out in time, one after another, each at every tempo and as often as wished.

    A line's notes are always in the performance (the eye follows them even where the ear does not); other
    muted parts are left out. Raises InputError where there is no line.
    """
    chosen = options or SoundOptions()
    rows = (lines,) if isinstance(lines, AnnotatedLine) else tuple(lines)
    if not rows:
        raise InputError("There is no line to play; give at least one.")
    passes: list[Pass] = []
    clock = 0.0
    for index, line in enumerate(rows):
        bars = _bars(line)
        for tempo in chosen.tempi:
            timing = swing_map(line, tempo, chosen.swing)
            for time in range(chosen.repeats):
                lead = _lead(line, bars, chosen, time)
                again = time + 1 < chosen.repeats
                goes_on = chosen.loop if not again else _lead(line, bars, chosen, time + 1) == 0
                notes = tuple(_notes(line, timing, lead, bars, chosen, closing=not goes_on))
                passes.append(Pass(index, line, timing, lead, bars, clock, notes))
                clock = passes[-1].end
    return Performance(tuple(passes))


def _bar_ticks(progression: Progression) -> int:
    return progression.beats_per_bar * TICKS_PER_BEAT


def _bars(line: AnnotatedLine) -> int:
    """Bars that are played: the whole form, and further where the line sounds beyond it."""
    progression = line.rules.progression
    end = max(note.onset + note.length for note in line.notes)
    return max(progression.bars, -(-end // _bar_ticks(progression)))


def _lead(line: AnnotatedLine, bars: int, options: SoundOptions, time: int) -> int:
    """Bars before bar 1: the count-in, and more where a pickup finds no room.

    The second time round without a count-in, a pickup sounds in the last bar of the time before, if that is
    free.
    """
    bar = _bar_ticks(line.rules.progression)
    pickup = _pickup(line)
    if time == 0 or options.count_in_each:
        return max(options.count_in, -(-pickup // bar))
    return 0 if pickup <= _free(line, bars) else -(-pickup // bar)


def _pickup(line: AnnotatedLine) -> int:
    """Ticks of a line before bar 1."""
    return max(0, -min(note.onset for note in line.notes))


def _free(line: AnnotatedLine, bars: int) -> int:
    """Ticks after a line's last note to the end of so many bars."""
    return bars * _bar_ticks(line.rules.progression) - max(note.onset + note.length for note in line.notes)


def _notes(
    line: AnnotatedLine, timing: SwingMap, lead: int, bars: int, options: SoundOptions, closing: bool
) -> Iterator[PartNote]:
    how = phrased(line.notes, line.rules.progression.meter[1] == 4)
    for index, (note, played) in enumerate(zip(line.notes, how, strict=True)):
        start, end = timing.beats(note.onset), timing.beats(note.onset + note.length)
        yield PartNote(LINE, start, start + (end - start) * played.part, note.pitch, played.velocity, index)
    wanted = tuple(part for part in (CHORDS, BASS) if options.plays(part))
    yield from accompany(
        line.rules, bars, timing, options.bass, wanted, closing, line.events, line.number or 0
    )
    if options.plays(CLICK):
        yield from _clicks(line.rules.progression.beats_per_bar, lead, bars, options)


def _clicks(beats_per_bar: int, lead: int, bars: int, options: SoundOptions) -> Iterator[PartNote]:
    first = -lead * beats_per_bar if options.count_in else 0
    last = 0 if options.click == COUNT_IN else bars * beats_per_bar
    for beat in range(first, last):
        place = beat % beats_per_bar
        if beat >= 0 and options.click == BACKBEAT and place % 2 == 0:
            continue
        accented = place == 0
        key, velocity = (ACCENT_KEY, ACCENT_VELOCITY) if accented else (CLICK_KEY, CLICK_VELOCITY)
        yield PartNote(CLICK, float(beat), beat + CLICK_BEATS, key, velocity)


def programs(lines: Sequence[AnnotatedLine], options: SoundOptions) -> list[int]:
    """The General MIDI program (1 to 128) of each line: the chosen one, the instrument's, else a guitar's."""
    return [
        options.program or (line.rules.instrument.program if line.rules.instrument else 27) for line in lines
    ]
