"""Stock endings set on a progression: where they start, which pitches they take, why one does not fit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from everyline.corpora import Ending
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.degrees import parse_degree
from everyline.rules.line import TICKS_PER_BEAT, Event, Events
from everyline.rules.progression import Progression
from everyline.rules.scales import default_scale

if TYPE_CHECKING:
    from everyline.rules.ruleset import Cell


@dataclass(frozen=True, slots=True)
class EndingNote:
    """One note of an ending: ticks from tick 0 of the progression, pitch class, octave marks, degree as
    written."""

    onset: int
    length: int
    pitch_class: int
    octave: int
    degree: str

    def pitch_after(self, previous: int) -> int:
        """The nearest pitch of the degree (a tritone goes up), moved by the octave marks."""
        up = (self.pitch_class - previous) % 12
        return previous + (up if up <= 6 else up - 12) + 12 * self.octave


@dataclass(frozen=True, slots=True)
class PlacedEnding:
    """A stock ending on given changes. ``start`` is the tick of its first note, always the first tick of a
    slot."""

    name: str
    start: int
    notes: tuple[EndingNote, ...]

    def event(self, place: int, previous: int) -> Event:
        """The event of the note at ``place``, counted from 0, when the note before it is ``previous``."""
        note = self.notes[place]
        return Event(note.onset, note.pitch_after(previous), note.length)

    def after(self, previous: int) -> Events:
        """The ending's events when the note before it is ``previous``."""
        events: list[Event] = []
        for place in range(len(self.notes)):
            events.append(self.event(place, events[-1].pitch if events else previous))
        return tuple(events)


class EndingDoesNotFit(InputError):
    """An ending can never be used on these changes; the message says why."""


def place(
    ending: Ending,
    progression: Progression,
    earliest: int = 0,
    cells: Sequence[Cell] = (),
    scale: Sequence[int] | None = None,
) -> PlacedEnding:
    """Set an ending on a progression, or raise EndingDoesNotFit with the reason.

    ``earliest`` is the first slot at which a line may start: a pickup (negative slots) belongs to the first
    chord, so over two chords an ending may reach back into it. ``cells`` are the rhythm of the body, none
    for a note on every slot. ``scale`` is the last chord's, in semitones above its root, the usual one where
    it is left out.
    """
    if progression.single:
        raise EndingDoesNotFit(
            f'ending "{ending.name}" needs two chords and these changes have one; '
            'only "plain" ends a one-chord vamp'
        )
    before = progression.chords[-2]
    if before.quality not in ending.over:
        over = ", ".join(each or "a major triad" for each in ending.over)
        raise EndingDoesNotFit(
            f'ending "{ending.name}" is written over {over} and the chord before the last is {before.symbol}'
        )
    notes = _notes(ending, progression)
    _check_start(ending, notes[0].onset, progression, earliest, cells)
    _check_last(ending, notes[-1].pitch_class, progression, scale)
    return PlacedEnding(ending.name, notes[0].onset, notes)


def colour_tones(chord: Chord, scale: Sequence[int] | None = None) -> frozenset[int]:
    """The colour tones of a chord, in semitones above its root: the tones of its scale that lie outside it,
    save those a semitone above a chord tone, which rub against it (avoid notes, common practice).
    """
    tones = set(chord.tones)
    scale = default_scale(chord) if scale is None else scale
    return frozenset(tone for tone in scale if tone not in tones and (tone - 1) % 12 not in tones)


def _check_last(ending: Ending, final: int, progression: Progression, scale: Sequence[int] | None) -> None:
    """Refuse an ending whose last note (a pitch class) is not one on which it may rest."""
    before, last = progression.chords[-2], progression.chords[-1]
    tone = (final - last.root_class) % 12
    colours = colour_tones(last, scale)
    if tone in last.tones or (ending.colour and tone in colours):
        return
    event = ending.events[-1]
    ends = f'ending "{ending.name}" ends on {event.degree} of {(last if event.after else before).symbol}, '
    tones = ", ".join(last.degrees)
    if not ending.colour:
        hint = "; as a colour tone it needs colour = true" if tone in colours else ""
        raise EndingDoesNotFit(f"{ends}which is not one of the chord tones of {last.symbol} ({tones}){hint}")
    allowed = ", ".join(last.degree_of(last.root_class + colour) for colour in sorted(colours))
    raise EndingDoesNotFit(
        f"{ends}which is neither a chord tone of {last.symbol} ({tones}) nor a colour tone ({allowed})"
    )


def _notes(ending: Ending, progression: Progression) -> tuple[EndingNote, ...]:
    """The ending's notes on the changes. Octave marks on the first degree mean nothing: no note stands
    before it."""
    before, last = progression.chords[-2], progression.chords[-1]
    resolution = progression.resolution * progression.slot_ticks
    notes: list[EndingNote] = []
    for event in ending.events:
        offset, length = (progression.meter.ticks(value) for value in (event.offset, event.length))
        if offset is None or length is None:
            raise EndingDoesNotFit(
                f'ending "{ending.name}" has a note value that {progression.meter.cannot_show}'
            )
        root = (last if event.after else before).root_class
        notes.append(
            EndingNote(
                resolution + offset,
                length,
                (root + parse_degree(event.degree)) % 12,
                event.octave if notes else 0,
                event.degree,
            )
        )
    return tuple(notes)


def _check_start(
    ending: Ending, start: int, progression: Progression, earliest: int, cells: Sequence[Cell]
) -> None:
    """Refuse an ending that begins between two slots, or before its chord. Cells are not asked: where none of
    them leads to an ending, there is no line with it."""
    ticks = progression.slot_ticks
    if not cells and start % ticks:
        raise EndingDoesNotFit(
            f'ending "{ending.name}" starts between two slots: its rhythm needs another subdivision than '
            f"{progression.subdivision} (2 eighths, 3 triplets, 4 sixteenths)"
        )
    first = progression.starts[-2] or min(0, earliest)
    if start // ticks < first:
        needed = (progression.resolution * ticks - start) / TICKS_PER_BEAT
        there = (progression.resolution - first) * ticks
        raise EndingDoesNotFit(
            f'ending "{ending.name}" is {plural(needed, "beat")} long before it resolves and '
            f"{progression.chords[-2].symbol} lasts {there / TICKS_PER_BEAT:g}"
        )


MINOR_THIRD, MAJOR_THIRD = 3, 4
LEADS = {"m7b5": 5, "dim7": 1, "m6": 7, "maj7": 7}
"""How many semitones the root rises from a chord of this quality to the last chord, in common practice."""
USUAL_LEAD = 5
"""The same for any other chord: up a fourth, as from a dominant."""

MAJOR_CHORDS, MINOR_CHORDS = ("Cmaj7", "C6", "C7"), ("Cm7", "Cm6", "Cm(maj7)")
"""The last chords that are usual, by their third."""

Sound = tuple[int, int, int]
"""Of a note: onset from the resolution, length (ticks), semitones above the last chord's root."""


def suits_third(placed: PlacedEnding, progression: Progression) -> bool:
    """Whether an ending goes with the third of the last chord; a chord without a third suits any."""
    last = progression.chords[-1]
    resolution = progression.resolution * progression.slot_ticks
    sounds = [
        (note.onset - resolution, note.length, (note.pitch_class - last.root_class) % 12)
        for note in placed.notes
    ]
    offset = resolution % TICKS_PER_BEAT
    if MAJOR_THIRD in last.tones:
        return MINOR_THIRD in last.tones or _suits_major(sounds, offset)
    return MINOR_THIRD not in last.tones or _suits_minor(sounds)


def thirds(ending: Ending) -> str:
    """With which last chords an ending goes as written in 4/4: ``major``, ``minor``, ``both``, ``neither``.

    The root of the last chord is taken to be where the chord before it usually leads.
    """
    lead = LEADS.get(ending.over[0], USUAL_LEAD)
    sounds = [
        (event.offset, event.length, (parse_degree(event.degree) - (0 if event.after else lead)) % 12)
        for event in ending.events
    ]
    major = _suits_major(sounds, 0) and _rests_on(sounds[-1][2], MAJOR_CHORDS, ending.colour)
    minor = _suits_minor(sounds) and _rests_on(sounds[-1][2], MINOR_CHORDS, ending.colour)
    if major and minor:
        return "both"
    return "major" if major else "minor" if minor else "neither"


def _rests_on(tone: int, chords: Iterable[str], colour: bool) -> bool:
    """Whether an ending may end on a tone (semitones above the root) of one of these chords."""
    return any(
        tone in chord.tones or (colour and tone in colour_tones(chord)) for chord in map(parse_chord, chords)
    )


def _suits_major(sounds: Iterable[Sound], offset: int) -> bool:
    """Whether no minor third sounds on a beat from the resolution on, which is ``offset`` ticks after one."""
    return not any(
        tone == MINOR_THIRD and -(-(max(onset, 0) + offset) // TICKS_PER_BEAT) * TICKS_PER_BEAT < end + offset
        for onset, length, tone in sounds
        for end in (onset + length,)
    )


def _suits_minor(sounds: Iterable[Sound]) -> bool:
    """Whether no major third is heard at all."""
    return all(tone != MAJOR_THIRD for _, _, tone in sounds)
