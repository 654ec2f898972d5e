"""The option that gives lines a second part, for a second player on the same page and in the same sound."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from everyline.cli.messages import say
from everyline.corpora.errors import InputError
from everyline.files.formats import FORMATS

if TYPE_CHECKING:
    from everyline.paper.sheet import SheetExercise
    from everyline.spaces.space import Space

CONCERT, THIRD = "concert", "third"


def add_second_part(parser: argparse.ArgumentParser) -> None:
    """The option itself."""
    parser.add_argument(
        "--second-part",
        choices=(CONCERT, THIRD),
        help="a second player's part joined to each line: the same at concert pitch, or a line of the same "
        "rules a third below",
    )


def second_parts(
    arguments: argparse.Namespace,
) -> Callable[[SheetExercise, Space | None], SheetExercise] | None:
    """What adds the second part that is wished for to an exercise of a space; None where none is.

    Raises InputError where the wish says nothing of the file that is written.
    """
    wish = arguments.second_part
    if wish is None:
        return None
    if wish == THIRD:
        return _third
    if arguments.concert:
        raise InputError(
            "--second-part concert: with --concert the line is at concert pitch itself; drop one."
        )
    form = FORMATS.get(arguments.to.suffix.lower())
    if form is not None and "staves" not in form.shows:
        raise InputError(
            "--second-part concert sounds as the line itself does; write it to a score or a picture, or ask "
            "for --second-part third."
        )
    return _concert


def _concert(exercise: SheetExercise, space: Space | None) -> SheetExercise:
    from everyline.paper.sheet import SecondStaff

    instrument = exercise.line.rules.instrument
    if instrument is None or instrument.transposition % 12 == 0:
        raise InputError(
            "--second-part concert is for transposing instruments; name one with --instrument, "
            "or leave it out."
        )
    return replace(exercise, second=SecondStaff(exercise.line, concert=True))


def _third(exercise: SheetExercise, space: Space | None) -> SheetExercise:
    from everyline.paper.sheet import SecondStaff
    from everyline.spaces.second_part import second_part

    if space is None:
        raise InputError(
            "--second-part third goes with a rule file, whose lines the second part is one of; "
            "a lesson file or drill set has many."
        )
    found = second_part(space, exercise.line)
    if found is None:
        return replace(exercise, remark="These rules have no second part that stays below this line.")
    said = f"The second part is a third below the first on {found.thirds} of {len(found.line.notes)} notes."
    return replace(exercise, second=SecondStaff(found.line), remark=said)


def say_missing(exercises: Sequence[SheetExercise]) -> None:
    """Say of how many lines the rules have no second part."""
    missing = sum(each.second is None for each in exercises)
    if missing:
        say(f"{missing} of {len(exercises)} lines stand alone: these rules have no second part below them.")
