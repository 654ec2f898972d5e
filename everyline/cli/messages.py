"""What the program says to whoever runs it: sentences on standard error, and text that any terminal can show.

A title or a remark comes from a stranger's file, so no control character of it reaches a terminal; and a
terminal need not know every sign, so one that it cannot show is written as one that looks like it.
"""

from __future__ import annotations

import codecs
import contextlib
import re
import sys
from collections.abc import Iterator
from typing import Any

LONGEST = 600
"""Characters of a complaint at most."""

_LOOK_ALIKES = {"–": "-", "—": "-", "−": "-", "·": ".", "…": "...", "→": "->", "♭": "b", "♯": "#", "×": "x"}
_LOOK_ALIKES |= dict.fromkeys("█▉▊▋▌", "#") | dict.fromkeys("▍▎▏", ":")
_CONTROL = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff]"
)
"""Besides what terminals obey, what turns the direction of writing or cannot be seen."""
_READABLE = "everyline.readable"


def complain(message: str) -> None:
    """One sentence on standard error, without the middle of a value that is too long to read."""
    text = " ".join(message.split())
    say(f"{text[: LONGEST // 2]} ... {text[-LONGEST // 2 :]}" if len(text) > LONGEST else text)


def say(message: str) -> None:
    """One sentence on standard error."""
    text = plain(" ".join(message.split()))
    with contextlib.suppress(OSError):  # where standard error is closed too, the exit code still tells
        print(f"everyline: {text}", file=sys.stderr, flush=True)


_AT_END: list[str] = []


def say_at_end(message: str) -> None:
    """One sentence on standard error when the command has done its work; nothing where that fails, which is
    told in one sentence alone."""
    _AT_END.append(message)


def end_well(well: bool) -> None:
    """Say what was to be said at the end, where it went well; forget it either way."""
    messages = list(_AT_END)
    _AT_END.clear()
    for message in messages if well else ():
        say(message)


def plain(text: str) -> str:
    """A text with its control characters, tabs and line breaks aside, and its half characters written as
    escapes."""
    return _CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class _Terminal:
    """A stream to a terminal, which is not written control characters to. What is written elsewhere is data
    and stays as it is."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        self._stream.write(plain(text))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextlib.contextmanager
def readable_output() -> Iterator[None]:
    """Inside the block standard output takes any text, whatever its encoding, and spares terminals."""
    stream = sys.stdout
    # A stream of somebody else's making need not be able to change.
    errors, change = getattr(stream, "errors", None), getattr(stream, "reconfigure", None)
    if change is not None:
        change(errors=_READABLE)
    if stream is not None and not stream.closed and stream.isatty():
        sys.stdout = _Terminal(stream)
    try:
        yield
    finally:
        sys.stdout = stream
        if change is not None and not stream.closed:
            with contextlib.suppress(OSError):  # it is flushed on the way, and may be full or closed
                change(errors=errors)


def _readable(error: UnicodeError) -> tuple[str, int]:
    """Signs that an encoding lacks, as those that look like them, else as JSON would escape them."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    found = []
    for sign in error.object[error.start : error.end]:
        # As JSON has it: what is beyond the first plane in two halves.
        units = sign.encode("utf-16-be", "surrogatepass")
        escaped = "".join(f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2))
        found.append(_LOOK_ALIKES.get(sign, escaped))
    return "".join(found), error.end


codecs.register_error(_READABLE, _readable)
