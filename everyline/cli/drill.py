"""The command ``drill``: a drill set as a folder, from a small TOML file, options, or a manifest."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.progress import progress
from everyline.cli.source import add_bounds, bounded
from everyline.corpora import load
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.drill.batches import Mapper, here
from everyline.drill.spec import KEYS, Spec, read_spec, spec_of
from everyline.files.formats import STUDENT
from everyline.rules.schema import Shape


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``drill``."""
    parser.add_argument("file", metavar="FILE", nargs="?", help="a drill file (TOML with the keys below)")
    parser.add_argument(
        "--output",
        type=Path,
        required=True,
        metavar="FOLDER",
        help="a new folder to fill, or one .html file for the student",
    )
    parser.add_argument(
        "--rebuild", type=Path, metavar="MANIFEST", help="make a set again from its manifest alone"
    )
    group = parser.add_argument_group("the set (each as the key of the same name in a drill file)")
    for option, key in KEYS.items():
        whole = key.type.shape in (Shape.NUMBER, Shape.NUMBERS)
        words = f"{key.help}: {', '.join(key.choices)}" if key.choices else key.help
        group.add_argument(
            f"--{option}",
            nargs="+" if key.type.shape in (Shape.TEXTS, Shape.NUMBERS) else None,
            type=int if whole else str,
            metavar=option.upper(),
            help=words,
        )
    add_bounds(parser)


def run(name: str, arguments: argparse.Namespace) -> int:
    """Write the set; answers the exit code."""
    with bounded(arguments) as cluster:
        mapper: Mapper = here
        if cluster is not None:
            from everyline.parallel.drills import on_cluster

            cluster.connect()  # before anything is written
            mapper = on_cluster(cluster)
        return _run(arguments, mapper)


def _run(arguments: argparse.Namespace, mapper: Mapper) -> int:
    from everyline.drill.write import DrillSet, from_manifest

    given = {each: getattr(arguments, each) for each in KEYS if getattr(arguments, each) is not None}
    corpus = load(arguments.corpora)
    if arguments.rebuild is not None:
        if given or arguments.file is not None:
            raise InputError("--rebuild makes a set again as it was; leave the other options out.")
        drill = from_manifest(arguments.rebuild, corpus)
    else:
        from everyline.drill.choose import choose
        from everyline.drill.sources import sources_of

        spec = _spec(arguments.file, given)
        sources = sources_of(spec, corpus)
        drill = DrillSet(spec, sources, choose(spec, sources, progress("lines put in order"), mapper))
    for remark in drill.chosen.remarks:
        say(remark)
    if not drill.chosen.items:
        say("no line satisfies these rules; nothing was written.")
        return NO
    if arguments.output.suffix.lower() == STUDENT:
        from everyline.files.worksheet import drill_worksheet
        from everyline.handout.write import handout, write_handout

        found = drill_worksheet(drill)
        write_handout(arguments.output, handout(found.title, found.exercises))
        say(f"{plural(found.count, 'exercise')} in {arguments.output}.")
        return 0
    already = drill.write(arguments.output, progress("exercises written"), mapper, say)
    if already:
        say(f"went on after exercise {already}, where it was stopped.")
    _tell(arguments.output, len(drill.chosen.items))
    return 0


def _spec(file: str | None, given: dict[str, Any]) -> Spec:
    return read_spec(Path(file), given) if file is not None else spec_of(given, "options")


def _tell(folder: Path, count: int) -> None:
    with open(folder / "manifest.jsonl", encoding="utf-8") as file:
        changed = sum('"instead_of"' in row for row in file)
    say(f"{plural(count, 'exercise')} in {folder}.")
    if changed:
        say(f"{changed} of them could not be made as asked and are to be played; the key says why.")
