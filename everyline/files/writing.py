"""Writing files so that nothing is ever half there: beside the place, brought to the disk, then renamed."""

from __future__ import annotations

import errno
import os
import re
import stat
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

from everyline.corpora.errors import NO_ROOM, InputError, reason

SECONDS_TO_WAIT = 30.0
"""How long a short piece of work waits for a folder that another one holds."""
LONGEST_NAME = 100
"""Characters that a name from a file may give to the name of a file."""


@contextmanager
def writing(path: Path | str, mode: str = "w") -> Iterator[IO[Any]]:
    """A file that appears under its name only when the block ends well and its bytes are on the disk; on any
    error or signal nothing is left.

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
    try:
        path = Path(os.path.realpath(path))
    except (OSError, ValueError) as error:
        raise InputError(f"{path} cannot be written: {reason(error)}. Choose a folder that exists.") from None
    # The name is known before the file is there: whenever a signal comes, there is something to remove.
    beside = path.with_name(f".{path.name}.{os.urandom(4).hex()}.part")
    try:
        with naming(path), _opened(_begun(beside, path), mode) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
        sync_folder(path.parent)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


def _begun(beside: Path, path: Path) -> int:
    try:
        return os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    except OSError as error:
        raise InputError(f"{path} cannot be written: {reason(error)}. Choose a folder that exists.") from None


def _opened(handle: int, mode: str) -> IO[Any]:
    if "b" in mode:
        return os.fdopen(handle, mode)
    return os.fdopen(handle, mode, encoding="utf-8", newline="\n")


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Names the file in what the system says of a full disk, which leaves it out."""
    try:
        yield
    except OSError as error:
        if error.errno in (*NO_ROOM, errno.EIO) and error.filename is None:
            error.filename = str(path)
        raise


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk, where the system knows how."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # Windows opens no folders
        return
    try:
        os.fsync(handle)
    except OSError:  # nor do some file systems of other machines sync them
        pass
    finally:
        os.close(handle)


@contextmanager
def alone(folder: Path, busy: str, wait: float = 0.0) -> Iterator[None]:
    """The folder is this process's alone until the block or the process ends; ``wait`` seconds are waited.

    Raises InputError with the sentence ``busy`` where another one holds it. Where the system has no such
    locks, nothing is held.
    """
    handle = _locked(folder, busy, wait)
    try:
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _locked(folder: Path, busy: str, wait: float) -> int | None:
    try:
        import fcntl
    except ImportError:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise InputError(
            f"{folder} cannot be written to: {reason(error)}. Choose a folder that exists."
        ) from None
    until = time.monotonic() + wait
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except BlockingIOError:
            if time.monotonic() >= until:
                os.close(handle)
                raise InputError(busy) from None
            time.sleep(0.02)
        except OSError:  # some file systems of other machines have no locks
            os.close(handle)
            return None


@contextmanager
def changing(path: Path) -> Iterator[None]:
    """For reading a file and writing it again with more in it: one after another, so that none is lost."""
    busy = f"another run is writing to the folder of {path}; ask again when it is done."
    with alone(Path(os.path.realpath(path)).parent, busy, SECONDS_TO_WAIT):
        yield


def is_own_file(path: Path) -> bool:
    """Whether a path is a file itself: no link out of its folder, and nothing that reading waits for."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except OSError:
        return False


def file_name(text: str) -> str:
    """A name from a file as part of the name of a file: letters, digits and hyphens, whatever it held."""
    return re.sub(r"[^\w-]+", "-", text)[:LONGEST_NAME].strip("-")


def file_names(texts: Iterable[str]) -> dict[str, str]:
    """``file_name`` of each text; those that would be one file, whatever the case, are numbered apart."""
    found: dict[str, str] = {}
    taken: set[str] = set()
    for text in texts:
        name, number = file_name(text), 1
        while name.casefold() in taken:
            number += 1
            name = f"{file_name(text)}-{number}"
        taken.add(name.casefold())
        found[text] = name
    return found
