"""Sound files of the session, in a folder of their own that goes when the server goes.

They are files because a player in the browser asks for pieces of them when somebody seeks.
"""

from __future__ import annotations

import contextlib
import hashlib
import tempfile
from collections import OrderedDict
from pathlib import Path

MOST_FILES = 64


class Sounds:
    """The sound files made last, by what they were made from."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="everyline-sound-")
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
