"""A performance: what sounds when, in beats and seconds, before it becomes a file.

It is a row of passes. A pass is one line once, at one tempo, with its lead (count-in) and its accompaniment.
The MIDI writer, the audio and the highlighting on the page all read the same performance.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from everyline.corpora.errors import InputError
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.progression import Progression
from everyline.sound.accompany import Band, accompany
from everyline.sound.feels import BY_METER, Feel, feel_of, fitting
from everyline.sound.phrasing import phrased
from everyline.sound.played import PartNote
from everyline.sound.pulses import bar_ticks, pulses
from everyline.sound.sound_options import (
    BACKBEAT,
    BASS,
    CHORDS,
    CLICK,
    COUNT_IN,
    DRUMS,
    LINE,
    SECOND,
    SoundOptions,
)
from everyline.sound.swing import BY_TEMPO, STRAIGHT, Swing, SwingMap, cymbal_map, swing_map

CLICK_VELOCITY, GROUP_VELOCITY, ACCENT_VELOCITY = 72, 84, 96
# General MIDI Level 1 percussion: 76 is the high wood block, 77 the low one.
ACCENT_KEY, CLICK_KEY = 76, 77
CLICK_BEATS = 0.25
SHORTEST_TAIL = 2.0
"""Seconds of ringing at least after the last bar."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One line once. ``start`` is in seconds from the start of the performance, where the lead begins.

    ``index`` counts the lines of the performance from 0, ``second`` is the second part of a line that has
    one, which keeps its rhythm; ``lead`` and ``bars`` are in bars. The notes' beats
    count from beat 1 of bar 1, after the lead.
    """

    index: int
    line: AnnotatedLine
    map: SwingMap
    feel: Feel
    lead: int
    bars: int
    start: float
    notes: tuple[PartNote, ...]
    second: AnnotatedLine | None = None

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
    lines: AnnotatedLine | Iterable[AnnotatedLine],
    options: SoundOptions | None = None,
    seconds: Sequence[AnnotatedLine | None] = (),
) -> Performance:
    """Lay lines out in time, one after another, each at every tempo and as often as wished.

    ``seconds`` are second parts, for each line one in its rhythm or None. A line's notes are always in the
    performance (the eye follows them even where the ear does not); other muted parts are left out. Raises
    InputError where there is no line.
    """
    chosen = options or SoundOptions()
    rows = (lines,) if isinstance(lines, AnnotatedLine) else tuple(lines)
    if not rows:
        raise InputError("There is no line to play; give at least one.")
    passes: list[Pass] = []
    clock = 0.0
    for index, line in enumerate(rows):
        bars = _bars(line)
        second = seconds[index] if seconds else None
        # One feel up a practice ladder: that of the tempo that it leads to.
        feel = _feel(line.rules.progression, chosen)
        for tempo in chosen.tempi:
            timing = swing_map(line, tempo, _swing(feel, chosen.swing))
            for time in range(chosen.repeats):
                lead = _lead(line, bars, chosen, time)
                again = time + 1 < chosen.repeats
                goes_on = chosen.loop if not again else _lead(line, bars, chosen, time + 1) == 0
                each = Pass(index, line, timing, feel, lead, bars, clock, (), second)
                counted = chosen.count_in > 0 and (time == 0 or chosen.count_in_each)
                passes.append(replace(each, notes=tuple(_notes(each, chosen, not goes_on, counted))))
                clock = each.end
    return Performance(tuple(passes))


def _feel(progression: Progression, options: SoundOptions) -> Feel:
    """The feel of a form: the one asked for, or the usual one."""
    asked = options.feel
    if options.feel_gives_way and asked not in fitting(progression):
        asked = BY_METER
    return feel_of(progression, max(options.tempi), asked)


def _swing(feel: Feel, wish: Swing) -> Swing:
    """The swing of a feel: a stated one, or none where the feel has even eighths."""
    return STRAIGHT if feel.even and wish == BY_TEMPO else wish


def _bars(line: AnnotatedLine) -> int:
    """Bars that are played: the whole form, and further where the line sounds beyond it."""
    progression = line.rules.progression
    end = max(note.onset + note.length for note in line.notes)
    return max(progression.bars, -(-end // bar_ticks(progression)))


def _lead(line: AnnotatedLine, bars: int, options: SoundOptions, time: int) -> int:
    """Bars before bar 1: the count-in, and more where a pickup finds no room.

    The second time round without a count-in, a pickup sounds in the last bar of the time before, if that is
    free.
    """
    bar = bar_ticks(line.rules.progression)
    pickup = _pickup(line)
    if time == 0 or options.count_in_each:
        return max(options.count_in, -(-pickup // bar))
    return 0 if pickup <= _free(line, bars) else -(-pickup // bar)


def _pickup(line: AnnotatedLine) -> int:
    """Ticks of a line before bar 1."""
    return max(0, -min(note.onset for note in line.notes))


def _free(line: AnnotatedLine, bars: int) -> int:
    """Ticks after a line's last note to the end of so many bars."""
    return bars * bar_ticks(line.rules.progression) - max(note.onset + note.length for note in line.notes)


def _notes(each: Pass, options: SoundOptions, closing: bool, counted: bool) -> Iterator[PartNote]:
    """All notes of a pass; ``counted`` says that a count-in stands before it."""
    line, timing = each.line, each.map
    yield from _melody(LINE, line, timing)
    events = line.events
    if each.second is not None:
        events = tuple(sorted((*events, *each.second.events)))
        if options.plays(SECOND):
            yield from _melody(SECOND, each.second, timing)
    wanted = tuple(part for part in (CHORDS, BASS, DRUMS) if options.plays(part))
    drums = cymbal_map(line.rules, timing.tempo, _swing(each.feel, options.swing))
    seed = (line.number or 0) if options.seed is None else options.seed
    band = Band(each.feel, timing, drums, options.bass, seed)
    # Where nobody counts in, the drums keep time under a pickup.
    alone = 0 if counted else each.lead
    yield from accompany(line.rules, each.bars, band, wanted, closing, events, alone)
    if options.plays(CLICK):
        yield from _clicks(line.rules.progression, each.lead if counted else 0, each.bars, options)


def _melody(part: str, line: AnnotatedLine, timing: SwingMap) -> Iterator[PartNote]:
    """The notes of a line as they are played."""
    how = phrased(line.notes, line.rules.progression.meter.in_quarters)
    for index, (note, played) in enumerate(zip(line.notes, how, strict=True)):
        start, end = timing.beats(note.onset), timing.beats(note.onset + note.length)
        yield PartNote(part, start, start + (end - start) * played.part, note.pitch, played.velocity, index)


def _clicks(progression: Progression, lead: int, bars: int, options: SoundOptions) -> Iterator[PartNote]:
    """The count-in and the click after it: a high block on 1, a low one elsewhere, stronger where a group of
    three or two begins.

    Of several bars counted in, those before the last have their groups alone: "one, two, one two three four"
    (common practice).
    """
    there = {pulse.start // TICKS_PER_BEAT: pulse for pulse in pulses(progression)}
    beats = progression.beats_per_bar
    groups = {beat for beat, pulse in there.items() if pulse.place == 0 or pulse.parts == 3}
    backbeats = {beat for beat, pulse in there.items() if pulse.place == 1}
    for beat in range(-lead * beats, 0 if options.click == COUNT_IN else bars * beats):
        place = beat % beats
        if beat < -beats and len(groups) > 1 and place not in groups:
            continue
        if beat >= 0 and options.click == BACKBEAT and place not in backbeats:
            continue
        key = CLICK_KEY if place else ACCENT_KEY
        velocity = ACCENT_VELOCITY if not place else GROUP_VELOCITY if place in groups else CLICK_VELOCITY
        yield PartNote(CLICK, float(beat), beat + CLICK_BEATS, key, velocity)


def programs(lines: Sequence[AnnotatedLine], options: SoundOptions) -> list[int]:
    """The General MIDI program (1 to 128) of each line: the chosen one, the instrument's, else a guitar's."""
    return [
        options.program or (line.rules.instrument.program if line.rules.instrument else 27) for line in lines
    ]
