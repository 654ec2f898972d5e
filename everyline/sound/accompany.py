"""The accompaniment: shell voicings and a bass, made by rule."""

from __future__ import annotations

from collections.abc import Iterator

from everyline.sound.part import PartNote
from everyline.sound.swing import SwingMap
from rules.progression import Progression


def accompany(
    progression: Progression, bars: int, timing: SwingMap, bass: str, parts: tuple[str, ...]
) -> Iterator[PartNote]:
    """The wanted parts over a progression."""
    return iter(())
