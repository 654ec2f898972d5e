"""Tags: title, tempo, key and chords in FLAC and MP3 files, so that a player can show and sort them.

FLAC has a Vorbis comment (RFC 9639, section 8.6), MP3 an ID3 tag (ID3v2.4.0, frames TIT2, TBPM, TKEY, COMM
and TSSE). Both are written in UTF-8.
"""

from __future__ import annotations

from dataclasses import dataclass

_COMMENT_BLOCK, _PADDING_BLOCK, _LAST = 4, 1, 0x80
_UTF8 = b"\x03"
SOFTWARE = "Everyline"


@dataclass(frozen=True, slots=True)
class Tags:
    """What is said about a sound: ``tempo`` in whole beats a minute; empty words and 0 are left out."""

    title: str = ""
    tempo: int = 0
    key: str = ""
    chords: str = ""


def tagged(data: bytes, form: str, tags: Tags) -> bytes:
    """A FLAC or MP3 file with these tags in place of its own; any other file as it is."""
    return {"flac": _flac, "mp3": _mp3}.get(form, lambda whole, _: whole)(data, tags)


def _flac(data: bytes, tags: Tags) -> bytes:
    blocks = []
    place, last = 4, False
    while not last:
        kind, size = data[place], int.from_bytes(data[place + 1 : place + 4], "big")
        last = bool(kind & _LAST)
        if kind & ~_LAST not in (_COMMENT_BLOCK, _PADDING_BLOCK):
            blocks.append((kind & ~_LAST, data[place + 4 : place + 4 + size]))
        place += 4 + size
    blocks.append((_COMMENT_BLOCK, _vorbis(tags)))
    head = b"".join(
        bytes([kind | (_LAST if number == len(blocks) else 0)]) + len(block).to_bytes(3, "big") + block
        for number, (kind, block) in enumerate(blocks, 1)
    )
    return data[:4] + head + data[place:]


def _vorbis(tags: Tags) -> bytes:
    said = {"TITLE": tags.title, "BPM": str(tags.tempo or ""), "KEY": tags.key, "DESCRIPTION": tags.chords}
    fields = [f"{name}={value}".encode() for name, value in said.items() if value]
    vendor = SOFTWARE.encode()
    parts = [_sized(vendor), len(fields).to_bytes(4, "little"), *map(_sized, fields)]
    return b"".join(parts)


def _sized(text: bytes) -> bytes:
    return len(text).to_bytes(4, "little") + text


def _mp3(data: bytes, tags: Tags) -> bytes:
    said = {"TIT2": tags.title, "TBPM": str(tags.tempo or ""), "TKEY": tags.key, "TSSE": SOFTWARE}
    frames = b"".join(_frame(name, _UTF8 + value.encode()) for name, value in said.items() if value)
    if tags.chords:
        # Encoding, language, an empty description, the text.
        frames += _frame("COMM", _UTF8 + b"eng" + b"\0" + tags.chords.encode())
    return b"ID3\x04\x00\x00" + _syncsafe(len(frames)) + frames + _without_tag(data)


def _frame(name: str, content: bytes) -> bytes:
    return name.encode("ascii") + _syncsafe(len(content)) + b"\0\0" + content


def _syncsafe(size: int) -> bytes:
    """A length in four bytes of seven bits each."""
    return bytes((size >> shift) & 0x7F for shift in (21, 14, 7, 0))


def _without_tag(data: bytes) -> bytes:
    if data[:3] != b"ID3":
        return data
    size = sum(byte << shift for byte, shift in zip(data[6:10], (21, 14, 7, 0), strict=True))
    return data[10 + size :]
