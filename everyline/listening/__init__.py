"""Listening to a player: a recording or a MIDI take becomes notes in their places, early or late, and is said
how surely."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from everyline.corpora.errors import InputError, did_you_mean
from everyline.listening import performed
from everyline.listening.heard import Heard, HeardNote, heard
from everyline.listening.played import Played, PlayedNote
from everyline.listening.recording import SUFFIXES as SOUND_SUFFIXES
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules

__all__ = ["SUFFIXES", "Heard", "HeardNote", "Played", "PlayedNote", "hear", "hear_notes"]

MIDI_SUFFIXES = (".mid", ".midi", ".smf")
SUFFIXES = (*SOUND_SUFFIXES, *MIDI_SUFFIXES)
"""Ends of the names of files that a take may have."""


def hear(
    data: bytes,
    name: str | Path,
    rules: Rules,
    tempo: float,
    *,
    asked: Events | None = None,
    since: float = 0.0,
) -> Heard:
    """What is heard of a take: the bytes of a WAV, FLAC, MP3 or MIDI file, told apart by the end of its name.

    ``tempo`` is the one that was to be played, in beats of the meter a minute: the player's own is found near
    it and followed. ``asked`` is the line that was to be played, if one was; ``since`` the second from which
    the take counts. Raises InputError, in one sentence, for what cannot be heard, EverylineError where a
    package is missing.
    """
    kind = Path(name).suffix.lower()
    if kind in MIDI_SUFFIXES:
        return heard(performed.from_file(data, str(name)), rules, tempo, str(name), asked, since)
    if kind not in SOUND_SUFFIXES:
        raise InputError(
            f"{name}: takes are files that end in {', '.join(SUFFIXES)}.{did_you_mean(kind, SUFFIXES)}"
        )
    from everyline.listening.notes import notes_of
    from everyline.listening.recording import read_recording

    return heard(notes_of(read_recording(data, str(name))), rules, tempo, str(name), asked, since)


def hear_notes(
    notes: Iterable[Mapping[str, Any]],
    rules: Rules,
    tempo: float,
    *,
    asked: Events | None = None,
    since: float = 0.0,
) -> Heard:
    """The same for notes as a MIDI instrument sent them, each with ``pitch``, ``onset`` and ``length`` in
    seconds and, where it is known, ``velocity``. Raises InputError."""
    return heard(performed.from_notes(notes), rules, tempo, "the take", asked, since)
