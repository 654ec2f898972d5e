"""Lines as sound and as files: MusicXML, MIDI, WAV, PDF, SVG, text."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from everyline.page.lines_view import draw_line
from everyline.page.rules_view import one_line_of
from everyline.rules.annotate import AnnotatedLine
from everyline.text.rows import write_rows

if TYPE_CHECKING:
    from everyline.page.operations import Workspace
    from everyline.sound.sound_options import SoundOptions

Tables = dict[str, Any]


def _one(workspace: Workspace, tables: Tables, number: str) -> AnnotatedLine:
    space = workspace.space(tables)
    return space.line(one_line_of(space, number))


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


def timing(workspace: Workspace, tables: Tables, number: str, options: dict[str, Any]) -> dict[str, Any]:
    """When each note sounds, in seconds from the start of the sound, out of the performance itself.

    ``loop`` says of the same line as a loop how long it is, and where bar 1 is in it.
    """
    from dataclasses import replace

    from everyline.sound.performance import perform

    line = _one(workspace, tables, number)
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


def sound(workspace: Workspace, tables: Tables, number: str, options: dict[str, Any]) -> bytes:
    """The line as WAV."""
    return wav([_one(workspace, tables, number)], options)


def wav(lines: Sequence[AnnotatedLine], options: dict[str, Any]) -> bytes:
    """Lines one after another as WAV. Raises EverylineError where no synthesiser is installed."""
    from everyline.sound.audio import write

    return write(lines, sound_options(options))


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
    line = _one(workspace, tables, number)
    if form == "svg":
        return draw_line(line, staves, 180, fretboard=fretboard).encode()
    title = line.rules.title or f"Line {number[:20]}"
    return files([line], form, staves, options, title, fretboard)


def files(
    lines: Sequence[AnnotatedLine],
    form: str,
    staves: str,
    options: dict[str, Any],
    title: str,
    fretboard: str = "none",
) -> bytes:
    """Lines as one file of a format."""
    if form == "musicxml":
        from everyline.paper.musicxml import write
        from everyline.paper.score_options import ScoreOptions

        score = ScoreOptions(staves=staves, tempo=options["tempo"], swing=options["swing"], title=title)
        return write(lines, score)
    if form == "mid":
        from everyline.sound.midi_file import write as write_midi

        return write_midi(lines, sound_options(options))
    if form == "wav":
        return wav(lines, options)
    if form == "pdf":
        from everyline.page.sheets import sheet

        return sheet(lines, staves=staves, tempo=options["tempo"], title=title, fretboard=fretboard)
    out = io.StringIO()
    write_rows(lines, "text", out)
    return out.getvalue().encode()
