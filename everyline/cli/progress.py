"""How far long work has come, told to whoever runs it."""

from __future__ import annotations

import sys
import time

from everyline.cli.messages import plain, say
from everyline.files.progress import Progress

LONG = 20
"""Work of fewer steps is done before it is worth a word."""

OFTEN = 0.1
"""Seconds between two signs on a terminal."""

QUIET = 15.0
"""Seconds that pass without a word where nobody watches: a log of short work stays empty."""


def progress(things: str, quiet: float = QUIET) -> Progress:
    """Tells that so many ``things`` are done: on a terminal in one line that changes, elsewhere in a sentence
    every ``quiet`` seconds."""
    watched = sys.stderr is not None and sys.stderr.isatty()
    return _on_terminal(things) if watched else _in_sentences(things, quiet)


def _on_terminal(things: str) -> Progress:
    last = 0.0

    def tell(done: int, of: int) -> None:
        nonlocal last
        now = time.monotonic()
        if of < LONG or (done < of and now - last < OFTEN):
            return
        last = now
        end = "\n" if done >= of else ""
        print(f"\reveryline: {plain(_words(done, of, things))}", end=end, file=sys.stderr, flush=True)

    return tell


def _in_sentences(things: str, quiet: float) -> Progress:
    last = time.monotonic()

    def tell(done: int, of: int) -> None:
        nonlocal last
        now = time.monotonic()
        if of >= LONG and now - last >= quiet:
            last = now
            say(f"{_words(done, of, things)}.")

    return tell


def _words(done: int, of: int, things: str) -> str:
    return f"{done:,} of {of:,} {things}".replace(",", " ")
