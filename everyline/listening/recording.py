"""A recording as samples: WAV, FLAC and MP3 in any depth, rate and number of channels, within bounds."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from threading import Event
from typing import TYPE_CHECKING, Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, InputError
from everyline.solver.interrupt import apart

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SUFFIXES = (".wav", ".flac", ".mp3")
"""Ends of the names of files that are listened to."""
RATE = 32_000
"""Samples a second of what is listened to, whatever the file has."""
MOST_MINUTES = 10
LARGEST_FILE = 400_000_000
"""Bytes: ten minutes in stereo, in 32 bits at 96,000 samples a second, with room to spare."""
MOST_SAMPLES = 120_000_000
"""Samples of all channels together: ten minutes in stereo at 96,000 a second, half a gigabyte unpacked. Few
bytes of a packed file can hold many more."""
_AT_ONCE = 1_000_000
SILENT = 0.001
"""The part of full scale (-60 dB) that the loudest sample of a recording has to reach."""
ONE_SIDED = 0.5
"""Correlation of two channels below which the louder one is taken alone, as they would cancel each other."""
_RATES = range(4_000, 768_001)


@dataclass(frozen=True, slots=True)
class Recording:
    """One channel of sound at ``RATE`` samples a second, its loudest sample at 1, and what was done to get
    it."""

    samples: NDArray[np.float32]
    remarks: tuple[str, ...]

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.samples) / RATE


def read_recording(data: bytes, name: str) -> Recording:
    """The sound of a file's bytes; ``name`` is what messages call it. Raises InputError, in one sentence, for
    what is no sound, silent, too short or too long; EverylineError where a package is missing."""
    require()
    import numpy as np

    if len(data) > LARGEST_FILE:
        raise InputError(f"{name}: larger than {LARGEST_FILE:,} bytes; cut the take out of it.")
    sound, rate = _decoded(data, name)
    if not np.isfinite(sound).all():
        raise InputError(f"{name}: it holds samples that are no numbers; record or export it again.")
    if len(sound) < rate // 10:
        raise InputError(
            f"{name}: {len(sound) / rate:.2f} seconds are too short for a line; record it again."
        )
    channel, remarks = _one_channel(sound)
    loudest = float(np.abs(channel).max())
    if loudest < SILENT:
        raise InputError(
            f"{name}: silence, nothing louder than {SILENT:g} of full scale; check the microphone and its "
            "level, then record again."
        )
    return Recording(_resampled(channel / np.float32(loudest), rate), remarks)


def require() -> None:
    """Raises EverylineError, naming what to install, where a package for listening is missing."""
    missing = []
    for package in ("soundfile", "soxr", "swift_f0"):
        try:
            __import__(package)
        except (ImportError, OSError):
            missing.append(package.replace("_", "-"))
    if missing:
        raise EverylineError(
            f"listening needs {', '.join(missing)}, which cannot be loaded here: "
            'pip install "everyline[listen]". MIDI takes work without.'
        )


def _decoded(data: bytes, name: str) -> tuple[Any, int]:
    """Samples of shape (frames, channels) and their rate."""
    import soundfile

    if not data:
        raise InputError(f"{name}: an empty file; record the take again.")
    stopped = Event()

    def decode() -> tuple[Any, int]:
        with soundfile.SoundFile(BytesIO(data)) as file:
            rate = file.samplerate
            if rate not in _RATES:
                raise InputError(
                    f"{name}: {rate:,} samples a second; allowed are {_RATES[0]:,} to {_RATES[-1]:,}."
                )
            return _read(file, rate * 60 * MOST_MINUTES, name, stopped), rate

    try:
        with _unheard():
            return apart(decode, stopped.set)
    except (EverylineError, MemoryError):
        raise
    except Exception:  # libsndfile's errors, and whatever damaged bytes lead to
        raise InputError(
            f"{name}: not a WAV, FLAC or MP3 file that can be read, or a damaged one; export it again."
        ) from None


@contextmanager
def _unheard() -> Iterator[None]:
    """Keeps what the decoder of MP3 says to the terminal of a damaged file from the user: our own sentence
    tells it."""
    try:
        kept = os.dup(2)
    except OSError:  # there is no standard error
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _read(file: Any, most: int, name: str, stopped: Event) -> NDArray[np.float32]:
    """All frames, piece by piece: whatever the header claims, room is made only for what is there."""
    import numpy as np

    blocks: list[NDArray[np.float32]] = []
    frames, piece = 0, max(1, _AT_ONCE // file.channels)
    while not stopped.is_set() and len(block := file.read(piece, dtype="float32", always_2d=True)):
        frames += len(block)
        if frames > most:
            raise InputError(
                f"{name}: longer than {MOST_MINUTES} minutes, so hardly one line; cut the take out of it."
            )
        if frames * file.channels > MOST_SAMPLES:
            raise InputError(
                f"{name}: more than {MOST_SAMPLES:,} samples in its {plural(file.channels, 'channel')}; "
                "export it with one channel, at 48,000 samples a second."
            )
        blocks.append(block)
    return np.concatenate(blocks) if blocks else np.zeros((0, file.channels), np.float32)


def _one_channel(sound: NDArray[np.float32]) -> tuple[NDArray[np.float32], tuple[str, ...]]:
    """The channels together, or the loudest alone where they are unlike or one of them is nearly silent."""
    import numpy as np

    if sound.shape[1] == 1:
        return sound[:, 0], ()
    power = (sound.astype(np.float64) ** 2).sum(axis=0)
    loudest = int(np.argmax(power))
    rest = [each for each in range(sound.shape[1]) if each != loudest]
    alike = [
        float(sound[:, each].astype(np.float64) @ sound[:, loudest])
        > ONE_SIDED * np.sqrt(power[each] * power[loudest])
        for each in rest
    ]
    if all(alike) and power[loudest] > 0:
        return sound.mean(axis=1), ()
    return sound[:, loudest], (f"of {sound.shape[1]} channels the loudest was listened to.",)


def _resampled(samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
    if rate == RATE:
        return samples
    import soxr

    found: NDArray[np.float32] = soxr.resample(samples, rate, RATE)
    return found
