"""Which options say something of which kinds of file; an option that would say nothing is refused."""

from __future__ import annotations

import argparse
from collections.abc import Container

from everyline.corpora.counted import choice
from everyline.corpora.errors import InputError
from everyline.files.formats import FORMATS, showing

FOLDER = ".parquet"
"""The suffix of a folder of Parquet files, which is no single file of ``FORMATS``."""

OPTIONS: dict[str, tuple[str, ...]] = {
    **{
        option: showing(field)
        for option, field in {
            "--title": "title",
            "--second-part": "second_part",
            "--staves": "staves",
            "--no-labels": "labels",
            "--no-fingers": "fingers",
            "--concert": "concert",
            "--on-strings": "on_strings",
            "--hand-at": "hand_at",
            "--open-strings": "open_strings",
            "--fretboard": "fretboard",
            "--black": "colour",
            "--tempo": "tempo",
            "--swing": "swing",
            "--count-in": "count_in",
            "--repeats": "repeats",
            "--loop": "loop",
            "--ladder": "ladder",
            "--mute": "mute",
            "--feel": "feel",
            "--bass": "bass",
            "--backing-seed": "backing_seed",
        }.items()
    },
    "--octave": tuple(FORMATS),
    "--part-lines": (FOLDER,),
    "--roles": (FOLDER,),
}
"""Every option on how lines look, sound or are cut up, with the suffixes of the files that it concerns."""


def given(option: str, arguments: argparse.Namespace) -> bool:
    """Whether an option of a command line was given; left out, it holds None or False."""
    value = getattr(arguments, option.removeprefix("--").replace("-", "_"), None)
    return value is not None and value is not False


def check_options(arguments: argparse.Namespace, kind: str | None, also: Container[str] = ()) -> None:
    """Raises InputError for an option that says nothing of files of a kind, given as their suffix.

    None stands for lines that are written to no file at all, where ``also`` are the options that hold.
    """
    for option, kinds in OPTIONS.items():
        if not given(option, arguments) or kind in kinds or option in also:
            continue
        files = choice(kinds)
        if kind is None:
            raise InputError(
                f"{option} is for files: write the lines to one ending in {files} with --to, or leave "
                f"{option} out."
            )
        raise InputError(
            f"{option} does nothing in a {kind} file; leave it out, or end the path of --to in {files}."
        )
    if given("--ladder", arguments) and given("--tempo", arguments):
        raise InputError("--ladder and --tempo do not go together: a ladder has tempi of its own.")
