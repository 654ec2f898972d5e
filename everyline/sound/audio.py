"""Audio of lines: the parts through the sound bank that comes with the program, mixed at a comfortable level.

A note on loudness for whoever shows this to people: start low, and rest the ears.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, replace
from functools import cache
from io import BytesIO
from threading import Event
from typing import TYPE_CHECKING

from everyline.corpora.errors import EverylineError, InputError, did_you_mean
from everyline.rules.annotate import AnnotatedLine
from everyline.solver.interrupt import apart
from everyline.sound import bank
from everyline.sound.midi_file import write_performance
from everyline.sound.mix import folded, line_volumes, mixed, printed
from everyline.sound.performance import Performance, perform, programs
from everyline.sound.sound_options import LINE, PARTS, SECOND, SoundOptions
from everyline.sound.tags import Tags, tagged

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

FORMATS = ("wav", "flac", "mp3")
"""What can be written: WAV is 16-bit PCM, FLAC the same in less room, MP3 with some loss in the least; MP3 is
slow to make.

The same input gives the same bytes of WAV and FLAC; the MP3 encoder does not promise it.
"""
MOST_MINUTES = 60
SECONDS_AT_ONCE = 10
"""How much is encoded before it is asked whether to go on."""


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
        return _wav(self) if name == "wav" else tagged(_encoded(self, name), name, self.tags)

    @property
    def tags(self) -> Tags:
        """What a file of it says about it, beside the sound."""
        first = self.performance.passes[0]
        rules = first.line.rules
        changes = " ".join(rules.progression.text.split())
        numbers = {each.line.number for each in self.performance.passes}
        number = first.line.number if len(numbers) == 1 else None
        title = rules.title or changes
        tempi = {each.map.tempo for each in self.performance.passes}
        return Tags(
            title=title if number is None else f"{title}, line {number}",
            tempo=round(first.map.tempo) if len(tempi) == 1 else 0,
            key=rules.key or "",
            chords=changes,
        )


def render(
    lines: AnnotatedLine | Iterable[AnnotatedLine],
    options: SoundOptions | None = None,
    seconds: Sequence[AnnotatedLine | None] = (),
) -> Audio:
    """Play lines through the sound bank. A part is as loud whatever else is heard with it, and the same input
    sounds the same. A loop is exactly as long as its bars: played over and over it goes on without a gap.
    ``seconds`` are second parts, for each line one or None.

    Raises InputError where there is no line, where everything is muted, where a line's program is not in the
    bank or the sound would last longer than an hour; EverylineError where there is no synthesiser on this
    machine.
    """
    chosen = options or SoundOptions()
    rows = (lines,) if isinstance(lines, AnnotatedLine) else tuple(lines)
    performance = perform(rows, chosen, seconds)
    wanted = programs(rows, chosen)
    _check(performance, wanted, chosen)
    line, rate = _heard(performance, wanted, chosen, {LINE})
    second, third = _heard(performance, wanted, chosen, {SECOND}) if any(seconds) else (None, 0)
    backing, other = _heard(performance, wanted, chosen, frozenset(PARTS) - {LINE, SECOND})
    sound, rate = mixed(line, backing, second), rate or third or other
    if not sound.any():
        raise InputError("Every part is muted, so there is nothing to hear; leave one part unmuted.")
    if chosen.loop:
        start = round(performance.loop_start * rate)
        sound = folded(sound, start, round(performance.seconds * rate) - start)
    return Audio(printed(sound), rate, performance)


def _heard(
    performance: Performance, wanted: list[int], options: SoundOptions, parts: Set[str]
) -> tuple[NDArray[np.int16] | None, int]:
    """What is heard of some parts, and its rate; None and 0 where that is nothing."""
    chosen = replace(options, mute=options.mute | (frozenset(PARTS) - parts))
    if not any(map(chosen.plays, PARTS)):
        return None, 0
    return _synthesise(write_performance(performance, wanted, chosen, line_volumes()))


def write(
    lines: AnnotatedLine | Iterable[AnnotatedLine],
    options: SoundOptions | None = None,
    form: str = "wav",
    seconds: Sequence[AnnotatedLine | None] = (),
) -> bytes:
    """A sound file of lines, in one of ``FORMATS``. Raises as ``render`` does."""
    return render(lines, options, seconds).encode(form)


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
    second = options.plays(SECOND) and any(each.second for each in performance.passes)
    missing = sorted(set(wanted) - bank.PROGRAMS) if options.plays(LINE) or second else []
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
    buffer, stopped = BytesIO(), Event()

    def encode() -> None:
        channels, piece = samples.shape[1], SECONDS_AT_ONCE * audio.rate
        with soundfile.SoundFile(buffer, "w", audio.rate, channels, format=form.upper(), **quality) as file:
            for at in range(0, len(samples), piece):
                if stopped.is_set():
                    return
                file.write(samples[at : at + piece])

    apart(encode, stopped.set)
    return buffer.getvalue()
