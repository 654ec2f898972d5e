"""Numbers drawn by seed, the same on every machine."""

from __future__ import annotations

from zlib import crc32


def drawn(seed: int, tick: int, what: str) -> int:
    """A number drawn for a moment and a purpose; 0 for the seed 0, which is the usual way of playing."""
    return crc32(f"{seed} {tick} {what}".encode()) if seed else 0
