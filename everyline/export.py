"""Lines as files for other programs: the format follows from the file's suffix."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from corpora.errors import InputError, did_you_mean
from everyline.files import writing
from everyline.rows import write_rows
from rules.annotate import AnnotatedLine


@dataclass(frozen=True)
class ExportOptions:
    """What paper and sound share. ``tempo`` in beats a minute; ``swing`` by-tempo, straight or a ratio (2:1)."""

    title: str = ""
    tempo: float = 120.0
    swing: str = "by-tempo"
    staves: str = "auto"
    labels: bool = True
    concert: bool = False
    count_in: int = 1
    mute: frozenset[str] = field(default_factory=frozenset)


def _musicxml(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.musicxml import write
    from everyline.paper.options import ScoreOptions

    score = ScoreOptions(
        staves=options.staves,
        concert=options.concert,
        roles=options.labels,
        degrees=options.labels,
        tempo=options.tempo,
        swing=options.swing,
        title=options.title,
    )
    return write(lines, score)


def _midi(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.sound.midi import write
    from everyline.sound.options import SoundOptions

    sound = SoundOptions(
        tempi=(options.tempo,), swing=options.swing, count_in=options.count_in, mute=options.mute
    )
    return write(lines, sound)


def _rows(form: str) -> Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        out = io.StringIO()
        write_rows(lines, form, out)
        return out.getvalue().encode()

    return write


FORMATS: dict[str, Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]] = {
    ".musicxml": _musicxml,
    ".mid": _midi,
    ".txt": _rows("text"),
    ".jsonl": _rows("jsonl"),
    ".csv": _rows("csv"),
}
"""For each suffix, what writes a file of that kind."""


def export(lines: Sequence[AnnotatedLine], path: Path | str, options: ExportOptions | None = None) -> None:
    """Write lines to a file. Raises InputError for a suffix that is not in FORMATS, or nothing to write."""
    path = Path(path)
    write = writer(path)
    if not lines:
        raise InputError("there is no line to export.")
    content = write(lines, options or ExportOptions())
    with writing(path, "wb") as file:
        file.write(content)


def writer(path: Path) -> Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]:
    """What writes files with this path's suffix. Raises InputError when nothing does."""
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        shown = f'"{suffix}"' if suffix else "a file without a suffix"
        raise InputError(
            f"{path}: {shown} cannot be written; the suffix is one of {', '.join(FORMATS)}."
            f"{did_you_mean(suffix, FORMATS)}"
        )
    return FORMATS[suffix]
