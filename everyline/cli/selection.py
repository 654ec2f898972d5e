"""Which lines a command takes: some under a rule file, a lesson file, or the folder of a drill set."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

from everyline.cli.by_taste import add_taste, space_of, temperature_of
from everyline.cli.messages import say_at_end
from everyline.cli.ordering import ORDERS, ordered
from everyline.cli.ordering import picked as pick
from everyline.cli.source import corpus_of, refuse_rules
from everyline.corpora.errors import InputError
from everyline.files.formats import ExportOptions
from everyline.solver.picking import MOST_PICKED

if TYPE_CHECKING:
    from everyline.paper.score_options import ScoreOptions
    from everyline.paper.sheet import SheetExercise
    from everyline.rules.annotate import AnnotatedLine
    from everyline.spaces.space import Space

DEFAULT_MOST = 12
_NUMBERS = re.compile(r"(\d{1,1000})(?:-(\d{1,1000}))?")


@dataclass(frozen=True)
class Picked:
    """Exercises, made one by one, with a title for the whole and a remark on it."""

    title: str
    remark: str
    count: int
    exercises: Iterator[SheetExercise]


WAYS = {"numbers": "--numbers", "order": "--order", "pick": "--pick", "sample": "--sample"}
"""The ways to say which lines; a command takes one of them."""


def add_choice(parser: argparse.ArgumentParser) -> None:
    """The options that choose lines and say how they look."""
    group = parser.add_argument_group(
        f"which lines (without any of these, {MOST_PICKED} are picked as everyline pick does)"
    )
    group.add_argument("--numbers", action="append", metavar="N", help="lines by number, such as 17 or 20-31")
    group.add_argument(
        "--order", choices=ORDERS, help="the first lines in an order, as everyline list has them"
    )
    group.add_argument(
        "--most",
        type=int,
        metavar="K",
        help=f"with --order: so many (default: {DEFAULT_MOST}); alone: so many picked",
    )
    group.add_argument("--pick", type=int, metavar="K", help="so many lines that are unlike each other")
    group.add_argument(
        "--sample", type=int, metavar="K", help="so many at random: by --taste where it is given, else evenly"
    )
    group.add_argument(
        "--seed", type=int, metavar="S", help="with --sample and --pick: the same seed, the same lines (1)"
    )
    add_taste(parser, draws=True)
    add_look(parser)


def add_look(parser: argparse.ArgumentParser) -> None:
    """The options that say how lines look. One that is left out holds None, or False for a bare word."""
    parser.add_argument("--title", type=str, help="a title to print")
    parser.add_argument("--staves", help="auto (default), staff, tab or both")
    parser.add_argument("--no-labels", action="store_true", help="leave roles and degrees out")
    parser.add_argument("--no-fingers", action="store_true", help="leave left-hand fingers and positions out")
    parser.add_argument("--concert", action="store_true", help="sounding pitch for a transposing instrument")
    parser.add_argument(
        "--on-strings", action="append", metavar="LIST", help="strings to finger TAB on, 1 the highest"
    )
    parser.add_argument("--hand-at", type=int, metavar="FRET", help="fret under the first finger for TAB")
    parser.add_argument("--open-strings", help="avoid (default), allow, prefer or never")
    parser.add_argument(
        "--fretboard",
        metavar="HAND",
        help="draw the fretboard below each line: right or left, the hand that plucks",
    )
    parser.add_argument("--octave", type=int, metavar="N", help="move lines up (or down, -1) by octaves")
    parser.add_argument("--black", action="store_true", help="no colour on paper and pictures")
    parser.add_argument("--tempo", type=float, metavar="BPM", help="beats a minute (120)")
    parser.add_argument("--swing", help="by-tempo (default), straight, or a ratio such as 2:1")


def paper_options(arguments: argparse.Namespace) -> ScoreOptions:
    """What the options of ``add_look`` say of a score."""
    from everyline.paper.fingering import Hand

    hand = Hand(
        strings=_strings(arguments.on_strings),
        position=arguments.hand_at,
        **stated(arguments, "open_strings"),
    )
    return replace(
        ExportOptions().score,
        concert=arguments.concert,
        roles=not arguments.no_labels,
        degrees=not arguments.no_labels,
        fingers=not arguments.no_fingers,
        fretboard=arguments.fretboard,
        hand=hand,
        **stated(arguments, "staves", "tempo", "swing"),
    )


def pace_of(arguments: argparse.Namespace) -> dict[str, Any]:
    """What the options of ``add_look`` say of a sound: tempo and swing."""
    tempi = {} if arguments.tempo is None else {"tempi": (arguments.tempo,)}
    return {**tempi, **stated(arguments, "swing")}


def stated(arguments: argparse.Namespace, *names: str) -> dict[str, Any]:
    """Those of the options that a command line has, by name."""
    return {name: getattr(arguments, name) for name in names if getattr(arguments, name) is not None}


def _strings(texts: list[str] | None) -> tuple[int, ...] | None:
    found = words(texts)
    if not all(word.isdecimal() and len(word) < 3 for word in found):
        raise InputError(
            f'--on-strings "{" ".join(found)}": write string numbers, 1 the highest, such as 1,2,3.'
        )
    return tuple(int(word) for word in found) or None


def moved(exercise: SheetExercise, octaves: int | None) -> SheetExercise:
    """The exercise with its line moved by octaves, where any are asked for."""
    if not octaves:
        return exercise
    from everyline.paper.fingering import in_octave

    solution = exercise.solution and in_octave(exercise.solution, octaves)
    second = exercise.second and replace(exercise.second, line=in_octave(exercise.second.line, octaves))
    return replace(exercise, line=in_octave(exercise.line, octaves), solution=solution, second=second)


def picked(
    arguments: argparse.Namespace,
    explain: bool = False,
    finish: Callable[[SheetExercise, Space | None], SheetExercise] | None = None,
) -> Picked | None:
    """The exercises that a command line names; None where its rules leave no line.

    ``finish`` is done to each before it is moved; it is given the lines' space where they are of one.
    """
    from everyline.files.worksheet import is_drill, is_lesson, worksheet
    from everyline.paper.sheet import SheetExercise

    path = None if arguments.file is None else Path(arguments.file)
    if path is not None and (is_drill(path) or is_lesson(path)):
        for way in (*WAYS, "most", "seed", "taste", "temperature", "fitted"):
            if getattr(arguments, way) not in (None, False):
                raise InputError(
                    f"--{way} goes with a rule file; a lesson file or drill set is taken as a whole."
                )
        refuse_rules(arguments, f"{path} is a lesson file or drill set, whose lines are there already")
        found = worksheet(path, corpus_of(arguments), say_at_end)
        own = (replace(each, explain=explain) for each in found.exercises)
        done = own if finish is None else (finish(each, None) for each in own)
        exercises = (moved(each, arguments.octave) for each in done)
        return Picked(arguments.title or found.title, found.remark, found.count, exercises)
    way = _way(arguments)
    space = space_of(arguments)
    if not space.count:
        return None
    count, lines = _lines(space, way, arguments)
    own = (SheetExercise(line, explain=explain) for line in lines)
    done = own if finish is None else (finish(each, space) for each in own)
    exercises = (moved(each, arguments.octave) for each in done)
    return Picked(arguments.title or space.rules.title, "", count, exercises)


def _way(arguments: argparse.Namespace) -> str:
    """In which way lines are chosen. Raises InputError for options that do not go together."""
    given = [way for way in WAYS if getattr(arguments, way) is not None]
    if len(given) > 1:
        raise InputError(f"{WAYS[given[0]]} and {WAYS[given[1]]} do not go together; use one.")
    way = given[0] if given else "pick"
    if not given:  # so many, and no word on which: good ones
        arguments.pick, arguments.most = arguments.most, None
    for option, ways in (("most", ("order",)), ("seed", ("sample", "pick")), ("temperature", ("sample",))):
        if getattr(arguments, option) is not None and way not in ways:
            raise InputError(f"--{option} goes with --{' or --'.join(ways)}; add that, or leave it out.")
    for option in ("most", "pick", "sample"):
        value = getattr(arguments, option)
        if value is not None and value < 1:
            raise InputError(f"--{option} {value}: it must be 1 or more.")
    if arguments.temperature is not None and arguments.taste is None:
        raise InputError("--temperature goes with --taste NAME, which draws lines by taste; add that.")
    return way


def _lines(space: Space, way: str, arguments: argparse.Namespace) -> tuple[int, Iterator[AnnotatedLine]]:
    """How many lines are chosen, and each with its analysis."""
    seed = 1 if arguments.seed is None else arguments.seed
    if way == "numbers":
        numbers = chosen(arguments.numbers, space.count)
        return numbers.count, (space.line(number) for number in numbers)
    if way == "pick":
        found = pick(space, arguments.pick or MOST_PICKED, seed=seed).lines
        return len(found), space.shown((line.number, line.events) for line in found)
    if way == "order":
        most = min(space.count, arguments.most or DEFAULT_MOST)
        return most, space.shown(ordered(space, arguments.order, most=most))
    most = min(space.count, arguments.sample)
    if arguments.taste is None:
        return most, space.samples(most, seed)
    drawn = islice(space.drawn(seed, temperature_of(arguments)), most)
    return most, space.shown((line.number, line.events) for line in drawn)


def words(texts: Iterable[str] | None) -> list[str]:
    """The words of an option that takes a list."""
    return [word for text in texts or () for word in text.replace(",", " ").split()]


class Selection:
    """Line numbers in the order in which they were named, not laid out one by one: there may be millions."""

    def __init__(self, runs: list[tuple[int, int]]) -> None:
        self._runs = runs
        self.count = sum(last + 1 - first for first, last in runs)

    def __iter__(self) -> Iterator[int]:
        for first, last in self._runs:
            yield from range(first, last + 1)


def chosen(texts: list[str] | None, count: int) -> Selection:
    """Line numbers as the user named them, in that order. Raises InputError for anything else."""
    if texts is None:
        return Selection([(1, min(DEFAULT_MOST, count))])
    found: list[tuple[int, int]] = []
    for text in words(texts):
        match = _NUMBERS.fullmatch(text)
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
        if not 1 <= first <= last <= count:
            raise InputError(f'--numbers "{text}": write numbers from 1 to {count}, such as 17 or 20-31.')
        found.append((first, last))
    return Selection(found)
