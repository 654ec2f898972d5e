"""Two players in one score: whose staves stand under each other, and what the players are called."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from typing import TYPE_CHECKING

from everyline.corpora.errors import InputError
from everyline.paper.bars import Bar
from everyline.paper.fingering import Fingering
from everyline.paper.instrument_part import Part
from everyline.paper.layout import Layout, lay_out, score_part
from everyline.paper.note_values import WHOLE, WrittenNote
from everyline.paper.score_options import CONCERT, ScoreOptions
from everyline.rules.annotate import AnnotatedLine

if TYPE_CHECKING:
    from everyline.spaces.space import Space

CONCERT_PITCH = "Concert pitch"
NONE_BELOW = "These rules have no second part that stays below this line."


@dataclass(frozen=True, slots=True)
class SecondStaff:
    """A second part under a line, bar by bar with it: its own line, or with ``concert`` the same line at
    concert pitch."""

    line: AnnotatedLine
    concert: bool = False


def second_staff(wish: str, line: AnnotatedLine, space: Space) -> tuple[SecondStaff | None, str]:
    """The second part to a line of a space that is wished for (one of ``SECOND_PARTS``), and what is to be
    said of it; None where the rules have none. Raises InputError as ``at_concert_pitch``."""
    from everyline.spaces.second_part import second_part

    if wish == CONCERT:
        return at_concert_pitch(line), ""
    found = second_part(space, line)
    if found is None:
        return None, NONE_BELOW
    said = f"The second part is a third below the first on {found.thirds} of {len(found.line.notes)} notes."
    return SecondStaff(found.line), said


def at_concert_pitch(line: AnnotatedLine) -> SecondStaff:
    """The line at concert pitch. Raises InputError where its instrument is written so itself."""
    instrument = line.rules.instrument
    if instrument is None or instrument.transposition % 12 == 0:
        player = "no instrument is named" if instrument is None else f"the {instrument.title} is none"
        raise InputError(
            f"a second part at concert pitch is for transposing instruments, and {player}; choose one such "
            "as the alto saxophone, or no such part."
        )
    return SecondStaff(line, concert=True)


@dataclass(frozen=True)
class Voice:
    """One player of a score: the part, what it shows, its lines one after another, and the player's name.

    A score of one player has no name. Of two, the ``lower`` one stands below, and ``chords`` says whether it
    has symbols of its own: it needs them where it is written at another pitch than the first.
    """

    part: Part
    options: ScoreOptions
    layouts: tuple[Layout, ...]
    name: str = ""
    lower: bool = False
    chords: bool = True


def voices(
    lines: Sequence[AnnotatedLine],
    options: ScoreOptions,
    *,
    seconds: Sequence[SecondStaff | None] = (),
    fingerings: Sequence[Fingering] | None = None,
    blanks: Sequence[frozenset[int]] | None = None,
) -> tuple[Voice, ...]:
    """The players of some lines: one, or two where any line has a second part; the second one rests in lines
    without.

    ``fingerings`` replaces the best ones of the first player, one for each line; ``blanks`` are for each line
    the notes (by index) that are left out of both parts. Raises InputError as ``score_part`` and ``finger``
    do, and where some second parts are at concert pitch and others are not.
    """
    part = score_part(lines, options)
    hidden = list(blanks) if blanks is not None else [frozenset[int]()] * len(lines)
    fingered = fingerings if fingerings is not None else repeat(None)
    first = tuple(
        lay_out(line, part, options, fingering, blank)
        for line, fingering, blank in zip(lines, fingered, hidden, strict=False)
    )
    if not any(seconds):
        return (Voice(part, options, first),)
    concert = {each.concert for each in seconds if each is not None}
    if len(concert) > 1:
        raise InputError("second parts at concert pitch and others cannot stand in one score; write two.")
    below = _lower(lines, options, seconds, hidden, concert.pop())
    names = player_names(part, below.chords)
    return Voice(part, options, first, names[0]), replace(below, name=names[1])


def _lower(
    lines: Sequence[AnnotatedLine],
    options: ScoreOptions,
    seconds: Sequence[SecondStaff | None],
    blanks: Sequence[frozenset[int]],
    concert: bool,
) -> Voice:
    # At concert pitch it is the same line, whose marks stand under the first part.
    own = replace(options, concert=True, roles=False, degrees=False) if concert else options
    part = score_part([second.line for second in seconds if second is not None], own)
    bare = replace(own, staves="staff")
    layouts = tuple(
        _resting(lay_out(line, part, bare))
        if second is None
        else lay_out(second.line, part, own, None, hidden)
        for line, second, hidden in zip(lines, seconds, blanks, strict=True)
    )
    return Voice(part, own, layouts, lower=True, chords=concert)


def _resting(layout: Layout) -> Layout:
    """The same bars with nothing in them."""
    bars = tuple(_empty(bar) for bar in layout.bars)
    return replace(layout, bars=bars, accidentals=[[None] for _ in bars], fingering=None)


def _empty(bar: Bar) -> Bar:
    rest = WrittenNote(0, bar.length, WHOLE, 0, None, whole_bar=True)
    return replace(bar, written=(rest,), beams=((),))


def player_names(part: Part, concert: bool) -> tuple[str, str]:
    """What two players are called: by the instrument of both, or the second by its pitch, where that is
    concert pitch."""
    if concert:
        return part.name, CONCERT_PITCH
    plain = "Part" if part.name == "Line" else part.name.partition(" in ")[0].partition(",")[0]
    return f"{plain} 1", f"{plain} 2"
