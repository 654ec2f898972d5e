"""Lines as files for other programs: the format follows from the file's suffix."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.corpora.errors import InputError, did_you_mean
from everyline.files.writing import writing
from everyline.rules.annotate import AnnotatedLine
from everyline.text.rows import write_rows

if TYPE_CHECKING:
    from everyline.handout.write import HandoutOptions
    from everyline.paper.score_options import ScoreOptions
    from everyline.sound.sound_options import SoundOptions


@dataclass(frozen=True)
class ExportOptions:
    """What paper and sound share.

    ``tempo`` is in beats a minute, ``swing`` by-tempo, straight or a ratio (2:1). A ``ladder`` of tempi plays
    each line at each of them in turn. ``on_strings`` (1 the highest), ``hand_at`` (a fret) and
    ``open_strings`` (avoid, allow, prefer or never) say how tablature is fingered, ``fretboard`` (right or
    left, the hand that plucks) draws the fretboard below each line; ``fingers`` prints which finger plays
    each note. ``feel``, ``bass`` and ``backing_seed`` say how lines are accompanied (see ``SoundOptions``).
    """

    title: str = ""
    tempo: float = 120.0
    swing: str = "by-tempo"
    staves: str = "auto"
    labels: bool = True
    concert: bool = False
    colour: bool = True
    fingers: bool = True
    on_strings: tuple[int, ...] | None = None
    hand_at: int | None = None
    open_strings: str = "avoid"
    fretboard: str | None = None
    count_in: int = 1
    repeats: int = 1
    ladder: tuple[float, ...] = ()
    mute: frozenset[str] = field(default_factory=frozenset)
    loop: bool = False
    feel: str = "by-meter"
    bass: str = "by-feel"
    backing_seed: int | None = None


def score_options(options: ExportOptions) -> ScoreOptions:
    """What the score shows."""
    from everyline.paper.fingering import Hand
    from everyline.paper.score_options import ScoreOptions

    return ScoreOptions(
        hand=Hand(options.open_strings, options.on_strings, options.hand_at),
        fretboard=options.fretboard,
        staves=options.staves,
        concert=options.concert,
        roles=options.labels,
        degrees=options.labels,
        fingers=options.fingers,
        tempo=options.tempo,
        swing=options.swing,
        title=options.title,
    )


def sound_options(options: ExportOptions) -> SoundOptions:
    """How the lines are played."""
    from everyline.sound.sound_options import SoundOptions

    return SoundOptions(
        tempi=options.ladder or (options.tempo,),
        swing=options.swing,
        count_in=options.count_in,
        repeats=options.repeats,
        mute=options.mute,
        loop=options.loop,
        feel=options.feel,
        bass=options.bass,
        seed=options.backing_seed,
    )


def _musicxml(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.musicxml import write

    return write(lines, score_options(options))


def _svg(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.picture import PictureOptions, svg

    return svg(lines, score_options(options), PictureOptions(colour=options.colour)).encode()


def _png(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.picture import png

    return png(_svg(lines, options).decode())


def _pdf(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.sheet import Sheet, SheetExercise, SheetOptions, sheet_pdf

    exercises = [SheetExercise(line, task=line.guide) for line in lines]  # the sheet prints numbers itself
    look = SheetOptions(score=score_options(options), colour=options.colour)
    return sheet_pdf(Sheet(options.title or "Lines", exercises), look)


def _html(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.handout.write import handout
    from everyline.paper.sheet import SheetExercise

    exercises = [SheetExercise(line, task=line.guide) for line in lines]
    return handout(options.title or "Lines", exercises, options=handout_options(options))


def handout_options(options: ExportOptions) -> HandoutOptions:
    """How a student's file looks and sounds."""
    from everyline.handout.write import HandoutOptions

    return HandoutOptions(score_options(replace(options, title="")), options.colour, sound_options(options))


def _midi(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.sound.midi_file import write

    return write(lines, sound_options(options))


def _audio(form: str) -> Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        from everyline.sound.audio import write as write_audio

        return write_audio(lines, sound_options(options), form)

    return write


def _rows(form: str) -> Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        out = io.StringIO()
        write_rows(lines, form, out)
        return out.getvalue().encode()

    return write


FORMATS: dict[str, Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]] = {
    ".musicxml": _musicxml,
    ".mid": _midi,
    ".wav": _audio("wav"),
    ".flac": _audio("flac"),
    ".mp3": _audio("mp3"),
    ".svg": _svg,
    ".png": _png,
    ".pdf": _pdf,
    ".html": _html,
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
        raise InputError("no lines selected.")
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
