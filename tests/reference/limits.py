"""What a teacher can add: every limit as a plain question about a finished line."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

from tests.reference.progression import BEAT, Progression
from tests.reference.rhythm import length_of, parse_word
from tests.reference.rulefile import HIGHEST_FRET, SPAN, Rules
from tests.reference.theory import GUITAR, Chord
from tests.reference.vocabulary import Event

Line = tuple[Event, ...]
Limit = dict[str, Any]
LOWEST_POSITION = 0  # a position whose lowest fret is 0 has the open strings


def intervals(line: Line) -> list[int]:
    """Signed semitones between neighbouring notes, across rests too."""
    return [b[2] - a[2] for a, b in itertools.pairwise(line)]


def pitches(line: Line) -> list[int]:
    return [event[2] for event in line]


def turns(line: Line) -> int:
    """How often the melody turns.  "A repeated note is no turn": the direction before it stays in force."""
    ways = [step > 0 for step in intervals(line) if step]
    return sum(a != b for a, b in itertools.pairwise(ways))


def chord_of(progression: Progression, event: Event) -> Chord:
    return progression.chord_at(event[0])


def outside(progression: Progression, line: Line) -> int:
    """The rules say: "notes that are not chord tones of their own slot's chord"."""
    return sum(not chord_of(progression, event).has(event[2]) for event in line)


def over(progression: Progression, line: Line, symbol: str | None) -> list[tuple[Chord, int]]:
    """The notes over a chord (over all chords if none is named), each with its chord."""
    notes = [(chord_of(progression, event), event[2]) for event in line]
    return [(chord, pitch) for chord, pitch in notes if symbol in (None, chord.symbol)]


def within(number: int, limit: Limit) -> bool:
    return bool(limit.get("least", 0) <= number <= limit.get("most", number))


def strong_beats(progression: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "on these beats of every bar the note sounding at the onset is a chord tone"; "a note
    held over the beat sounds there"."""
    wanted = [progression.tick_of_beat(str(beat)) for beat in limit["beats"]]
    for onset, length, pitch in line:
        for tick in range(onset, onset + length):
            if tick % progression.bar in wanted and not progression.chord_at(tick).has(pitch):
                return False
    return True


def first_in_each(progression: Progression, line: Line) -> list[tuple[Chord, int]]:
    """The first note that begins in each chord, with the chord."""
    first: dict[int, int] = {}
    for onset, _, pitch in line:
        first.setdefault(progression.index_at(onset), pitch)
    return [(progression.chords[index], pitch) for index, pitch in first.items()]


def landing(progression: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "the first note that sounds in each chord (in that chord only, if one is named) is one
    of these degrees of it"; "a chord without one is satisfied, a named chord means every occurrence"."""
    return all(
        any(chord.is_degree(pitch, degree) for degree in limit["degrees"])
        for chord, pitch in first_in_each(progression, line)
        if limit.get("chord", chord.symbol) == chord.symbol
    )


def rhythm_heard(progression: Progression, line: Line, pattern: str) -> int:
    """The rules say: "the number of beats from which on exactly this pattern (cell notation) of onsets,
    lengths and silences is heard"; "time before the first note and after the last is silence; a note held
    into the pattern or out of it breaks it; every beat counts, pickups too"."""
    words = [parse_word(word, progression.whole) for word in pattern.split()]
    wanted, clock = [], 0
    for rest, ticks in words:
        if not rest:
            wanted.append((clock, ticks))
        clock += ticks
    size = length_of(tuple(words))
    heard = 0
    # Any beat whose time has something of the line in it; the pattern has a note, so no other beat can match.
    first, last = line[0][0] - size, line[-1][0] + line[-1][1]
    for beat in range(first - first % BEAT, last + 1, BEAT):
        inside = [note for note in line if note[0] < beat + size and note[0] + note[1] > beat]
        heard += [(onset - beat, length) for onset, length, _ in inside] == wanted
    return heard


def rests(line: Line) -> int:
    """The rules say: "the number of silences between two notes"."""
    return sum(a[0] + a[1] < b[0] for a, b in itertools.pairwise(line))


def standing(_: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "of any so many successive notes, highest minus lowest is at least this"."""
    heard, size = pitches(line), limit["notes"]
    windows = [heard[i : i + size] for i in range(len(heard) - size + 1)]
    return all(max(window) - min(window) >= limit["semitones"] for window in windows)


def contains(steps: list[int], wanted: list[int]) -> bool:
    """Whether a sequence occurs in a row."""
    return any(steps[i : i + len(wanted)] == wanted for i in range(len(steps) - len(wanted) + 1))


def playable(_: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "there is one position (lowest fret; any if none is named) in which every note can be
    fretted on the named strings within `span` frets (default 5)"."""
    strings, span = limit.get("strings", sorted(GUITAR)), limit.get("span", SPAN)
    positions = [limit["fret"]] if "fret" in limit else range(LOWEST_POSITION, HIGHEST_FRET + 1)
    return any(
        all(
            any(
                position <= pitch - GUITAR[string] < min(position + span, HIGHEST_FRET + 1)
                for string in strings
            )
            for pitch in pitches(line)
        )
        for position in positions
    )


def largest_leap(_: Progression, line: Line, limit: Limit) -> bool:
    return all(abs(step) <= limit["semitones"] for step in intervals(line))


def ambitus(_: Progression, line: Line, limit: Limit) -> bool:
    return bool(max(pitches(line)) - min(pitches(line)) <= limit["semitones"])


def avoid_degrees(progression: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "none of these degrees over that chord (all chords if none is named)"."""
    notes = over(progression, line, limit.get("chord"))
    return not any(chord.is_degree(pitch, d) for chord, pitch in notes for d in limit["degrees"])


def require_degrees(progression: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "each of these degrees is heard at least once over that chord"."""
    notes = over(progression, line, limit.get("chord"))
    return all(any(chord.is_degree(pitch, d) for chord, pitch in notes) for d in limit["degrees"])


def no_return(_: Progression, line: Line, limit: Limit) -> bool:
    """The rules say: "no pitch occurs twice within this many successive notes"."""
    size, heard = limit["notes"], pitches(line)
    return all(pitch not in heard[max(0, i - size + 1) : i] for i, pitch in enumerate(heard))


def last_degree(progression: Progression, line: Line, limit: Limit) -> bool:
    return any(progression.chords[-1].is_degree(line[-1][2], d) for d in limit["degrees"])


def single_peak(_: Progression, line: Line, __: Limit) -> bool:
    return pitches(line).count(max(pitches(line))) == 1


# Every limit that reads pitches and slots alone.
LIMITS: dict[str, Callable[[Progression, Line, Limit], bool]] = {
    "largest-leap": largest_leap,
    "ambitus": ambitus,
    "direction-changes": lambda _, line, limit: within(turns(line), limit),
    "outside-notes": lambda progression, line, limit: within(outside(progression, line), limit),
    "strong-beats": strong_beats,
    "avoid-degrees": avoid_degrees,
    "require-degrees": require_degrees,
    "single-peak": single_peak,
    "no-return": no_return,
    "forbid-intervals": lambda _, line, limit: not contains(intervals(line), limit["intervals"]),
    "require-intervals": lambda _, line, limit: contains(intervals(line), limit["intervals"]),
    "last-degree": last_degree,
    "playable": playable,
    "landing": landing,
    "rhythm": lambda progression, line, limit: within(
        rhythm_heard(progression, line, limit["pattern"]), limit
    ),
    "notes": lambda _, line, limit: within(len(line), limit),
    "rests": lambda _, line, limit: within(rests(line), limit),
    "standing": standing,
}


def holds(rules: Rules, line: Line) -> bool:
    """Whether every limit that reads pitches and slots alone holds."""
    asked = [limit for limit in rules.limits if limit["kind"] != "must-target"]
    return all(LIMITS[limit["kind"]](rules.progression, line, limit) for limit in asked)


def meets_targets(rules: Rules, line: Line, roles: tuple[str, ...]) -> bool:
    """The rules say of must-target: "some approach figure lands on this degree over that chord, on that beat
    if one is named"."""
    targets = [event for event, role in zip(line, roles, strict=True) if role == "target"]
    wanted = [limit for limit in rules.limits if limit["kind"] == "must-target"]
    return all(any(is_target(rules.progression, event, limit) for event in targets) for limit in wanted)


def is_target(progression: Progression, event: Event, limit: Limit) -> bool:
    chord = chord_of(progression, event)
    beat = limit.get("beat")
    on_beat = beat is None or event[0] % progression.bar == progression.tick_of_beat(str(beat))
    on_chord = limit.get("chord", chord.symbol) == chord.symbol
    return chord.is_degree(event[2], limit["degree"]) and on_chord and on_beat
