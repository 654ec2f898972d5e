"""Lines as sound and as files of every format."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from everyline.files.formats import FORMATS, ExportOptions
from everyline.page.lines_view import named_line
from everyline.page.sheets import sheet, shown_fretboard
from everyline.rules.annotate import AnnotatedLine

if TYPE_CHECKING:
    from everyline.page.operations import Workspace
    from everyline.paper.two_parts import SecondStaff
    from everyline.sound.sound_options import SoundOptions

Tables = dict[str, Any]


def sound_options(options: dict[str, Any]) -> SoundOptions:
    """The page's choices as the sound's own. Raises InputError."""
    from everyline.sound.sound_options import SoundOptions

    return SoundOptions(
        tempi=(options["tempo"],),
        swing=options["swing"],
        count_in=options["count_in"],
        repeats=options["repeats"],
        count_in_each=False,
        mute=frozenset(options["mute"]),
        feel=options["feel"],
        feel_gives_way=True,
        seed=options["seed"],
        loop=options["loop"],
    )


def options_of(sound: dict[str, Any], title: str = "", **score: Any) -> ExportOptions:
    """The page's choices as options of a file; ``score`` are fields of a score."""
    usual = ExportOptions(title, sound=sound_options(sound))
    return replace(usual, score=replace(usual.score, tempo=sound["tempo"], swing=sound["swing"], **score))


def timing(
    workspace: Workspace, tables: Tables, number: str, options: dict[str, Any], notes: str | None = None
) -> dict[str, Any]:
    """When each note of a line (see ``named_line``) sounds (see ``timing_of``)."""
    return timing_of(named_line(workspace, tables, number, notes), options)


def timing_of(line: AnnotatedLine, options: dict[str, Any]) -> dict[str, Any]:
    """When each note sounds, in seconds from the start of the sound, out of the performance itself.

    ``loop`` says of the same line as a loop how long it is, and where bar 1 is in it.
    """
    from everyline.sound.performance import perform

    chosen = sound_options(options)
    performance = perform(line, chosen)
    passes = performance.passes
    round_ = perform(line, replace(chosen, loop=True))
    return {
        "seconds": performance.seconds,
        "notes": [
            {"note": each.note, "start": each.start, "end": each.end} for each in performance.timed_notes()
        ],
        "beats": [
            {"at": each.start + beat * 60 / each.map.tempo, "lead": beat < each.lead_beats}
            for each in passes
            for beat in range(each.beats)
        ],
        "bars_start": passes[0].seconds(0),
        "feel": passes[0].feel.name,
        "loop": {
            "begin": round_.passes[0].seconds(0) - round_.loop_start,
            "seconds": round_.seconds - round_.loop_start,
        },
    }


def sound(
    workspace: Workspace, tables: Tables, number: str, options: dict[str, Any], notes: str | None = None
) -> bytes:
    """The line (see ``named_line``) as WAV. Raises EverylineError where no synthesiser is installed."""
    return FORMATS[".wav"].write([named_line(workspace, tables, number, notes)], options_of(options))


def take(
    workspace: Workspace,
    tables: Tables,
    number: str,
    form: str,
    staves: str,
    options: dict[str, Any],
    fretboard: str = "none",
) -> bytes:
    """One line as a file."""
    line = named_line(workspace, tables, number)
    return files([line], form, staves, options, line.rules.title or f"Line {number[:20]}", fretboard)


def files(
    lines: Sequence[AnnotatedLine],
    form: str,
    staves: str,
    options: dict[str, Any],
    title: str,
    fretboard: str = "none",
    seconds: Sequence[SecondStaff | None] = (),
) -> bytes:
    """Lines as one file of a format, a suffix without its dot, with second parts where there are any.

    On paper each is explained bar by bar.
    """
    if form == "pdf":
        return sheet(lines, staves=staves, tempo=options["tempo"], title=title, fretboard=fretboard)
    look = {"staves": staves, "fretboard": shown_fretboard(lines, fretboard)}
    chosen = replace(options_of(options, title, **look), seconds=tuple(seconds))
    return FORMATS[f".{form}"].write(lines, chosen)
