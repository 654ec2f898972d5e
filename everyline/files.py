"""Writing files so that nothing is ever half there: beside the place, then renamed."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from everyline.corpora.errors import InputError


@contextmanager
def writing(path: Path | str, mode: str = "w") -> Iterator[IO[Any]]:
    """A file that appears under its name only when the block ends well; on any error or Ctrl-C nothing is
    left.

    Where the path is a link, the file that it leads to is written. What is no file (a device, a pipe) cannot
    be put in place by renaming and is written to as it stands. Raises InputError when the folder does not
    exist or cannot be written to, or the path is a folder.
    """
    path = Path(path)
    if path.is_dir():
        raise InputError(f"{path} is a folder; name a file in it to write to.")
    if path.exists() and not path.is_file():
        try:
            handle = os.open(path, os.O_WRONLY)
        except OSError as error:
            raise InputError(f"{path} cannot be written to: {error.strerror}. Name a file instead.") from None
        with _opened(handle, mode) as file:
            yield file
        return
    path = Path(os.path.realpath(path))
    try:
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    except OSError as error:
        raise InputError(
            f"{path} cannot be written: {error.strerror}. Choose a folder that exists."
        ) from None
    try:
        with _opened(handle, mode) as file:
            yield file
        os.chmod(beside, 0o666 & ~_umask())
        os.replace(beside, path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def _opened(handle: int, mode: str) -> IO[Any]:
    if "b" in mode:
        return os.fdopen(handle, mode)
    return os.fdopen(handle, mode, encoding="utf-8", newline="\n")


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
