"""Audio of lines: the MIDI file through the sound bank that comes with the program, at a comfortable level.

A note on loudness for whoever shows this to people: start low, and rest the ears.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from typing import TYPE_CHECKING

from everyline.corpora.errors import EverylineError, InputError, did_you_mean
from everyline.rules.annotate import AnnotatedLine
from everyline.sound import bank
from everyline.sound.midi import write_performance
from everyline.sound.options import LINE, SoundOptions
from everyline.sound.performance import Performance, perform, programs

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FORMATS = ("wav", "flac", "mp3")
"""What can be written: WAV is 16-bit PCM, FLAC the same in less room, MP3 with some loss in the least; MP3 is
slow to make.

The same input gives the same bytes of WAV and FLAC; the MP3 encoder does not promise it.
"""
PEAK_DBFS = -6.0
"""Level of the loudest sample, in decibels below full scale."""
MOST_MINUTES = 60
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Audio:
    """Sound: 16-bit samples of shape (frames, 2), frames a second, and the performance that is heard."""

    samples: NDArray[np.int16]
    rate: int
    performance: Performance

    @property
    def seconds(self) -> float:
        """Length."""
        return len(self.samples) / self.rate

    def encode(self, form: str = "wav") -> bytes:
        """The sound as a file of one of ``FORMATS``. Raises InputError for any other."""
        name = form.lower().lstrip(".")
        if name not in FORMATS:
            raise InputError(
                f'"{form}" is not a sound format; allowed are {", ".join(FORMATS)}.'
                f"{did_you_mean(name, FORMATS)}"
            )
        return _wav(self) if name == "wav" else _encoded(self, name)


def render(lines: AnnotatedLine | Iterable[AnnotatedLine], options: SoundOptions | None = None) -> Audio:
    """Play lines through the sound bank; the loudest sample is at ``PEAK_DBFS``. The same input sounds the
    same.

    Raises InputError where there is no line, where everything is muted, where a line's program is not in the
    bank or the sound would last longer than an hour; EverylineError where there is no synthesiser on this
    machine.
    """
    chosen = options or SoundOptions()
    rows = (lines,) if isinstance(lines, AnnotatedLine) else tuple(lines)
    performance = perform(rows, chosen)
    wanted = programs(rows, chosen)
    _check(performance, wanted, chosen)
    samples, rate = _synthesise(write_performance(performance, wanted, chosen))
    return Audio(_normalised(samples), rate, performance)


def write(
    lines: AnnotatedLine | Iterable[AnnotatedLine], options: SoundOptions | None = None, form: str = "wav"
) -> bytes:
    """A sound file of lines, in one of ``FORMATS``. Raises as ``render`` does."""
    return render(lines, options).encode(form)


def available() -> bool:
    """Whether sound can be made on this machine: whether the synthesiser is installed."""
    try:
        _synthesiser()
    except EverylineError:
        return False
    return True


def _check(performance: Performance, wanted: list[int], options: SoundOptions) -> None:
    minutes = performance.seconds / 60
    if minutes > MOST_MINUTES:
        raise InputError(
            f"This would sound for {minutes:.0f} minutes; at most {MOST_MINUTES} fit one file. "
            f"Take fewer lines, tempi or repeats."
        )
    missing = sorted(set(wanted) - bank.PROGRAMS) if options.plays(LINE) else []
    if missing:
        raise InputError(
            f"The sound bank has no General MIDI program {missing[0]}; it has "
            f"{', '.join(map(str, sorted(bank.PROGRAMS)))}. Choose one of these, or take the MIDI file."
        )


def _synthesiser() -> object:
    try:
        import midirenderer
    except ImportError:
        raise EverylineError(
            "There is no synthesiser here, so no sound can be made; MIDI files and all else still work. "
            'It is the package midirenderer: pip install "everyline[sound]" (none for Linux on 64-bit Arm).'
        ) from None
    return midirenderer


@cache
def _bank_bytes() -> bytes:
    return bank.PATH.read_bytes()


def _synthesise(midi: bytes) -> tuple[NDArray[np.int16], int]:
    """Samples of shape (frames, 2) and their rate. Raises EverylineError without a synthesiser."""
    import wave

    import numpy as np

    _synthesiser()
    from midirenderer import render_wave_from

    with wave.open(BytesIO(render_wave_from(_bank_bytes(), midi))) as sound:
        frames = sound.readframes(sound.getnframes())
        return np.frombuffer(frames, np.dtype("<i2")).reshape(-1, sound.getnchannels()), sound.getframerate()


def _normalised(samples: NDArray[np.int16]) -> NDArray[np.int16]:
    """The samples with the loudest at PEAK_DBFS. Raises InputError for silence."""
    import numpy as np

    peak = max(int(samples.max(initial=0)), -int(samples.min(initial=0)))
    if peak == 0:
        raise InputError("Every part is muted, so there is nothing to hear; leave one part unmuted.")
    gain = 32767 * 10 ** (PEAK_DBFS / 20) / peak
    loud = np.empty_like(samples)
    # In chunks: an hour in floating point would take gigabytes.
    for start in range(0, len(samples), _CHUNK):
        part = samples[start : start + _CHUNK]
        loud[start : start + _CHUNK] = np.rint(part * gain).astype(np.int16)
    return loud


def _wav(audio: Audio) -> bytes:
    import wave

    buffer = BytesIO()
    with wave.open(buffer, "wb") as file:
        file.setnchannels(audio.samples.shape[1])
        file.setsampwidth(2)
        file.setframerate(audio.rate)
        file.writeframes(audio.samples.astype("<i2", copy=False).tobytes())
    return buffer.getvalue()


def _encoded(audio: Audio, form: str) -> bytes:
    import numpy as np

    try:
        import soundfile
    except (ImportError, OSError):
        raise EverylineError(
            f"{form.upper()} needs the package soundfile, which is not installed or finds no libsndfile: "
            f'pip install "everyline[sound]". WAV works without it.'
        ) from None
    # About 110 kbit a second: enough for a practice track on a telephone.
    quality = {"compression_level": 0.7, "bitrate_mode": "CONSTANT"} if form == "mp3" else {}
    # From whole numbers libsndfile 1.2.2 writes a stereo MP3 that is noise; from fractions it is right.
    samples = audio.samples / np.float32(32768) if form == "mp3" else audio.samples
    buffer = BytesIO()
    soundfile.write(buffer, samples, audio.rate, format=form.upper(), **quality)
    return buffer.getvalue()
