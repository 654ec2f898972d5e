"""What a file says before it is fitted to a progression, and how a file is opened safely."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from everyline.corpora.errors import InputError, reason
from everyline.rules.line_text import LONGEST_BEATS

LARGEST_FILE = 5_000_000
"""Bytes that a file may have, packed or unpacked: a line is a few kilobytes."""
MOST_NOTES = 2_000


@dataclass(frozen=True, slots=True)
class RawNote:
    """One note as a file has it: ``onset`` and ``length`` in beats of the rules' meter, the onset from the
    first beat of the file's first full bar; ``pitch`` a sounding MIDI number."""

    onset: float
    length: float
    pitch: int


@dataclass(frozen=True, slots=True)
class Raw:
    """The notes of a file, one at a time and in order, and what was left out or changed to get them.

    ``played`` says that the times come from playing, so they are not exact.
    """

    notes: tuple[RawNote, ...]
    remarks: tuple[str, ...]
    played: bool


def read_bytes(path: Path) -> bytes:
    """The bytes of a file. Raises InputError where it cannot be read or is larger than any line."""
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        said = "there is no such file" if isinstance(error, FileNotFoundError) else reason(error)
        raise InputError(f"{path}: {said}; name a MusicXML or MIDI file, or type the notes.") from None
    if len(data) > LARGEST_FILE:
        raise InputError(
            f"{path}: larger than {LARGEST_FILE:,} bytes, so hardly one line; export the line alone."
        )
    return data


def one_at_a_time(found: list[RawNote], path: Path, remarks: list[str]) -> tuple[RawNote, ...]:
    """Notes in order, the highest of those that begin together. Raises InputError for none, too many, or too
    long a time between them."""
    if not found:
        raise InputError(f"{path}: there is no note in it; export the part that holds the line.")
    first, last = min(note.onset for note in found), max(note.onset + note.length for note in found)
    # Not a number is not within any bounds.
    if not (-LONGEST_BEATS <= first <= last <= first + LONGEST_BEATS):
        raise InputError(
            f"{path}: its notes last more than {LONGEST_BEATS} beats, so hardly one line; export the line "
            "alone."
        )
    notes: list[RawNote] = []
    for note in sorted(found, key=lambda each: (each.onset, -each.pitch)):
        if notes and abs(note.onset - notes[-1].onset) < 1e-6:
            continue
        notes.append(note)
    if len(notes) < len(found):
        remarks.append(
            "where several notes begin together the highest was taken: a line is one note at a time."
        )
    if len(notes) > MOST_NOTES:
        raise InputError(
            f"{path}: {len(notes)} notes are more than a line has ({MOST_NOTES} at most are read)."
        )
    return tuple(notes)
