"""What a score shows: one immutable value that the writer, the engraver and the sheets share."""

from __future__ import annotations

from dataclasses import dataclass, field

from everyline.corpora.errors import InputError, did_you_mean
from everyline.paper.fingering import Hand
from everyline.sound.swing import BY_TEMPO, Swing, check_tempo, parse_swing

STAVES = ("auto", "staff", "tab", "both")
"""``auto``: staff and tablature for a fretted instrument, a staff alone for any other."""

FRETBOARDS = ("right", "left")
"""The hand that plucks: for ``left`` the neck is mirrored."""

CONCERT, THIRD = "concert", "third"
SECOND_PARTS = (CONCERT, THIRD)
"""What a second part may be: the line at concert pitch, or another of the same rules a third below."""

BEAMS = ("half-bar", "beat")
"""``half-bar``: plain eighths of 4/4 in fours, everything else by the beat; ``beat``: always by the beat."""


@dataclass(frozen=True, slots=True)
class ScoreOptions:
    """What is written besides the notes.

    ``tempo`` is in beats of the meter a minute, None for no mark; ``swing`` is by-tempo (which needs a
    tempo), straight, or the ratio of long to short, None for no mark. ``roles`` and ``degrees`` are labels
    below the notes, ``fingers`` left-hand fingers and positions where there is tablature, ``numbers`` the
    line's number above it. ``concert`` leaves a transposing instrument at
    sounding pitch. ``courtesy`` repeats accidentals that a reader may doubt, in brackets. ``whole_form``
    shows every bar of the changes, else the bars up to the end of the line. ``fretboard`` (right or left, the
    hand that plucks) draws the fretboard below the line, None leaves it out. Raises InputError for a value
    that is not allowed.
    """

    staves: str = "auto"
    concert: bool = False
    roles: bool = True
    degrees: bool = True
    fingers: bool = True
    numbers: bool = True
    tempo: float | None = None
    swing: Swing | None = None
    beams: str = "half-bar"
    courtesy: bool = True
    whole_form: bool = True
    title: str = ""
    fretboard: str | None = None
    hand: Hand = field(default_factory=Hand)

    def __post_init__(self) -> None:
        """Check every value."""
        if not self.title.isprintable():
            raise InputError(f"title {self.title!r} has characters that cannot be printed; leave them out.")
        _one_of("staves", self.staves, STAVES)
        _one_of("beams", self.beams, BEAMS)
        if self.fretboard is not None:
            _one_of("fretboard", self.fretboard, FRETBOARDS)
        if self.tempo is not None:
            check_tempo(self.tempo)
        if self.swing is not None and parse_swing(self.swing) == BY_TEMPO and self.tempo is None:
            raise InputError(
                "swing by tempo needs a tempo: give one, or a ratio of long to short such as 2:1."
            )


def _one_of(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise InputError(f'{name} "{value}" is none of: {", ".join(allowed)}.{did_you_mean(value, allowed)}')
