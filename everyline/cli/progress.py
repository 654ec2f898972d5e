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

SENTENCES = 10
"""Where nobody watches, a log gets so many sentences at most."""

WORTH_A_SENTENCE = 500
"""Steps from which on a log gets any."""


def progress(things: str) -> Progress:
    """Tells that so many ``things`` are done: on a terminal in one line that changes, elsewhere a sentence
    for every tenth of long work."""
    return _on_terminal(things) if sys.stderr is not None and sys.stderr.isatty() else _in_sentences(things)


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


def _in_sentences(things: str) -> Progress:
    tenths = 0

    def tell(done: int, of: int) -> None:
        nonlocal tenths
        now = done * SENTENCES // max(of, 1)
        if of > WORTH_A_SENTENCE and now > tenths:
            say(f"{_words(done, of, things)}.")
        tenths = now

    return tell


def _words(done: int, of: int, things: str) -> str:
    return f"{done:,} of {of:,} {things}".replace(",", " ")
