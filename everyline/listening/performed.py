"""Takes from MIDI: a file, by its tempo map, or notes as an instrument sent them."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

from everyline.corpora.errors import InputError
from everyline.listening.played import Played, PlayedNote
from everyline.reading.from_midi import line_part, opened
from everyline.reading.raw import MOST_NOTES

TOGETHER = 0.03
"""Seconds within which notes count as struck together: the highest is the line's."""
MOST_SECONDS = 3_600
_DEFAULT_TEMPO = 500_000
"""Microseconds a quarter note where a file does not say (Standard MIDI Files 1.0)."""


def from_file(data: bytes, name: str) -> Played:
    """The notes of the part of a MIDI file that is a line, timed by the file's tempo map. Raises InputError
    for a bad file."""
    path = Path(name)
    remarks: list[str] = []
    file = opened(data, path)
    part = line_part(file, path, remarks)
    seconds = _clock(file)
    notes = [
        PlayedNote(seconds(on), max(0.001, seconds(off) - seconds(on)), pitch)
        for on, off, pitch in part.notes
    ]
    return Played(_one_at_a_time(notes, name, remarks), False, 0, tuple(remarks))


def from_notes(rows: Iterable[Mapping[str, Any]], name: str = "the take") -> Played:
    """Notes as an instrument sent them: ``pitch`` (MIDI number), ``onset`` and ``length`` (seconds) and,
    where it is known, ``velocity`` (1 to 127). Raises InputError for what is no such note."""
    remarks: list[str] = []
    notes = []
    for place, row in enumerate(rows, 1):
        if place > 2 * MOST_NOTES:
            raise InputError(f"{name}: more than {2 * MOST_NOTES} notes; send one line.")
        if not isinstance(row, Mapping):
            raise InputError(f"{name}, note {place}: it must be a table with pitch, onset and length.")
        velocity = row.get("velocity")
        notes.append(
            PlayedNote(
                onset=_number(row, "onset", 0, MOST_SECONDS, name, place),
                length=max(0.001, _number(row, "length", 0, MOST_SECONDS, name, place)),
                pitch=_whole(row, "pitch", 0, 127, name, place),
                velocity=None if velocity is None else _whole(row, "velocity", 1, 127, name, place),
            )
        )
    return Played(_one_at_a_time(notes, name, remarks), False, 0, tuple(remarks))


def _number(row: Mapping[str, Any], key: str, least: float, most: float, name: str, place: int) -> float:
    value = row.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        value = None
    if value is None or not least <= value <= most:
        raise InputError(
            f"{name}, note {place}: {key} = {row.get(key)!r}; it must be a number from {least:g} to {most:g}."
        )
    return float(value)


def _whole(row: Mapping[str, Any], key: str, least: int, most: int, name: str, place: int) -> int:
    value = _number(row, key, least, most, name, place)
    if value != int(value):
        raise InputError(f"{name}, note {place}: {key} = {value:g}; it must be a whole number.")
    return int(value)


def _one_at_a_time(found: list[PlayedNote], name: str, remarks: list[str]) -> tuple[PlayedNote, ...]:
    """Notes in order, the highest of those struck together."""
    kept: list[PlayedNote] = []
    for note in sorted(found, key=lambda each: each.onset):
        if kept and note.onset - kept[-1].onset < TOGETHER:
            if note.pitch > kept[-1].pitch:
                kept[-1] = note
            continue
        kept.append(note)
    if len(kept) < len(found):
        remarks.append("where several notes were struck together the highest was taken.")
    if kept and kept[-1].onset - kept[0].onset > MOST_SECONDS:
        raise InputError(f"{name}: longer than {MOST_SECONDS // 60} minutes; cut the take out of it.")
    return tuple(kept)


def _clock(file: Any) -> Callable[[int], float]:
    """From ticks of a file to seconds."""
    changes = {0: _DEFAULT_TEMPO}
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "set_tempo":
                changes[now] = message.tempo
    per_quarter: int = file.ticks_per_beat
    ticks = sorted(changes)
    starts = [0.0]
    for first, last in pairwise(ticks):
        starts.append(starts[-1] + (last - first) * changes[first] / 1e6 / per_quarter)

    def seconds(tick: int) -> float:
        at = bisect_right(ticks, tick) - 1
        return starts[at] + (tick - ticks[at]) * changes[ticks[at]] / 1e6 / per_quarter

    return seconds
