"""A take in the command ``check``: what was heard, how surely, and how it stands to the rules or to a line
that was asked for."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import IO

from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, reason
from everyline.listening import MIDI_SUFFIXES, Heard, HeardNote, hear
from everyline.listening.asked import Comparison, compare, unsure_notes
from everyline.listening.heard import told
from everyline.listening.recording import LARGEST_FILE
from everyline.listening.recording import SUFFIXES as SOUND_SUFFIXES
from everyline.rules.annotate import spell_each
from everyline.rules.limits.base import place
from everyline.rules.line import Events
from everyline.rules.line_text import parse_line
from everyline.spaces.checking import Report, check
from everyline.spaces.space import Space

LONG = 10_000_000
"""Bytes of a recording from which it is said that listening takes its time."""


def add_take(parser: argparse.ArgumentParser) -> None:
    """The options for a take: ``--tempo``, ``--asked``, ``--from``."""
    parser.add_argument(
        "--tempo",
        type=float,
        metavar="BPM",
        help="LINE is a take (WAV, FLAC, MP3 or MIDI), meant to be played at this tempo in beats a minute",
    )
    parser.add_argument(
        "--asked",
        metavar="LINE",
        help="the line that was to be played, by its number or its notes: the take is held against it",
    )
    parser.add_argument(
        "--from",
        dest="since",
        type=float,
        metavar="SECONDS",
        help="where in the take the line begins, if there is something else before it",
    )


def is_take(arguments: argparse.Namespace, text: str) -> bool:
    """Whether what is checked is a take. Raises InputError where the options and the line do not go
    together."""
    suffix = Path(text.strip()).suffix.lower()
    sound = suffix in SOUND_SUFFIXES
    if arguments.tempo is not None:
        if sound or suffix in MIDI_SUFFIXES:
            return True
        raise InputError("--tempo is for a take: name a WAV, FLAC, MP3 or MIDI file.")
    if sound:
        raise InputError(f"{text}: at which tempo was it to be played? Say so, such as --tempo 120.")
    for option, value in (("--asked", arguments.asked), ("--from", arguments.since)):
        if value is not None:
            raise InputError(f"{option} is for a take: name a sound or MIDI file, and give --tempo.")
    return False


def check_take(arguments: argparse.Namespace, text: str, space: Space) -> int:
    """Listen to a take and judge it; answers the exit code, 1 where it is not valid or not as asked."""
    since = arguments.since or 0.0
    if not 0 <= since <= 3600:
        raise InputError(f"--from {since:g}: it must be from 0 to 3600 seconds.")
    asked = None if arguments.asked is None else _asked(arguments.asked, space)
    name = text.strip()
    data = _bytes(Path(name))
    if Path(name).suffix.lower() in SOUND_SUFFIXES and len(data) > LONG:
        say("listening to a long recording; this takes about a fifth of its length.")
    heard = hear(data, name, space.rules, arguments.tempo, asked=asked, since=since)
    if asked is None:
        report = check(space, heard.line, arguments.nearest)
        if arguments.format == "jsonl":
            _row(report.as_row() | {"heard": heard.as_row(report.events)})
        else:
            _write_judged(heard, report, sys.stdout)
        return 0 if report.valid else NO
    comparison = compare(heard, asked)
    if arguments.format == "jsonl":
        _row(comparison.as_row() | {"heard": heard.as_row(comparison.events)})
    else:
        _write_compared(comparison, sys.stdout)
    return 0 if comparison.as_asked else NO


def _row(row: dict[str, object]) -> None:
    sys.stdout.write(json.dumps(row, ensure_ascii=False) + "\n")


def _asked(text: str, space: Space) -> Events:
    """The line asked for, by number or by notes."""
    if text.strip().lstrip("-").isdecimal():
        return space.line(int(text)).events
    return parse_line(text, space.rules)[0]


def _bytes(path: Path) -> bytes:
    try:
        with open(path, "rb") as file:
            return file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        said = "there is no such file" if isinstance(error, FileNotFoundError) else reason(error)
        raise InputError(f"{path}: {said}; name a WAV, FLAC, MP3 or MIDI file.") from None


def _write_judged(heard: Heard, report: Report, out: IO[str]) -> None:
    from everyline.cli.check import write_report

    _write_heard(heard, report.events, out)
    out.write("\n")
    write_report(report, out)


def _write_compared(comparison: Comparison, out: IO[str]) -> None:
    out.write(f"{'as asked' if comparison.as_asked else 'not as asked'}: {comparison.summary}\n")
    if comparison.octaves:
        size = plural(abs(comparison.octaves) // 12, "octave")
        out.write(f"  read: it was played {size} {'lower' if comparison.octaves > 0 else 'higher'}.\n")
    _write_heard(comparison.heard, comparison.events, out)
    lines = comparison.lines()
    out.write("\n" if lines else "")
    for line in lines:
        out.write(f"- {line}\n")


def _write_heard(heard: Heard, events: Events, out: IO[str]) -> None:
    notes = heard.notes(events)
    doubtful = unsure_notes(heard.rules, notes)
    how = f", {len(doubtful)} of them not surely" if doubtful else ""
    sure = f" ({heard.sure:.0%} sure)" if heard.played.by_ear else ""
    out.write(f"heard: {plural(len(notes), 'note')}{how}{sure}\n")
    for said in heard.assumed(events):
        out.write(f"  taken: {said}\n")
    for said in doubtful:
        out.write(f"  unsure: {said}\n")
    for said in _off_the_beat(heard, events, notes):
        out.write(f"  timing: {said}\n")


def _off_the_beat(heard: Heard, events: Events, notes: Sequence[HeardNote]) -> list[str]:
    names = spell_each(heard.rules, events)
    return [
        f"{place(heard.rules.progression, note.event.onset)}: {name} {told(note)}."
        for name, note in zip(names, notes, strict=True)
        if told(note)
    ]
