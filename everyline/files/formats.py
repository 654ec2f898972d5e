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
    each note. ``feel``, ``bass`` and ``backing_seed`` say how lines are accompanied (see ``SoundOptions``);
    ``sound`` says everything about it at once, and then holds alone.
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
    sound: SoundOptions | None = None


Writer = Callable[[Sequence[AnnotatedLine], ExportOptions], bytes]


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
    if options.sound is not None:
        return options.sound
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


def _audio(form: str) -> Writer:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        from everyline.sound.audio import write as write_audio

        return write_audio(lines, sound_options(options), form)

    return write


def _rows(form: str) -> Writer:
    def write(lines: Sequence[AnnotatedLine], options: ExportOptions) -> bytes:
        out = io.StringIO()
        write_rows(lines, form, out)
        return out.getvalue().encode()

    return write


@dataclass(frozen=True, slots=True)
class Format:
    """A kind of file: its media type, the fields of ``ExportOptions`` that it shows or sounds, its writer."""

    media_type: str
    shows: frozenset[str]
    write: Writer


_NOTHING: frozenset[str] = frozenset()
_SOUND = frozenset("tempo swing count_in repeats loop ladder mute feel bass backing_seed".split())
_SCORE = frozenset("staves labels fingers concert on_strings hand_at open_strings tempo swing".split())
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


def showing(field: str) -> tuple[str, ...]:
    """The suffixes of the formats that show or sound a field of ``ExportOptions``."""
    return tuple(suffix for suffix, form in FORMATS.items() if field in form.shows)


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
