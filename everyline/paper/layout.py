"""A line laid out for a part: what is worked out before any of it is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from everyline.corpora.errors import InputError
from everyline.paper.accidentals import Accidental, accidentals
from everyline.paper.bars import Bar, bars_of, meter_of
from everyline.paper.fingering import Fingering, finger
from everyline.paper.instrument_part import Part, Pitch, part_for
from everyline.paper.note_values import WrittenMeter
from everyline.paper.score_options import ScoreOptions
from everyline.paper.transposed import written_pitches
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.ranges import Fretboard
from everyline.rules.spelling import parse_key


@dataclass(frozen=True)
class Layout:
    """One line, ready to be written: its bars, written pitches, accidentals and fingering."""

    line: AnnotatedLine
    bars: tuple[Bar, ...]
    pitches: tuple[Pitch, ...]
    accidentals: list[list[Accidental | None]]
    fingering: Fingering | None
    blanks: frozenset[int]
    steps: int
    fifths: int | None
    minor: bool
    meter: WrittenMeter


def staves_of(line: AnnotatedLine, options: ScoreOptions) -> tuple[bool, bool]:
    """Whether the line gets a staff, and whether it gets tablature."""
    instrument = line.rules.instrument
    fretted = instrument is not None and instrument.fretted
    if options.staves == "auto":
        return True, fretted
    return options.staves != "tab", options.staves != "staff"


def score_part(lines: Sequence[AnnotatedLine], options: ScoreOptions) -> Part:
    """The part that all the lines share. Tablature without an instrument is written for the guitar.

    Raises InputError where the lines are for different instruments, or tablature is asked for and has no
    frets.
    """
    instruments = {line.rules.instrument for line in lines}
    if len(instruments) > 1:
        names = ", ".join(sorted(each.name if each else "none" for each in instruments))
        raise InputError(
            f"one part cannot hold lines for several instruments ({names}); write one file for each."
        )
    instrument = next(iter(instruments))
    if instrument is not None and not instrument.fretted and options.staves in ("tab", "both"):
        raise InputError(
            f"the {instrument.name} has no frets, so there is no tablature; ask for the staff alone."
        )
    if instrument is None and options.staves in ("tab", "both"):
        from everyline.corpora import load

        instrument = load().instruments["guitar"]
    pitches = [note.pitch for line in lines for note in line.notes]
    return part_for(instrument, pitches, options.concert)


def lay_out(
    line: AnnotatedLine,
    part: Part,
    options: ScoreOptions,
    fingering: Fingering | None = None,
    blanks: frozenset[int] = frozenset(),
) -> Layout:
    """Lay one line out for a part, with the best fingering where tablature is asked for and none is given.

    ``blanks`` are the notes (by index in the line) that are left for the student to find.
    """
    rules = line.rules
    steps = part.steps(rules.key, rules.progression.chords)
    pitches = written_pitches(line, part, steps)
    fifths = None if rules.key is None else part.written_fifths(rules.key, steps)
    fours, whole_form = options.beams == "half-bar", options.whole_form
    bars = bars_of(line, fours=fours, whole_form=whole_form, blanks=blanks)
    signs = accidentals(bars, pitches, fifths or 0, options.courtesy, blanks)
    if staves_of(line, options)[1] and fingering is None:
        fingering = finger(line, Fretboard(part.name, part.tuning, part.frets), options.hand)
    minor = rules.key is not None and parse_key(rules.key).minor
    return Layout(line, bars, pitches, signs, fingering, blanks, steps, fifths, minor, meter_of(line))
