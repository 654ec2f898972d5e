"""The option that gives lines a second part, for a second player on the same page and in the same sound."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from everyline.cli.messages import say
from everyline.corpora.errors import InputError
from everyline.files.formats import FORMATS
from everyline.paper.score_options import SECOND_PARTS, THIRD

if TYPE_CHECKING:
    from everyline.paper.sheet import SheetExercise
    from everyline.spaces.space import Space


def add_second_part(parser: argparse.ArgumentParser) -> None:
    """The option itself."""
    parser.add_argument(
        "--second-part",
        choices=SECOND_PARTS,
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
    from everyline.paper.two_parts import at_concert_pitch

    return replace(exercise, second=at_concert_pitch(exercise.line))


def _third(exercise: SheetExercise, space: Space | None) -> SheetExercise:
    from everyline.paper.two_parts import second_staff

    if space is None:
        raise InputError(
            "--second-part third goes with a rule file, whose lines the second part is one of; "
            "a lesson file or drill set has many."
        )
    second, said = second_staff(THIRD, exercise.line, space)
    return replace(exercise, second=second, remark=said)


def say_missing(exercises: Sequence[SheetExercise]) -> None:
    """Say of how many lines the rules have no second part."""
    missing = sum(each.second is None for each in exercises)
    if missing:
        say(f"{missing} of {len(exercises)} lines stand alone: these rules have no second part below them.")
