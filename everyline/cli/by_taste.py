"""The options that say by which taste lines are ranked, drawn and chosen; fitted tastes, kept once made."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from everyline.cli.messages import say
from everyline.cli.source import corpus_of, rules_of
from everyline.corpora.errors import InputError
from everyline.corpora.tastes import SUFFIX, read_taste
from everyline.files.data_folder import data_folder
from everyline.files.writing import writing
from everyline.rules.canonical import fingerprint
from everyline.rules.taste import DEFAULT, Taste, load_taste
from everyline.spaces.space import Space

if TYPE_CHECKING:
    from everyline.corpora import Corpus

S = TypeVar("S", bound=Space)


def add_taste(parser: argparse.ArgumentParser, draws: bool = False) -> None:
    """The options that name a taste; ``draws`` adds the temperature."""
    group = parser.add_argument_group("taste (everyline taste tells more)")
    group.add_argument(
        "--taste",
        metavar="NAME",
        help=f"what strangeness goes by: a taste of the corpora or a taste file (default: {DEFAULT})",
    )
    group.add_argument(
        "--fitted", action="store_true", help="the taste fitted to these rules (everyline taste fit)"
    )
    if draws:
        group.add_argument(
            "--temperature",
            type=float,
            metavar="T",
            help="for lines drawn by taste: below 1 the least strange come more often still, above 1 strange "
            "ones do (default: 1)",
        )


def space_of(arguments: argparse.Namespace) -> Space:
    """The lines that a command line asks for, with their taste."""
    space = Space(rules_of(arguments))
    return with_taste(space, arguments, corpus_of(arguments))


def with_taste(space: S, arguments: argparse.Namespace, corpus: Corpus) -> S:
    """The same lines, with the taste that a command line names."""
    if arguments.taste is not None:
        space = space.by(load_taste(arguments.taste, corpus))
    return space.by(fitted(space)) if arguments.fitted else space


def temperature_of(arguments: argparse.Namespace) -> float:
    """The temperature asked for. Raises InputError for what is none."""
    temperature: float = 1.0 if arguments.temperature is None else arguments.temperature
    if not 0.01 <= temperature <= 100:
        raise InputError(f"--temperature {temperature:g}: write a number from 0.01 to 100.")
    return temperature


def fitted(space: Space) -> Taste:
    """The taste fitted to the rules: as it was kept, else worked out now and kept. Raises InputError for a
    taste without statistics."""
    path = kept_at(space)
    if path is not None and path.exists():
        return Taste.of(read_taste(path))
    found = space.fit().taste
    if path is not None:
        keep(found, path)
    return found


def drawing(space: Space) -> Taste:
    """The taste to draw by where lines are picked: fitted where it can be."""
    return fitted(space) if space.taste.statistics and space.count else space.taste


def kept_at(space: Space) -> Path | None:
    """Where the fitted taste of some lines is kept: a file named by the taste, by the fingerprint of the
    rules and by that of the taste. None for a chorus, whose phrases have rules of their own."""
    if type(space) is not Space:
        return None
    import hashlib  # loads a whole cipher library

    from everyline.corpora.taste_text import taste_text

    taste = hashlib.sha256(taste_text(space.taste.entry).encode()).hexdigest()
    name = f"{space.taste.name}-{fingerprint(space.rules)[:16]}-{taste[:8]}{SUFFIX}"
    return data_folder() / "fitted" / name


def keep(taste: Taste, path: Path) -> None:
    """Keep a fitted taste. Where it cannot be written, the work is done again next time, and that is told."""
    from everyline.corpora.taste_text import taste_text

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with writing(path) as out:
            out.write(taste_text(taste.entry))
    except (OSError, InputError) as error:
        say(f"the fitted taste was not kept ({error}).")
