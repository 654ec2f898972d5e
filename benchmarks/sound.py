"""How fast lines are made to sound."""

from __future__ import annotations

from benchmarks.measure import Spread, in_turns, ratio
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, rules
from everyline.sound import audio, midi_file
from everyline.sound.performance import perform
from everyline.sound.sound_options import SoundOptions
from everyline.spaces.shown import Line
from everyline.spaces.space import Space

WORDS = """
Lines out of a ii-V-I with chords, bass and count-in at 120 beats a minute. The factor of real time is how
many seconds of music come out of one second of processor time.
""".strip()


def section(quick: bool) -> Section:
    """Measure; without a synthesiser on this machine MIDI alone."""
    lines = Space(rules(II_V_I)).sample(10)
    sets = {"one line": lines[:1], "ten lines in one file": lines}
    rows = [row for name, some in sets.items() for row in _rows(name, some, 1 if quick else 3)]
    head = ("", "music", "all", "a line", "factor of real time")
    return Section("Sound", WORDS, (Table(head, tuple(rows)),))


def _rows(name: str, lines: list[Line], turns: int) -> list[tuple[Cell, ...]]:
    music = perform(lines, SoundOptions()).seconds
    works = {"MIDI": lambda: midi_file.write(lines)}
    if audio.available():
        works["WAV"] = lambda: audio.write(lines)
    rows: list[tuple[Cell, ...]] = []
    for form, spent in zip(works, in_turns(list(works.values()), turns), strict=True):
        rows.append(
            (
                f"{form}, {name}",
                f"{music:.0f} s",
                Spread.of(spent).seconds(),
                Spread.of([each / len(lines) for each in spent]).seconds(),
                ratio([music] * len(spent), spent).times(),
            )
        )
    return rows
