"""Sound files of the session, in a folder of their own that goes when the server goes.

They are files because a player in the browser asks for pieces of them when somebody seeks.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections import OrderedDict
from pathlib import Path

MOST_FILES = 64
PREFIX = "everyline-sound-"


class Sounds:
    """The sound files made last, by what they were made from."""

    def __init__(self) -> None:
        _sweep()
        self._folder = tempfile.TemporaryDirectory(prefix=f"{PREFIX}{os.getpid()}-")
        self._files: OrderedDict[str, Path] = OrderedDict()

    def find(self, key: str) -> Path | None:
        """The file made for a key, if it is still there."""
        path = self._files.get(key)
        if path is not None:
            self._files.move_to_end(key)
        return path

    def keep(self, key: str, data: bytes) -> Path:
        """Write a file for a key; the oldest file goes when there are too many."""
        name = hashlib.sha256(key.encode()).hexdigest()[:32] + ".wav"
        path = Path(self._folder.name) / name
        path.write_bytes(data)
        self._files[key] = path
        while len(self._files) > MOST_FILES:
            _, oldest = self._files.popitem(last=False)
            with contextlib.suppress(OSError):
                oldest.unlink()
        return path

    def close(self) -> None:
        """Remove the folder."""
        with contextlib.suppress(OSError):
            self._folder.cleanup()


def _sweep() -> None:
    """Remove the folders of servers that were killed, and could not do it themselves."""
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*-*"):
        owner = folder.name.removeprefix(PREFIX).partition("-")[0]
        if owner.isdecimal() and not folder.is_symlink() and _is_gone(int(owner)):
            shutil.rmtree(folder, ignore_errors=True)


def _is_gone(process: int) -> bool:
    if os.name != "posix":  # elsewhere asking would end it
        return False
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return True
    except OSError:
        return False
    return False
