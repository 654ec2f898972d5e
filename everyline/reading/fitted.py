"""A line from text or a file, fitted to the rules that it is held against; whatever was changed is said."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.reading import grid
from everyline.reading.raw import Raw, read_bytes
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.line_text import parse_line, with_octaves, without_octaves
from everyline.rules.ruleset import Rules

XML, MIDI, TEXT = "musicxml", "midi", "text"
SUFFIXES = {
    ".musicxml": XML, ".xml": XML, ".mxl": XML, ".mid": MIDI, ".midi": MIDI, ".smf": MIDI, ".txt": TEXT,
}  # fmt: skip
"""What a file is read as, by the end of its name."""

OCTAVES = (12, -12, 24, -24, 36, -36)
NOTICED = 0.02
"""Beats by which a note has to be off the grid before it is worth a remark."""
RINGS = 0.55
"""The share of the time to the next note from which a played note counts as held until then."""
LONGEST_NAME = 255


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A line as read. ``candidates`` are the events it may mean, likeliest first: the same notes from each
    entry beat that the text leaves open, or with each length that playing leaves open. ``remarks`` say what
    was changed."""

    candidates: tuple[Events, ...]
    remarks: tuple[str, ...] = ()


def is_file(text: str) -> bool:
    """Whether a word given for a line is a file and no notes."""
    name = text.strip()
    if "\n" in name or len(name) > LONGEST_NAME:
        return False
    return Path(name).suffix.lower() in SUFFIXES or os.path.isfile(name)


def read_line(source: str | Path, rules: Rules) -> ReadLine:
    """A line from typed notes, or from a MusicXML, MIDI or text file. Raises InputError in one sentence."""
    if isinstance(source, str) and not is_file(source):
        return typed(source, rules)
    path = Path(source.strip()) if isinstance(source, str) else source
    kind = SUFFIXES.get(path.suffix.lower())
    if kind is None:
        raise InputError(
            f"{path}: a line is read from files that end in {', '.join(SUFFIXES)}."
            f"{did_you_mean(path.suffix.lower(), SUFFIXES)}"
        )
    return read_data(read_bytes(path), kind, path, rules)


def read_data(data: bytes, kind: str, name: Path, rules: Rules) -> ReadLine:
    """A line from the bytes of a file; ``name`` is what messages call the file. Raises InputError."""
    if kind == TEXT:
        return typed(_words(data, name), rules)
    return fitted(_raw(kind, data, name, rules), rules)


def typed(text: str, rules: Rules) -> ReadLine:
    """A line from typed notes. Octaves that are left out are filled in. Raises InputError."""
    lines = with_octaves(text, rules) if without_octaves(text) else ()
    if not lines:
        return ReadLine(parse_line(text, rules))
    found = [events for line in lines for events in parse_line(line, rules)]
    return ReadLine(
        tuple(dict.fromkeys(found)),
        ("a note without an octave was read as the nearest of its name to the note before it.",),
    )


def _words(data: bytes, name: Path) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{name}: not text in UTF-8; type the notes, such as D4 F4 A4 C5:4.") from None


def _raw(kind: str, data: bytes, name: Path, rules: Rules) -> Raw:
    if kind == XML:
        from everyline.reading import from_musicxml

        return from_musicxml.read(data, name, rules)
    from everyline.reading import from_midi

    return from_midi.read(data, name, rules)


def fitted(raw: Raw, rules: Rules) -> ReadLine:
    """A file's notes brought onto the grid, into the range and to the place where these rules' lines
    start."""
    remarks = list(raw.remarks)
    timed = _timed(raw, rules, remarks)
    timed = in_range(timed, rules, remarks)
    placed = [_moved(timed, shift) for shift in _shifts(timed, rules, remarks)]
    if not raw.played:
        return ReadLine(tuple(dict.fromkeys(placed)), tuple(remarks))
    remarks.append(
        "how long each note rings was not judged: played lengths were read as the rules have them."
    )
    found = [events for each in placed for events in (*as_endings(each, rules), each)]
    return ReadLine(tuple(dict.fromkeys(found)), tuple(remarks))


def _timed(raw: Raw, rules: Rules, remarks: list[str]) -> Events:
    progression = rules.progression
    onsets = [note.onset for note in raw.notes]
    # A body of cells has a grid too fine to be told from loose playing; its eighths come first.
    own = progression.meter.parts if rules.cells else progression.subdivision
    found = grid.fit(onsets, own, swings=progression.meter.in_quarters)
    if found.ratio > 1:
        remarks.append(
            f"the eighths are swung, about {found.ratio:.1f} to 1; they were read as even eighths."
        )
    if found.loosest > NOTICED:
        remarks.append(
            f"the timing is loose, by up to {found.loosest:.2f} of a beat; each note was moved to the "
            "nearest place."
        )
    events: list[Event] = []
    for place, (note, onset) in enumerate(zip(raw.notes, found.onsets, strict=True)):
        if events and onset <= events[-1].onset:
            remarks.append(
                f"note {place + 1} begins too close to the one before it to be told apart; it was left out."
            )
            continue
        end = found.straighten(note.onset + note.length) * TICKS_PER_BEAT
        events.append(Event(onset, note.pitch, max(1, round(end) - onset)))
    return (
        lengths(events, rules) if raw.played or found.ratio > 1 or found.loosest > NOTICED else tuple(events)
    )


def lengths(events: list[Event], rules: Rules) -> Events:
    """Played lengths: a note held for most of the time to the next lasts until it, others end on the grid."""
    slot = rules.slot_ticks
    found = []
    for place, event in enumerate(events):
        whole = max(slot, round(event.length / slot) * slot)
        if place + 1 < len(events):
            room = events[place + 1].onset - event.onset
            whole = room if event.length >= RINGS * room or room <= slot else min(whole, room)
        found.append(event._replace(length=whole))
    return tuple(found)


def in_range(events: Events, rules: Rules, remarks: list[str]) -> Events:
    """The line an octave or more away, where it is out of range and all of it fits there."""
    if all(event.pitch in rules.pitches for event in events):
        return events
    for shift in OCTAVES:
        if all(event.pitch + shift in rules.pitches for event in events):
            count = abs(shift) // 12
            size = "an octave" if count == 1 else f"{count} octaves"
            remarks.append(
                f"it was read {size} {'higher' if shift > 0 else 'lower'}, where the range of these rules is."
            )
            return tuple(event._replace(pitch=event.pitch + shift) for event in events)
    return events


def _shifts(events: Events, rules: Rules, remarks: list[str]) -> list[int]:
    """By how many ticks to move the line so that it starts where lines may: whole bars only."""
    bar = rules.progression.slots_per_bar * rules.slot_ticks
    first = events[0].onset
    entries = [slot * rules.slot_ticks for slot in rules.entry.slots]
    fitting = sorted(
        {entry - first for entry in entries if (entry - first) % bar == 0}, key=lambda s: (abs(s), s)
    )
    found = fitting or [-(first // bar) * bar]
    if found[0] < 0:
        count = -found[0] // bar
        remarks.append(f"left out before the line: {plural(count, 'bar')} of rest or count-in.")
    elif found[0] > 0:
        remarks.append("the line was moved by whole bars to where lines start under these rules.")
    return found


def _moved(events: Events, ticks: int) -> Events:
    return tuple(event._replace(onset=event.onset + ticks) for event in events)


def as_endings(events: Events, rules: Rules) -> Iterable[Events]:
    """The line with the lengths of each ending that its last notes are, by onset and pitch class."""
    if rules.plain and events[-1].onset == rules.resolution_tick:
        yield (*events[:-1], events[-1]._replace(length=TICKS_PER_BEAT))
    for ending in rules.endings:
        rest = events[len(events) - len(ending.notes) :]
        if len(rest) != len(ending.notes) or len(rest) == len(events):
            continue
        if all(
            have.onset == want.onset and have.pitch % 12 == want.pitch_class
            for have, want in zip(rest, ending.notes, strict=True)
        ):
            tail = tuple(
                have._replace(length=want.length) for have, want in zip(rest, ending.notes, strict=True)
            )
            before = events[: len(events) - len(rest)]
            if before:
                last = before[-1]
                before = (*before[:-1], last._replace(length=min(last.length, tail[0].onset - last.onset)))
            yield (*before, *tail)
