"""Standard MIDI files, through mido."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from pathlib import Path
from statistics import mean
from typing import Any

from everyline.corpora.errors import EverylineError, InputError
from everyline.reading.raw import Raw, RawNote, one_at_a_time
from everyline.rules.ruleset import Rules

SUFFIXES = (".mid", ".midi", ".smf")
OWN_NAME = "line"
"""What our own files call the part with the line; an accompaniment may lie above it."""

PERCUSSION = 9
"""The percussion channel of General MIDI, counted from 0."""
MOST_OVERLAP = 0.2
"""How much of a part's notes may begin together before it is taken for chords."""


@dataclass
class Part:
    """The notes of one track on one channel, in ticks of the file."""

    name: str
    channel: int
    notes: list[tuple[int, int, int]] = field(default_factory=list)

    @property
    def together(self) -> float:
        """The share of notes that begin on the onset of another."""
        return 1 - len({onset for onset, _, _ in self.notes}) / len(self.notes)


def read(data: bytes, path: Path, rules: Rules) -> Raw:
    """The part that is a line: one note at a time, the highest of such parts. Raises InputError for a bad
    file."""
    remarks: list[str] = []
    file = opened(data, path)
    part = line_part(file, path, remarks)
    per_beat = file.ticks_per_beat * rules.progression.meter.quarters
    found = [RawNote(on / per_beat, (off - on) / per_beat, pitch) for on, off, pitch in part.notes]
    return Raw(one_at_a_time(found, path, remarks), tuple(remarks), played=True)


def opened(data: bytes, path: Path) -> Any:
    """The file as mido reads it, counted in beats. Raises InputError for a bad file, EverylineError without
    mido."""
    try:
        import mido
    except ImportError:
        raise EverylineError(
            'reading MIDI needs the package mido, which is not installed: pip install "everyline[read]".'
        ) from None
    try:
        file = mido.MidiFile(file=io.BytesIO(data), clip=True)
    except (EverylineError, MemoryError):
        raise
    except Exception:  # mido raises whatever the damaged bytes lead it to
        raise InputError(f"{path}: not a Standard MIDI File, or a damaged one; export it again.") from None
    if file.ticks_per_beat <= 0 or file.ticks_per_beat >= 0x8000:
        raise InputError(f"{path}: it counts time in film frames, not in beats; export it with beats.")
    return file


def line_part(file: Any, path: Path, remarks: list[str]) -> Part:
    """The part of a file that is a line; what was chosen is added to the remarks. Raises InputError where
    there is none."""
    parts = [part for track in file.tracks for part in _parts(track) if part.notes]
    lines = [part for part in parts if part.channel != PERCUSSION]
    if not lines:
        raise InputError(f"{path}: there is no note in it; export the part that holds the line.")
    named = [part for part in lines if part.name.casefold() == OWN_NAME]
    part = max(
        named or lines, key=lambda each: (each.together <= MOST_OVERLAP, mean(p for _, _, p in each.notes))
    )
    if len(parts) > 1:
        which = f'the one called "{part.name}"' if named else "the highest that is a single line"
        name = f' "{part.name}"' if part.name and not named else ""
        remarks.append(f"of {len(parts)} parts with notes {which}{name} was read.")
    return part


def _parts(track: Any) -> list[Part]:
    """The parts of one track, by channel. A note that never ends lasts to the end of the track."""
    parts: dict[int, Part] = {}
    open_notes: dict[tuple[int, int], int] = {}
    now, name = 0, ""

    def close(channel: int, pitch: int) -> None:
        start = open_notes.pop((channel, pitch), None)
        if start is not None and now > start:
            parts.setdefault(channel, Part(name, channel)).notes.append((start, now, pitch))

    for message in track:
        now += message.time
        if message.type == "track_name":
            name = str(message.name).strip()
        elif message.type == "note_on" and message.velocity:
            close(message.channel, message.note)
            open_notes[message.channel, message.note] = now
        elif message.type in ("note_on", "note_off"):
            close(message.channel, message.note)
    for channel, pitch in list(open_notes):
        close(channel, pitch)
    for part in parts.values():
        part.notes.sort()
    return list(parts.values())
