"""Lines as typed text: ``D4 F4 A4 C5:4``, and back.

A token is a pitch with an optional length behind a colon (``G4:4.``, ``G4:8t``, ``G4:2+8`` for a half note
tied to an eighth; an eighth when nothing is said), or a rest (``r8``). Bar lines are for the eye. The text
does not say where the line starts: it starts on an entry beat of the rules, and where those allow several,
each is a candidate. A text may say it itself with ``@2&`` (a beat of bar 1) or ``@-3`` (slots before bar 1)
in front.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from everyline.corpora.errors import InputError
from everyline.corpora.note_lengths import (
    NOTE_VALUES,
    TICKS_PER_WHOLE,
    VALUE_NAMES,
    format_value,
    parse_value,
)
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.pitch import HIGHEST, LOWEST, parse_pitch, split_note_name
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import with_octave

_NOTE = re.compile(r"([A-Ga-g][#b♯♭x𝄪𝄫]*-?\d+)(?::(.+))?")
_NAME = re.compile(r"([A-Ga-g][#b♯♭x𝄪𝄫]?)(?::(.+))?")
OCTAVES = 9
"""Octaves in which a note without one may lie: 0 to 8."""
_REST = re.compile(r"r\d.*")
TIE = "+"
"""Between the values of a length that no single one shows."""
_MOST_TIED = 4
_PLAIN = tuple(parse_value(f"{value}{kind}").ticks for kind in ("", "t") for value in NOTE_VALUES)
LONGEST_TEXT = 100_000
LONGEST_BEATS = 4_000
"""Beats that a line may last: a thousand bars of 4/4, many times what any progression has."""


def parse_line(text: str, rules: Rules) -> tuple[Events, ...]:
    """The line as events, once for each slot on which it may start. Raises InputError for what cannot be
    read."""
    if len(text) > LONGEST_TEXT:
        raise InputError(f"the line is {len(text)} characters long; at most {LONGEST_TEXT} are read")
    tokens = re.sub("[|,;]", " ", text).split()
    starts: Sequence[int] = sorted(rules.entry.slots)
    if tokens and tokens[0].startswith("@"):
        starts = (_start(tokens.pop(0)[1:], rules),)
    timed: list[tuple[int, int, int]] = []
    at = 0
    for token in tokens:
        pitch, length = _token(token, rules)
        if pitch is not None:
            timed.append((at, pitch, length))
        at += length
        if at > LONGEST_BEATS * TICKS_PER_BEAT:
            raise InputError(
                f"the line lasts more than {LONGEST_BEATS} beats, which no line does; shorten it"
            )
    if not timed:
        raise InputError(f'"{text.strip()}" holds no note. Write pitches such as D4 F4 A4 C5:4')
    lead = timed[0][0]
    return tuple(
        tuple(Event(slot * rules.slot_ticks + onset - lead, pitch, length) for onset, pitch, length in timed)
        for slot in starts
    )


def without_octaves(text: str) -> bool:
    """Whether a typed line has a note without its octave."""
    return any(_NAME.fullmatch(token) for token in re.sub("[|,;]", " ", text).split())


def with_octaves(text: str, rules: Rules) -> tuple[str, ...]:
    """A typed line with an octave on each note, likeliest first.

    A note without one is the nearest of its name to the note before it (a tritone goes up); the first may be
    in each octave of the range, those before that keep the whole line in range.
    """
    found = []
    for octave in range(OCTAVES):
        tokens: list[str] = []
        pitches: list[int] = []
        for token in re.sub("[|,;]", " ", text).split():
            name, note = _NAME.fullmatch(token), _NOTE.fullmatch(token)
            if name is not None:
                pitch = parse_pitch(f"{name[1]}{octave}")
                if pitches:
                    pitch = pitches[-1] + (pitch - pitches[-1] + 5) % 12 - 5
                if not LOWEST <= pitch <= HIGHEST:
                    break
                sign = split_note_name(name[1])
                assert sign is not None, "the pattern is that of a note name"
                token = f"{with_octave(''.join(sign), pitch)}{':' + name[2] if name[2] else ''}"
                pitches.append(pitch)
            elif note is not None:
                pitches.append(parse_pitch(note[1]))
            tokens.append(token)
        else:
            outside = sum(pitch not in rules.pitches for pitch in pitches)
            found.append((outside, octave, " ".join(tokens)))
    return tuple(dict.fromkeys(line for _, _, line in sorted(found)))


def _start(text: str, rules: Rules) -> int:
    if re.fullmatch(r"-[0-9]{1,9}", text):
        return int(text)
    return rules.progression.parse_beat(text)


def _token(token: str, rules: Rules) -> tuple[int | None, int]:
    """(pitch or None for a rest, length in ticks)."""
    if _REST.fullmatch(token):
        return None, _ticks(token, rules)
    found = _NOTE.fullmatch(token)
    if found is None:
        raise InputError(
            f'"{token}" is not a note or a rest. Write a pitch (D4, Bb3), '
            "with its length if it is no eighth (D4:4.), or a rest (r8)"
        )
    return parse_pitch(found[1]), sum(_ticks(value, rules) for value in (found[2] or "8").split(TIE))


def _ticks(value: str, rules: Rules) -> int:
    beat = parse_value(value)
    ticks = rules.progression.meter.ticks(beat.ticks)
    if ticks is None:
        raise InputError(f'"{value}" {rules.progression.meter.cannot_show}')
    return ticks


def value_name(ticks: int, rules: Rules, rest: bool = False) -> str | None:
    """The notation of a length in ticks (480 to a beat), or None where one value cannot show it."""
    written = rules.progression.meter.value(ticks)
    return None if written is None else format_value(written, rest)


def length_name(ticks: int, rules: Rules) -> str | None:
    """The notation of a length in ticks, in as few values tied together as can be; None where even several
    cannot show it."""
    written = rules.progression.meter.value(ticks)
    if written is None:
        return None
    wholes = max(0, written // TICKS_PER_WHOLE - 1)
    ways = (_tied(written - wholes * TICKS_PER_WHOLE, values) for values in range(1, _MOST_TIED + 1))
    found = next(filter(None, ways), None)
    return None if found is None else TIE.join([*["1"] * wholes, found])


@lru_cache(maxsize=1024)
def _tied(ticks: int, values: int) -> str | None:
    """A length as exactly so many values, plain ones before the last; None where there is no way."""
    if values == 1:
        return VALUE_NAMES.get(ticks)
    for size in _PLAIN:
        rest = _tied(ticks - size, values - 1) if size < ticks else None
        if rest is not None:
            return f"{VALUE_NAMES[size]}{TIE}{rest}"
    return None


def format_line(
    rules: Rules, events: Iterable[tuple[int, int, int]], names: Sequence[str], start: bool = False
) -> str:
    """The line as text that ``parse_line`` reads back; the start is written only where it could be
    mistaken, or where ``start`` asks for it."""
    events = tuple(events)
    tokens: list[str] = []
    slot = events[0][0] // rules.slot_ticks
    if start or tuple(rules.entry.slots) != (slot,):
        tokens.append("@" + (str(slot) if slot < 0 else rules.progression.beat_name(slot)))
    end = events[0][0]
    for (onset, _, length), name in zip(events, names, strict=True):
        if onset > end:
            tokens += rests(onset - end, rules)
        value = length_name(length, rules)
        tokens.append(name if value == "8" else f"{name}:{value or '?'}")
        end = onset + length
    return " ".join(tokens)


def rests(ticks: int, rules: Rules) -> list[str]:
    """Rests that fill a gap, largest first."""
    one = value_name(ticks, rules, rest=True)
    if one is not None:
        return [one]
    for size in (4 * TICKS_PER_BEAT, 2 * TICKS_PER_BEAT, TICKS_PER_BEAT, 240, 160, 120, 80, 60, 40):
        name = value_name(size, rules, rest=True)
        if size < ticks and name is not None:
            return [name, *rests(ticks - size, rules)]
    return ["r?"]
