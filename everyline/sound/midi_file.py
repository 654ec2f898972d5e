"""Standard MIDI files of lines, the same bytes for the same input.

Format 1: a conductor track (tempo, meter, key, chord symbols as markers, a text for each pass), then a track
and a channel for each part that plays.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import BytesIO
from types import MappingProxyType
from typing import TYPE_CHECKING

from everyline.corpora.errors import EverylineError
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.spelling import parse_key
from everyline.sound.performance import Pass, Performance, perform, programs
from everyline.sound.sound_options import BASS, CHORDS, CLICK, DRUMS, LINE, PARTS, SECOND, SoundOptions

if TYPE_CHECKING:
    from mido import Message, MetaMessage, MidiTrack

TICKS_PER_QUARTER = 960
"""Ticks of the file: finer than those of a line, so that a swung onset is at most a millisecond off at 30 a
minute.
"""
CHANNELS = {LINE: 0, CHORDS: 1, BASS: 2, SECOND: 3, DRUMS: 9, CLICK: 9}
"""Channels from 0; the tenth is the percussion channel of General MIDI Level 1, which drums and click
share."""
NAMES = {LINE: "Line", SECOND: "Second part", CHORDS: "Chords", BASS: "Bass", DRUMS: "Drums", CLICK: "Click"}
PROGRAMS = {CHORDS: 5, BASS: 33}
"""General MIDI Level 1 programs, from 1: electric piano 1, acoustic bass. The tenth channel has the kit of
the feel.
"""
VOLUMES = {LINE: 110, SECOND: 110, CHORDS: 94, BASS: 84, DRUMS: 104, CLICK: 104}
PANS = {LINE: 64, SECOND: 64, CHORDS: 68, BASS: 62, DRUMS: 64, CLICK: 64}
"""Controller 10; the accompaniment is hardly off the middle, each part within a decibel on both sides."""
APART = {LINE: 48, SECOND: 80}
"""The same where two players are heard: the first a little to the left, the second to the right."""

# What comes first where several events fall on one tick: notes end before anything begins.
_OFF, _SETTING, _TEXT, _ON = range(4)
_Event = tuple[int, int, "Message | MetaMessage"]


def write(
    lines: AnnotatedLine | Iterable[AnnotatedLine],
    options: SoundOptions | None = None,
    seconds: Sequence[AnnotatedLine | None] = (),
) -> bytes:
    """A Standard MIDI File of lines, one after another, with a second part where ``seconds`` has one. Raises
    InputError where there is no line."""
    chosen = options or SoundOptions()
    rows = (lines,) if isinstance(lines, AnnotatedLine) else tuple(lines)
    pans = {**PANS, **APART} if any(seconds) else PANS
    return write_performance(perform(rows, chosen, seconds), programs(rows, chosen), chosen, pans=pans)


def write_performance(
    performance: Performance,
    line_programs: list[int],
    options: SoundOptions,
    volumes: Mapping[int, int] = MappingProxyType({}),
    pans: Mapping[str, int] = PANS,
) -> bytes:
    """A MIDI file of a performance; ``line_programs`` are General MIDI programs from 1, one a line.

    ``volumes`` are those of the line (controller 7) by program, where they are not the usual one; ``pans``
    are those of the parts (controller 10).
    """
    _require_mido()
    from mido import MidiFile

    starts = _pass_starts(performance)
    end = starts[-1] + performance.tail * _ticks_per_beat(performance.passes[-1])
    tracks = [_track(_conductor(performance, starts), end)]
    heard = {note.part for each in performance.passes for note in each.notes}
    for part in PARTS:
        if options.plays(part) and part in heard:
            tracks.append(_track(_part(part, performance, starts, line_programs, volumes, pans), end))
    # Titles and names may hold any letter; the standard asks for ASCII, and every reader of today takes
    # UTF-8.
    file = MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=tracks)
    buffer = BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _require_mido() -> None:
    try:  # imported to see whether it is there
        import mido  # noqa: F401
    except ImportError:
        raise EverylineError(
            'MIDI needs the package mido, which is not installed: pip install "everyline[sound]".'
        ) from None


def _ticks_per_beat(each: Pass) -> int:
    """Ticks of the file in one beat of the meter."""
    return round(TICKS_PER_QUARTER * each.line.rules.progression.meter.quarters)


def _pass_starts(performance: Performance) -> list[int]:
    """The tick at which each pass starts, and the one at which the last ends."""
    starts = [0]
    for each in performance.passes:
        starts.append(starts[-1] + each.beats * _ticks_per_beat(each))
    return starts


def _tick(each: Pass, start: int, beats: float) -> int:
    """Tick of the file for a point of a pass in beats from beat 1 of bar 1."""
    return start + round((each.lead_beats + beats) * _ticks_per_beat(each))


def _conductor(performance: Performance, starts: list[int]) -> Iterator[_Event]:
    from mido import MetaMessage

    yield 0, _SETTING, MetaMessage("track_name", name=performance.passes[0].line.rules.title or "Lines")
    known: dict[str, MetaMessage] = {}
    for each, start in zip(performance.passes, starts, strict=False):
        for setting in _settings(each):
            if setting.type not in known or known[setting.type] != setting:
                known[setting.type] = setting
                yield start, _SETTING, setting
        yield start, _TEXT, MetaMessage("text", text=describe(each))
        if each.lead:
            yield start, _TEXT, MetaMessage("marker", text="count-in")
        progression = each.line.rules.progression
        for chord, slot in zip(progression.chords, progression.starts, strict=True):
            tick = _tick(each, start, slot / progression.subdivision)
            yield tick, _TEXT, MetaMessage("marker", text=chord.name)


def _settings(each: Pass) -> Iterator[MetaMessage]:
    from mido import MetaMessage

    rules = each.line.rules
    meter = rules.progression.meter
    quarter = round(60_000_000 / each.map.tempo / meter.quarters)
    yield MetaMessage("set_tempo", tempo=quarter)
    # A click of the reader's own metronome falls on each beat: 24 MIDI clocks are a quarter note.
    clocks = round(24 * meter.quarters)
    yield MetaMessage(
        "time_signature", numerator=meter.count, denominator=meter.unit, clocks_per_click=clocks
    )
    if rules.key is not None:
        key = parse_key(rules.key)
        yield MetaMessage("key_signature", key=key.tonic + ("m" if key.minor else ""))


def describe(each: Pass) -> str:
    """A pass in words: the line's number where it is known, tempo, feel, long to short eighth."""
    number = each.line.number
    name = f"Line {number}" if number is not None else f"Line {each.index + 1} of this file"
    eighths = "even" if each.map.ratio == 1 else f"{each.map.ratio:.2g}:1"
    return f"{name}, {each.map.tempo:g} beats a minute, {each.feel.name}, eighths {eighths}"


def _part(
    part: str,
    performance: Performance,
    starts: list[int],
    line_programs: list[int],
    volumes: Mapping[int, int],
    pans: Mapping[str, int],
) -> Iterator[_Event]:
    from mido import Message, MetaMessage

    channel = CHANNELS[part]
    yield 0, _SETTING, MetaMessage("track_name", name=NAMES[part])
    yield 0, _SETTING, Message("control_change", channel=channel, control=7, value=VOLUMES[part])
    yield 0, _SETTING, Message("control_change", channel=channel, control=10, value=pans[part])
    known = 0
    for each, start in zip(performance.passes, starts, strict=False):
        melody = part in (LINE, SECOND)
        program = line_programs[each.index] if melody else PROGRAMS.get(part, each.feel.kit)
        if program != known:
            known = program
            yield start, _SETTING, Message("program_change", channel=channel, program=program - 1)
            if melody and program in volumes:
                value = volumes[program]
                yield start, _SETTING, Message("control_change", channel=channel, control=7, value=value)
        for note in each.notes:
            if note.part == part:
                first, last = _tick(each, start, note.start), _tick(each, start, note.end)
                yield first, _ON, Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity)
                yield last, _OFF, Message("note_off", channel=channel, note=note.pitch, velocity=0)


def _track(events: Iterable[_Event], end: int) -> MidiTrack:
    """A track from events in any order, each track ending at the same tick so that no tail is cut."""
    from mido import MetaMessage, MidiTrack

    by_place: dict[tuple[int, int], list[Message | MetaMessage]] = defaultdict(list)
    for tick, order, message in events:
        by_place[tick, order].append(message)
    track = MidiTrack()
    clock = 0
    for tick, order in sorted(by_place):
        for message in by_place[tick, order]:
            message.time = tick - clock
            track.append(message)
            clock = tick
    track.append(MetaMessage("end_of_track", time=end - clock))
    return track
