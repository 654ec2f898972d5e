"""Long forms beside a ii-V-I, and how the work grows."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

from benchmarks.measure import Spread, in_turns, once, ratio
from benchmarks.report import Cell, Plot, Section, Table
from benchmarks.spaces import II_V_I, Tables, form, rules
from everyline.rules.moves.base import ground
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.spaces.space import Space

BIG = 10**30
WORDS_FORM = """
Thirty-two bars beside a ii-V-I, measured in turns. Asking for one line, or for a sample, goes down the
diagram once for each line, so the size of the space does not matter: what a line costs follows from its
notes. What a chord allows on each pitch is worked out once in a process and kept; the second row is without
that.
""".strip()
WORDS_GROWTH = """
Compiling and counting, with one thing at a time made larger. The exponent is the slope from one row to the
next on logarithmic scales: 1 means twice the work for twice the size.
""".strip()


def section(quick: bool) -> Section:
    """A form with more than 10^30 lines beside a ii-V-I."""
    small, large = Space(rules(II_V_I)), Space(rules(form(32)))
    if large.count <= BIG:
        raise RuntimeError(f"the form has only {large.count} lines")
    turns = 3 if quick else 5
    questions: list[tuple[str, Callable[[Space], Any], int]] = [
        ("compile and count", lambda space: compile_rules(space.rules).count, 3 if quick else 25),
        ("compile and count, nothing known of the chords", _compiled_anew, turns),
        ("1000 lines by number, notes alone", _by_number, turns),
        ("one line by its number, analysed", lambda space: space.line(space.count * 2 // 3), turns),
        ("100 samples, analysed", _samples, 1 if quick else 3),
    ]
    rows: list[tuple[Cell, ...]] = []
    for name, ask, times in questions:
        one, other = in_turns([_asked(ask, small), _asked(ask, large)], times)
        rows.append((name, Spread.of(one).seconds(), Spread.of(other).seconds(), ratio(other, one).times()))
    notes = [len(space.diagram.line(1)) for space in (small, large)]
    rows.append(("notes in line 1", notes[0], notes[1], f"{notes[1] / notes[0]:.3g}"))
    rows.append(("lines", small.count, f"{large.count:.3e}", ""))
    return Section(
        "A form of thirty-two bars", WORDS_FORM, (Table(("", "ii-V-I", "32 bars", "ratio"), tuple(rows)),)
    )


def _asked(ask: Callable[[Space], Any], space: Space) -> Callable[[], Any]:
    return lambda: ask(space)


def _compiled_anew(space: Space) -> int:
    ground.cache_clear()
    return compile_rules(space.rules).count


def _by_number(space: Space) -> None:
    count, diagram = space.count, space.diagram
    for place in range(1000):
        diagram.line(1 + place * count // 1000)


def _samples(space: Space) -> Any:
    return space.sample(100, seed=1)


WORDS_RICHER = """
What passing notes and a rhythm of cells add, compiled and counted in turns with the same space without
them: a ii-V-I with every ending that fits, and thirty-two bars that end plainly.
""".strip()
PASSING = {"passing": {"kinds": ["scale", "chromatic"]}}
EIGHT_CELLS = {"rhythm": {"cells": ["8 8", "4", "r8 8", "8t 8t 8t", "4. 8", "8 4 8", "2", "8 8 4"]}}


def richer(quick: bool) -> Section:
    """Passing notes and cells beside a note on every slot."""
    rows: list[tuple[Cell, ...]] = []
    for name, plain in (("ii-V-I", II_V_I), ("32 bars", form(32))):
        spaces = [rules(plain | more) for more in ({}, PASSING, EIGHT_CELLS, PASSING | EIGHT_CELLS)]
        times = in_turns([compiled(each) for each in spaces], 3 if quick else 9)
        words = (
            "a note a slot",
            "both kinds of passing notes",
            "eight cells",
            "passing notes and eight cells",
        )
        for each, word, time in zip(spaces, words, times, strict=True):
            diagram = compile_rules(each)
            size = (f"{diagram.count:.3e}", diagram.size[0])
            rows.append((f"{name}, {word}", *size, Spread.of(time).seconds(), ratio(time, times[0]).times()))
    heads = ("space", "lines", "nodes", "compile and count", "to a note a slot")
    return Section("Passing notes and rhythm", WORDS_RICHER, (Table(heads, tuple(rows)),))


LIMITS: Sequence[Tables] = (
    {"kind": "largest-leap", "semitones": 9},
    {"kind": "outside-notes", "most": 4},
    {"kind": "direction-changes", "least": 2, "most": 12},
    {"kind": "strong-beats", "beats": ["1", "3"]},
    {"kind": "no-return", "notes": 3},
)
FIGURES = (
    "above-below", "below-above", "chromatic-above-below", "chromatic-below-above", "diatonic-above-below",
    "diatonic-below-above", "above-double-below", "below-double-above", "double-above-below",
    "double-below-above", "chromatic-below", "chromatic-above", "diatonic-above", "diatonic-below",
    "double-chromatic-below", "double-chromatic-above",
)  # fmt: skip


def growing(quick: bool) -> dict[str, list[tuple[int, Tables]]]:
    """For each thing that grows, its sizes and the space of each size."""
    bars = (3, 6, 12, 24) if quick else (3, 6, 12, 24, 48, 96)
    top = ("B3", "E4", "B4", "B5")
    plain = {"ending": {"use": ["plain"]}}
    changes = {"changes": "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7"}
    return {
        "bars": [(n, form(n)) for n in bars],
        "semitones of range": [
            (semitones, changes | plain | {"range": {"lowest": "E3", "highest": highest}})
            for semitones, highest in zip((7, 12, 19, 31), top, strict=True)
        ],
        "figures": [
            (n, changes | plain | {"approach": {"figures": list(FIGURES[:n])}}) for n in (1, 2, 4, 8, 16)
        ],
        "limits": [(n, changes | plain | {"limit": list(LIMITS[:n])}) for n in range(1, len(LIMITS) + 1)],
    }


def growth(quick: bool) -> Section:
    """How compiling and counting grow."""
    tables, curves = [], {}
    for thing, sizes in growing(quick).items():
        rows: list[tuple[Cell, ...]] = []
        points: list[tuple[float, float]] = []
        for size, each in sizes:
            wanted = rules(each)
            diagram = compile_rules(wanted)
            spread = Spread.of([once(compiled(wanted)) for _ in range(1 if quick else 7)])
            points.append((size, spread.median))
            rows.append((size, f"{diagram.count:.3e}", diagram.size[0], spread.seconds(), _slope(points)))
        tables.append(Table((thing, "lines", "nodes", "compile and count", "exponent"), tuple(rows)))
        curves[thing] = points
    plot = Plot("growth", "Compile and count", "size", "seconds of processor time", curves)
    return Section("Growth", WORDS_GROWTH, tuple(tables), (plot,))


def compiled(wanted: Rules) -> Callable[[], Any]:
    return lambda: compile_rules(wanted).count


def _slope(points: Sequence[tuple[float, float]]) -> str:
    """The slope between the last two points, on logarithmic scales."""
    steps = list(pairwise(points))
    if not steps:
        return ""
    (x, y), (across, up) = steps[-1]
    return f"{math.log(up / y) / math.log(across / x):.2f}"
