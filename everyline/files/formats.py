"""Lines as files for other programs: the format follows from the file's suffix."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.corpora.errors import InputError, did_you_mean
from everyline.files.writing import writing
from everyline.paper.score_options import ScoreOptions
from everyline.rules.annotate import AnnotatedLine
from everyline.sound.sound_options import SoundOptions
from everyline.sound.swing import BY_TEMPO
from everyline.text.rows import write_rows

if TYPE_CHECKING:
    from everyline.paper.sheet import SheetExercise
    from everyline.paper.two_parts import SecondStaff


def _usual_score() -> ScoreOptions:
    return ScoreOptions(tempo=120.0, swing=BY_TEMPO)


@dataclass(frozen=True)
class ExportOptions:
    """How lines are written in any format: a title, how they look as a score, how they sound, whether
    pictures are in colour, and second parts, for each line one or None."""

    title: str = ""
    score: ScoreOptions = field(default_factory=_usual_score)
    sound: SoundOptions = field(default_factory=SoundOptions)
    colour: bool = True
    seconds: tuple[SecondStaff | None, ...] = ()

    @property
    def titled(self) -> ScoreOptions:
        """The score under its title. Raises InputError for one that cannot be printed."""
        return replace(self.score, title=self.title)


Writer = Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]


def _musicxml(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.musicxml import write

    return write(lines, options.titled, seconds=options.seconds)


def _svg(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.picture import PictureOptions, svg

    look = PictureOptions(colour=options.colour)
    return svg(lines, options.titled, look, seconds=options.seconds).encode()


def _png(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.picture import png

    return png(_svg(lines, options).decode())


def _pdf(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.paper.sheet import Sheet, SheetOptions, sheet_pdf

    exercises = _exercises(lines, options)  # the sheet prints numbers itself
    look = SheetOptions(score=options.titled, colour=options.colour)
    return sheet_pdf(Sheet(options.title or "Lines", exercises), look)


def _html(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.handout.write import HandoutOptions, handout

    look = HandoutOptions(options.score, options.colour, options.sound)
    return handout(options.title or "Lines", _exercises(lines, options), options=look)


def _exercises(lines: Sequence[AnnotatedLine], options: ExportOptions) -> list[SheetExercise]:
    from everyline.paper.sheet import SheetExercise

    return [
        SheetExercise(line, task=line.guide, second=second)
        for line, second in zip_longest(lines, options.seconds)
    ]


def _midi(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
    from everyline.sound.midi_file import write

    return write(lines, options.sound, _played(options))


def _played(options: ExportOptions) -> list[AnnotatedLine | None]:
    """The second parts that are heard: one at concert pitch sounds as the line itself does."""
    return [None if each is None or each.concert else each.line for each in options.seconds]


def _audio(form: str) -> Writer:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        from everyline.sound.audio import write as write_audio

        return write_audio(lines, options.sound, form, _played(options))

    return write


def _rows(form: str) -> Writer:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        out = io.StringIO()
        write_rows(lines, form, out)
        return out.getvalue().encode()

    return write


@dataclass(frozen=True, slots=True)
class Format:
    """A kind of file: its media type, which options it shows or sounds (see ``cli.format_options``), its
    writer."""

    media_type: str
    shows: frozenset[str]
    write: Writer


_NOTHING: frozenset[str] = frozenset()
_SOUND = frozenset("second_part tempo swing count_in repeats loop ladder mute feel bass backing_seed".split())
_SCORE = frozenset(
    "second_part staves labels fingers concert on_strings hand_at open_strings tempo swing".split()
)
_PICTURE = _SCORE | {"colour", "fretboard"}
# A file for a student is seen and heard; it repeats and changes the tempo by itself.
_STUDENT = _PICTURE | {"title"} | (_SOUND - {"repeats", "loop", "ladder"})

FORMATS: dict[str, Format] = {
    ".musicxml": Format("application/vnd.recordare.musicxml+xml", _SCORE | {"title"}, _musicxml),
    ".mid": Format("audio/midi", _SOUND, _midi),
    ".wav": Format("audio/wav", _SOUND, _audio("wav")),
    ".flac": Format("audio/flac", _SOUND, _audio("flac")),
    ".mp3": Format("audio/mpeg", _SOUND, _audio("mp3")),
    ".svg": Format("image/svg+xml", _PICTURE, _svg),
    ".png": Format("image/png", _PICTURE, _png),
    ".pdf": Format("application/pdf", _PICTURE | {"title"}, _pdf),
    ".html": Format("text/html; charset=utf-8", _STUDENT, _html),
    ".txt": Format("text/plain; charset=utf-8", _NOTHING, _rows("text")),
    ".jsonl": Format("application/jsonl", _NOTHING, _rows("jsonl")),
    ".csv": Format("text/csv; charset=utf-8", _NOTHING, _rows("csv")),
}
"""Every kind of file that lines are written as, by its suffix: one row for the command line and the page."""

STUDENT = ".html"
"""The suffix of a file for a student, which holds a lesson or a drill set with sound and answers."""


def showing(option: str) -> tuple[str, ...]:
    """The suffixes of the formats in which an option is seen or heard."""
    return tuple(suffix for suffix, form in FORMATS.items() if option in form.shows)


def export(lines: Sequence[AnnotatedLine], path: Path | str, options: ExportOptions | None = None) -> None:
    """Write lines to a file. Raises InputError for a suffix that is not in FORMATS, or nothing to write."""
    path = Path(path)
    form = format_of(path)
    if not lines:
        raise InputError("no lines selected.")
    content = form.write(lines, options or ExportOptions())
    with writing(path, "wb") as file:
        file.write(content)


def format_of(path: Path) -> Format:
    """The format of files with this path's suffix. Raises InputError where there is none."""
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        shown = f'"{suffix}"' if suffix else "a file without a suffix"
        raise InputError(
            f"{path}: {shown} cannot be written; the suffix is one of {', '.join(FORMATS)}."
            f"{did_you_mean(suffix, FORMATS)}"
        )
    return FORMATS[suffix]
