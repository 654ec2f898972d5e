"""An ending or a figure learned from notes: a fragment that a teacher wrote or transcribed, in degrees.

A fragment of notes alone leaves things open: where the bar line falls, so which notes stand over the chord
before the last and which over the last; whether a neighbour is a scale step or a number of semitones. Each
choice is a *reading*; the likeliest comes first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product

from everyline.corpora import PLAIN, Ending, Figure, make_ending
from everyline.corpora.counted import plural
from everyline.corpora.endings import DEFAULT_OVER, HOLD
from everyline.corpora.errors import InputError
from everyline.corpora.figures import MOST_STEPS, STEPS
from everyline.corpora.note_lengths import format_value
from everyline.corpora.toml_text import toml_row
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.degrees import DEGREES, degree_number
from everyline.rules.endings import PlacedEnding, place
from everyline.rules.ladder import figure_pitches
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.meter import Meter
from everyline.rules.progression import Progression
from everyline.rules.scales import default_scale

DOMINANTS = (*DEFAULT_OVER, "13", "7#9", "7#11", "7b13")
"""Qualities that an ending learned over a dominant is tried on."""

MOST_READINGS = 64
"""Ways in which one figure is written, at most: four notes give 16."""


@dataclass(frozen=True, slots=True)
class EndingReading:
    """A fragment as an ending: what a file would say, where it stands on the changes, and its facts.

    ``events`` are the fragment's own notes moved to the changes, ``split`` how many of them stand before
    the resolution, ``fits`` the qualities of the chord before the last over which it can be used.
    """

    ending: Ending
    placed: PlacedEnding
    events: Events
    split: int
    fits: tuple[str, ...]
    progression: Progression

    @property
    def starts(self) -> str:
        """Starting degree, chord and place: ``b9 of G7 on bar 2, beat 3``."""
        chord = self.progression.chords[-2].symbol
        slot = self.events[0].onset // self.progression.slot_ticks
        return f"{self.ending.start_degree} of {chord} on {self.progression.place(slot)}"

    @property
    def resolves(self) -> str:
        """Last degree, chord and place: ``5 of Cmaj7 on bar 3, beat 1``; that of a note held over the bar
        line is where it begins to sound over the last chord."""
        progression, last = self.progression, self.events[-1]
        slot, rest = divmod(last.onset, progression.slot_ticks)
        where = ("just after " if rest else "") + progression.place(max(slot, progression.resolution))
        return f"{progression.chords[-1].degree_of(last.pitch)} of {progression.chords[-1].symbol} on {where}"

    @property
    def beats(self) -> float:
        """Length in beats, from the first note to the end of the last."""
        return (self.events[-1].end - self.events[0].onset) / TICKS_PER_BEAT

    @property
    def compass(self) -> tuple[int, int]:
        """Lowest and highest pitch of the fragment."""
        pitches = [event.pitch for event in self.events]
        return min(pitches), max(pitches)


@dataclass(frozen=True, slots=True)
class FigureReading:
    """A fragment as an approach figure that lands on its last note: ``chord`` and ``degree`` are the
    target's."""

    figure: Figure
    chord: Chord
    degree: str
    pitches: tuple[int, ...]


def learn_endings(
    fragment: Events,
    progression: Progression,
    name: str,
    split: int | None = None,
    placed: bool = False,
) -> tuple[EndingReading, ...]:
    """Every way to read a fragment as an ending on these changes, the likeliest first.

    ``split`` says how many notes stand before the bar line, where that is known. Onsets count from any
    moment. The fragment may be typed from any place; it is moved so that the bar line falls on the
    resolution. ``placed`` says that its place within the bar is known: a note may then be held over the bar
    line. Raises InputError, with the reasons, where there is no reading.
    """
    if progression.single:
        raise InputError(
            "an ending needs two chords: give the changes that it resolves over, such as G7 | Cmaj7."
        )
    if len(fragment) < 2:
        raise InputError("an ending has two notes at least: one before the bar line and one from it on.")
    if name == PLAIN or not name.strip():
        raise InputError(f'"{name}" cannot name an ending; give another with --name.')
    found: list[EndingReading] = []
    reasons: list[str] = []
    lines = list(_bar_lines(fragment, split))
    if placed:
        lines += _held_over(fragment, split, progression)
    for at, line in lines:
        try:
            found.append(_ending(fragment, progression, name, at, line))
        except InputError as error:
            reasons.append(str(error))
    if not found:
        detail = " ".join(dict.fromkeys(reasons))
        raise InputError(f"these notes cannot be an ending over {progression.text}: {detail}")
    return tuple(sorted(found, key=_unlikely))


def _bar_lines(fragment: Events, split: int | None) -> Iterator[tuple[int, int]]:
    """(notes before the bar line, its tick in the fragment's own time): at each note's onset, and at the
    end of each note that a rest follows."""
    for at in range(1, len(fragment)):
        if split is not None and at != split:
            continue
        yield at, fragment[at].onset
        if fragment[at - 1].end < fragment[at].onset:
            yield at, fragment[at - 1].end


def _held_over(fragment: Events, split: int | None, progression: Progression) -> Iterator[tuple[int, int]]:
    """(notes before the bar line, its tick) for each note that sounds across such a line, itself counted."""
    bar = progression.slots_per_bar * progression.slot_ticks
    resolution = progression.resolution * progression.slot_ticks
    for at, event in enumerate(fragment, 1):
        line = event.onset + (resolution - event.onset) % bar
        if event.onset < line < event.end and split in (None, at):
            yield at, line


def _unlikely(reading: EndingReading) -> tuple[bool, int, bool, int, int]:
    """What makes a reading less likely: no chord tone on the resolution, notes foreign to their chord and
    scale, a longer note than the one on the resolution, many notes after it."""
    progression = reading.progression
    before, last = progression.chords[-2], progression.chords[-1]
    foreign = sum(
        (event.pitch - chord.root_class) % 12 not in {*chord.tones, *default_scale(chord)}
        for index, event in enumerate(reading.events)
        for chord in ((before if index < reading.split else last),)
    )
    resolution = progression.resolution * progression.slot_ticks
    lands = reading.events[reading.split - reading.ending.held]
    on_tone = lands.onset <= resolution and lands.pitch % 12 in last.tone_classes
    after = len(reading.events) - reading.split
    longest = max(event.length for event in reading.events)
    return not on_tone, foreign, lands.length < longest, after, reading.split


def _ending(fragment: Events, progression: Progression, name: str, at: int, line: int) -> EndingReading:
    resolution = progression.resolution * progression.slot_ticks
    events = tuple(event._replace(onset=event.onset - line + resolution) for event in fragment)
    before, last = progression.chords[-2], progression.chords[-1]
    degrees = []
    previous = events[0].pitch
    for index, event in enumerate(events):
        chord = before if index < at else last
        up = (event.pitch - previous) % 12
        nearest = previous + (up if up <= 6 else up - 12)
        octaves = (event.pitch - nearest) // 12
        degrees.append(chord.degree_of(event.pitch) + ("'" * octaves if octaves > 0 else "," * -octaves))
        previous = event.pitch
    meter = progression.meter
    sides = [events[:at], events[at:]]
    over = events[at - 1]
    held = over.end > resolution
    if held:
        cut = over._replace(length=resolution - over.onset)
        sides = [
            (*events[: at - 1], cut),
            (over._replace(onset=resolution, length=over.end - resolution), *events[at:]),
        ]
    notes = f"{' '.join(degrees[:at])} | {' '.join([HOLD] * held + degrees[at:])}"
    rhythm = f"{_rhythm(sides[0], resolution, meter)} | {_rhythm(sides[1], None, meter, resolution)}"
    even = " ".join(["8"] * at) + " | " + " ".join(["8"] * (len(events) - at))
    fits = _fits(tuple(degrees[:at]), before)
    colour = events[-1].pitch % 12 not in last.tone_classes
    ending = make_ending(name, notes, None if rhythm == even else rhythm, fits, colour=colour)
    return EndingReading(ending, place(ending, progression), events, at, fits, progression)


def _rhythm(events: Events, until: int | None, meter: Meter, start: int | None = None) -> str:
    """The rhythm of notes that follow each other, rests written out; ``until`` and ``start`` are bar
    lines."""
    words: list[str] = []
    now = events[0].onset if start is None else start
    for event in events:
        if event.onset < now:
            raise InputError("two of the notes sound together; an ending is one note at a time.")
        words += _values(event.onset - now, meter, rest=True)
        words += _values(event.length, meter, rest=False)
        now = event.end
    if until is not None:
        words += _values(until - now, meter, rest=True)
    return " ".join(words)


def _values(ticks: int, meter: Meter, rest: bool) -> list[str]:
    """Note values for a length in ticks of 480 a beat; rests may take several."""
    if not ticks:
        return []
    written = meter.value(ticks)
    name = None if written is None else format_value(written, rest)
    if name is not None:
        return [name]
    if rest and written is not None:
        for size in (1920, 960, 480, 240, 160, 120, 80, 60, 40):
            first = format_value(size, rest)
            if size < written and first is not None:
                return [first, *_values(ticks - (meter.ticks(size) or 0), meter, rest)]
    what = "rest" if rest else "note"
    raise InputError(f"a {what} of {plural(ticks / TICKS_PER_BEAT, 'beat')} is not a single note value.")


def _fits(degrees: Sequence[str], before: Chord) -> tuple[str, ...]:
    """Qualities over which the degrees contradict no chord tone; the chord's own always among them.

    A degree contradicts a chord whose tone of that number is another: a 5 over 7#5, a b7 over maj7.
    """
    own = before.quality
    dominant = {4, 10} <= {tone % 12 for tone in before.tones} or own in DOMINANTS
    tried = DOMINANTS if dominant else (own,)
    tones = {name.rstrip("',") for name in degrees}
    found = [quality for quality in tried if quality == own or not _contradicts(tones, quality)]
    return tuple(dict.fromkeys((own, *found)))


def _contradicts(degrees: set[str], quality: str) -> bool:
    chord = parse_chord(f"C{quality}")
    sounding = {DEGREES[name] for name in chord.degrees}
    numbers = {degree_number(name) for name in chord.degrees}
    return any(
        degree_number(name) in numbers and DEGREES[name] not in sounding for name in degrees if name != "#9"
    )


# -- figures -------------------------------------------------------------------------------------------------


def learn_figures(
    fragment: Events, chord: Chord, scale: tuple[int, ...], name: str
) -> tuple[FigureReading, ...]:
    """Every way to write a fragment as an approach figure to its last note, in a chord and its scale.

    Diatonic steps come first, because they are right in every chord; each step that is also a number of
    semitones gives a reading more. Raises InputError where the notes are no figure.
    """
    pitches = tuple(event.pitch for event in fragment)
    if not 2 <= len(pitches) <= MOST_STEPS + 1:
        raise InputError(f"a figure has 1 to {MOST_STEPS} notes and a target after them.")
    *notes, target = pitches
    if target % 12 not in chord.tone_classes:
        tones = " ".join(chord.degrees)
        raise InputError(
            f"the last note is the target, and it has to be a chord tone of {chord.symbol} ({tones}); "
            f"this one is its {chord.degree_of(target)}."
        )
    ways: list[tuple[str, ...]] = []
    for place_, pitch in enumerate(notes, 1):
        steps = tuple(s for s in STEPS if figure_pitches((s,), target, chord.root_class, scale) == (pitch,))
        if not steps:
            raise InputError(
                f"note {place_} is {plural(abs(pitch - target), 'semitone')} from the target; a figure's "
                "notes are the scale neighbours or at most 2 semitones away."
            )
        ways.append(steps)
    degree = chord.degree_of(target)
    return tuple(
        FigureReading(Figure(name, steps), chord, degree, pitches)
        for steps in islice(product(*ways), MOST_READINGS)
    )


# -- as a corpus writes them ---------------------------------------------------------------------------------


def ending_toml(ending: Ending) -> str:
    """The ending as an entry of the corpora's endings files."""
    rhythm = {} if ending.rhythm is None else {"rhythm": ending.rhythm}
    colour = {"colour": True} if ending.colour else {}
    named = {"name": ending.name, "notes": ending.notes, **rhythm, "over": ending.over, **colour}
    return _entry("ending", named, ending.remark)


def figure_toml(figure: Figure) -> str:
    """The figure as an entry of the corpora's figures file."""
    return _entry("figure", {"name": figure.name, "steps": figure.text}, figure.remark)


def _entry(heading: str, values: Mapping[str, object], remark: str) -> str:
    if remark:
        values = {**values, "remark": remark}
    return "\n".join([f"[[{heading}]]", *(toml_row(*item) for item in values.items())]) + "\n"
