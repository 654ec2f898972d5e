"""A take of a line as WAV, FLAC and MP3, and the same with something wrong in its bytes or its header."""

from __future__ import annotations

import struct
from collections.abc import Callable
from io import BytesIO

import numpy as np
import soundfile

from everyline.rules.annotate import AnnotatedLine
from tests.hostile.values import Chance, spoiled_bytes

RATE, TEMPO = 16_000, 240
TAKES = {
    "take.wav": ("WAV", "PCM_16"),
    "take.flac": ("FLAC", "PCM_16"),
    "take.mp3": ("MP3", "MPEG_LAYER_III"),
}
"""Names of the takes, with what the library for sound files calls their formats."""


def takes(line: AnnotatedLine) -> dict[str, bytes]:
    """The line played once, with a plain tone, at TEMPO beats a minute, as a file of each kind."""
    sound = np.concatenate([_tone(note.pitch, note.length) for note in line.notes])
    made = {}
    for name, (kind, subtype) in TAKES.items():
        file = BytesIO()
        soundfile.write(file, sound, RATE, format=kind, subtype=subtype)
        made[name] = file.getvalue()
    return made


def _tone(pitch: int, ticks: int) -> np.ndarray:
    """A note (a MIDI number) with four partials that dies away; 480 ticks are a beat."""
    count = int(RATE * ticks / 480 * 60 / TEMPO)
    at = np.arange(count) / RATE
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    wave = sum(np.sin(2 * np.pi * hertz * part * at) / part for part in range(1, 5))
    return np.asarray(0.3 * wave * np.exp(-3 * at) * np.minimum(1, np.minimum(at, at[::-1]) * 200))


def spoiled_take(name: str, data: bytes, chance: Chance) -> bytes:
    """A take with a header that claims too much, with sound that nobody plays, or with damaged bytes."""
    if chance.random() < 0.4:
        return spoiled_bytes(data, chance)
    kind, subtype = TAKES[name]
    return chance.choice(_WRONG)(data, kind, subtype, chance)


def _claims_too_much(data: bytes, kind: str, subtype: str, chance: Chance) -> bytes:
    """Numbers at their ends in a header: sizes, rates, channels, depths, lengths."""
    made = bytearray(data)
    for _ in range(chance.choice((1, 2, 4))):
        at, size = chance.randrange(4, 48), chance.choice((1, 2, 4, 8))
        made[at : at + size] = chance.choice((b"\xff", b"\x00", b"\x7f", b"\x80")) * size
    return bytes(made)


def _nothing_but_a_header(data: bytes, kind: str, subtype: str, chance: Chance) -> bytes:
    return data[: chance.choice((0, 4, 12, 36, 44, 200))]


def _many_channels(data: bytes, kind: str, subtype: str, chance: Chance) -> bytes:
    """A header of the format WAV for any channels and rate, which claims hours; little comes after it."""
    channels, rate = (
        chance.choice((0, 1, 8, 200, 1024, 65535)),
        chance.choice((0, 1, 8000, 768_000, 2**32 - 1)),
    )
    depth = chance.choice((8, 16, 24, 32))
    block = channels * depth // 8
    form = struct.pack("<HHIIHH", 1, channels, rate, rate * block % 2**32, block % 2**16, depth)
    claimed = chance.choice((0, 2**31 - 1, 2**32 - 1))
    head = b"RIFF" + struct.pack("<I", claimed) + b"WAVEfmt " + struct.pack("<I", 16) + form
    return head + b"data" + struct.pack("<I", claimed) + chance.randbytes(chance.choice((0, 1, 5000)))


def _nobody_plays(data: bytes, kind: str, subtype: str, chance: Chance) -> bytes:
    """Silence, noise, clicks, one click, full scale, a hum, very short."""
    count = chance.choice((1, 100, 3000, RATE * 2))
    dice = np.random.default_rng(chance.randrange(2**32))
    sound = chance.choice(
        (
            np.zeros(count),
            dice.uniform(-1, 1, count),
            (dice.random(count) > 0.999).astype(float),
            np.ones(count),
            np.sin(np.arange(count) * 0.02),
            np.sign(np.sin(np.arange(count) * chance.choice((0.001, 0.3, 3)))),
        )
    )
    channels = chance.choice((1, 1, 2, 2, 6)) if kind != "MP3" else 1
    file = BytesIO()
    soundfile.write(file, np.tile(sound[:, None], (1, channels)), RATE, format=kind, subtype=subtype)
    return file.getvalue()


def _named_otherwise(data: bytes, kind: str, subtype: str, chance: Chance) -> bytes:
    """Another file under the name of a take."""
    return chance.choice(
        (b"MThd\0\0\0\x06\0\1\0\1\1\xe0", b"<?xml version='1.0'?><x/>", b"ID3" + b"\xff" * 900)
    )


_WRONG: tuple[Callable[[bytes, str, str, Chance], bytes], ...] = (
    _claims_too_much,
    _claims_too_much,
    _nothing_but_a_header,
    _many_channels,
    _nobody_plays,
    _nobody_plays,
    _named_otherwise,
)
