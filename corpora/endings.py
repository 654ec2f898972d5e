"""Stock endings: notes in degrees, rhythm in note values, and the facts that follow from the two.

In the notes text a degree stands before ``|`` over the chord before the last, and after it over the last
chord. Each note is the nearest pitch of that degree to the note before it (a tritone goes up); every ``'``
behind a degree puts the note an octave higher than that, every ``,`` an octave lower. The note or rest after
the first ``|`` falls on the resolution, the first moment of the last chord. A ``-`` there holds the note
before it over the bar line instead, for as long as its note value lasts. Times are in ticks, 480 to a
quarter note.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.note_lengths import (
    BAR_LINE,
    TICKS_PER_QUARTER,
    TICKS_PER_WHOLE,
    Beat,
    Rhythm,
    counted_aloud,
    parse_rhythm,
)

DEGREE_NAMES = (
    *("1", "b2", "b9", "2", "9", "#2", "#9", "b3", "3", "4", "11", "#4", "#11", "b5", "5"),
    *("#5", "b6", "b13", "6", "13", "bb7", "b7", "7"),
)
"""The degree names that a file may use. What they sound like is not decided here."""

DEFAULT_OVER = ("7", "9", "7b9", "7#5", "7b5", "7alt", "7sus4")
"""Qualities of the chord before the last for an ending that names none: the dominants."""

PLAIN = "plain"
"""The name of the ending without a stock figure; no stock ending may take it."""

HOLD = "-"
"""Written after the first ``|``: the note before it sounds on."""

MOST_NOTES = 256
DEFAULT_VALUE = Beat(TICKS_PER_QUARTER // 2)
_NOTE = re.compile(r"([b#]*\d+)([',]*)")
_PLAIN_ASCII = str.maketrans("♭♯\N{RIGHT SINGLE QUOTATION MARK}", "b#'")


@dataclass(frozen=True, slots=True)
class EndingNote:
    """One written note: a degree (or HOLD) and the octaves that its marks add (``'`` +1, ``,`` -1)."""

    degree: str
    octave: int = 0

    def __str__(self) -> str:
        return self.degree + ("'" * self.octave if self.octave > 0 else "," * -self.octave)


@dataclass(frozen=True, slots=True)
class EndingEvent:
    """One sounding note of an ending.

    ``offset`` and ``length`` are ticks; the offset counts from the resolution, negative before it.
    ``octave`` is the shift, in octaves, from the pitch nearest to the note before. ``after`` says that the
    degree is one of the last chord, not of the chord before the last.
    """

    offset: int
    length: int
    degree: str
    octave: int
    after: bool


@dataclass(frozen=True, slots=True)
class Ending:
    """A stock ending as written, with its parsed form. Make one with make_ending, which checks it.

    ``colour`` says that it may rest on a colour tone of the last chord.
    """

    name: str
    notes: str
    rhythm: str | None
    over: tuple[str, ...]
    remark: str
    before: tuple[EndingNote, ...]
    after: tuple[EndingNote, ...]
    beats: Rhythm
    events: tuple[EndingEvent, ...]
    colour: bool = False

    @property
    def start_offset(self) -> int:
        """Ticks from the first note to the resolution, a positive number."""
        return self.beats.ticks_before

    @property
    def ticks_before(self) -> int:
        """The same as start_offset: how much of the chord before the last the ending fills, in ticks."""
        return self.beats.ticks_before

    @property
    def start_degree(self) -> str:
        """Degree of the first note, over the chord before the last."""
        return self.before[0].degree

    @property
    def start_beat(self) -> str:
        """Where the first note falls in 4/4 when the last chord begins a bar: ``1``, ``3&``, ``4let``."""
        beat, rest = divmod(-self.start_offset % TICKS_PER_WHOLE, TICKS_PER_QUARTER)
        return f"{beat + 1}{counted_aloud(rest)}"

    @property
    def start_bar(self) -> int:
        """How many 4/4 bars before the last chord's bar the first note is: 1 for the bar before."""
        return -(-self.start_offset // TICKS_PER_WHOLE)

    @property
    def length(self) -> int:
        """Ticks from the first note to the end of the last one."""
        last = self.events[-1]
        return last.offset + last.length + self.start_offset

    @property
    def resolves_to(self) -> str:
        """Degree of the last note: over the last chord, or over the one before where the note is held."""
        return self.events[-1].degree

    @property
    def held(self) -> bool:
        """Whether a note is held over the bar line."""
        return self.after[0].degree == HOLD

    @property
    def lands_on(self) -> str | None:
        """Degree that is struck on the resolution itself; None where a rest or a held note is there."""
        return None if self.beats.after[0].rest or self.held else self.after[0].degree

    @property
    def rhythm_text(self) -> str:
        """The rhythm as written, or the eighths that stand for a rhythm left out."""
        if self.rhythm is not None:
            return self.rhythm
        return f"{' '.join('8' for _ in self.before)} {BAR_LINE} {' '.join('8' for _ in self.after)}"


def parse_notes(text: str) -> tuple[tuple[EndingNote, ...], tuple[EndingNote, ...]]:
    """Read ``#5 b9' 1 b7 | 5`` as the notes before and after the first ``|`` (later ones are for the eye).

    Raises InputError for an unknown degree, a missing bar line or an empty side.
    """
    before: list[EndingNote] = []
    after: list[EndingNote] = []
    side = before
    for token in text.translate(_PLAIN_ASCII).replace(BAR_LINE, f" {BAR_LINE} ").split():
        if token == BAR_LINE:
            side = after
        elif token == HOLD and (side is before or side):
            raise InputError(f'"{HOLD}" holds a note over the bar line: write it right after the first |.')
        else:
            side.append(EndingNote(HOLD) if token == HOLD else _parse_note(token))
    if side is before:
        raise InputError("there is no | in it: put | where the last chord begins.")
    for notes, place in ((before, "before"), (after, "after")):
        if not notes:
            raise InputError(f"there is no note {place} the |: an ending needs one at least on either side.")
    if len(before) + len(after) > MOST_NOTES:
        raise InputError(f"it has {len(before) + len(after)} notes, and {MOST_NOTES} is the most.")
    return tuple(before), tuple(after)


@lru_cache(maxsize=256)
def _parse_note(token: str) -> EndingNote:
    match = _NOTE.fullmatch(token)
    if match is None or match[1] not in DEGREE_NAMES:
        raise InputError(
            f'"{token}" is not a degree: write one of {" ".join(DEGREE_NAMES)}, with \' (an octave up) '
            f"or , (an octave down) behind it.{did_you_mean(token.rstrip(chr(39) + ','), DEGREE_NAMES)}"
        )
    return EndingNote(match[1], match[2].count("'") - match[2].count(","))


def make_ending(
    name: str,
    notes: str,
    rhythm: str | None = None,
    over: tuple[str, ...] | None = None,
    remark: str = "",
    colour: bool = False,
) -> Ending:
    """Check and build an ending.

    A rhythm left out is all eighths; ``over`` left out is the dominants (DEFAULT_OVER). Raises InputError,
    with the ending's name, where notes or rhythm cannot be read or do not fit each other.
    """
    if not name.strip():
        raise InputError("an ending needs a name.")
    if name == PLAIN:
        raise InputError(f'"{PLAIN}" is the ending without a stock figure, so pick another name.')
    if over is not None and not over:
        raise InputError(f'ending "{name}": over is empty; name a chord quality, or leave the key out.')
    try:
        before, after = parse_notes(notes)
    except InputError as error:
        raise InputError(f'ending "{name}", notes "{notes}": {error}') from None
    if rhythm is None:
        beats = Rhythm((DEFAULT_VALUE,) * len(before), (DEFAULT_VALUE,) * len(after))
    else:
        beats = _parse_own_rhythm(name, rhythm, before, after)
    events = [*_events(before, beats.before, -beats.ticks_before, after=False)]
    events += _events(after, beats.after, 0, after=True)
    if after[0].degree == HOLD:
        held = events.pop(len(before))
        last = events[len(before) - 1]
        events[len(before) - 1] = replace(last, length=last.length + held.length)
    over = DEFAULT_OVER if over is None else over
    return Ending(name, notes, rhythm, over, remark, before, after, beats, tuple(events), colour)


def _parse_own_rhythm(
    name: str, text: str, before: tuple[EndingNote, ...], after: tuple[EndingNote, ...]
) -> Rhythm:
    try:
        beats = parse_rhythm(text)
    except InputError as error:
        raise InputError(f'ending "{name}", {error}') from None
    where = f'ending "{name}", rhythm "{text}"'
    if not beats.bar_line:
        raise InputError(f"{where}: there is no | in it: put | where the last chord begins.")
    for notes, side, place in ((before, beats.before, "before"), (after, beats.after, "after")):
        sounding = sum(not beat.rest for beat in side)
        if sounding != len(notes):
            raise InputError(
                f"{where}: {place} the | it has {plural(sounding, 'note value')} (rests not counted) "
                f"for {plural(len(notes), 'note')}: write one value for each note."
            )
    if beats.before[0].rest:
        raise InputError(f"{where}: it begins with a rest; an ending begins with its first note.")
    if after[0].degree == HOLD and (beats.before[-1].rest or beats.after[0].rest):
        raise InputError(f"{where}: a rest parts the {HOLD} from the note that it holds; leave the rest out.")
    return beats


def _events(
    notes: tuple[EndingNote, ...], beats: tuple[Beat, ...], offset: int, *, after: bool
) -> tuple[EndingEvent, ...]:
    made: list[EndingEvent] = []
    left = iter(notes)
    for beat in beats:
        if not beat.rest:
            note = next(left)
            made.append(EndingEvent(offset, beat.ticks, note.degree, note.octave, after))
        offset += beat.ticks
    return tuple(made)
