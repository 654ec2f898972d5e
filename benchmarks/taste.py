"""Taste: what ranking, drawing and fitting by it cost, and how near to transcribed solos the lines come."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import islice
from typing import Any

from benchmarks.forms import compiled
from benchmarks.measure import Spread, in_turns, ratio
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import Tables, form, rules
from everyline.rules.line import Events
from everyline.rules.taste import strangeness
from everyline.rules.taste_statistics import counted, distances
from everyline.solver.compiler import compile_rules
from everyline.solver.fitting import fit
from everyline.solver.hearing import Hearing
from everyline.solver.picking import pick
from everyline.solver.sample import sample_numbers
from everyline.solver.smooth import smoothest
from everyline.solver.strange import drawn_by_taste, least_strange
from tests.tastes import KEPT_ASIDE, LEARNED_FROM

TWO_FIVE_ONE = "Dm7 | G7 | Cmaj7"
BLUES = "F7 | Bb7 | F7 | % | Bb7 | % | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7"
PASSING: Tables = {"passing": {"kinds": ["scale", "chromatic"]}, "arpeggio": {"skips": 1}}
COMMON: Tables = {**PASSING, "handoff": {"rule": "nearest-or-common"}}
STYLES: dict[str, Tables] = {
    "ii-V-I": {"changes": TWO_FIVE_ONE, **PASSING},
    "ii-V-I, common tones repeated": {"changes": TWO_FIVE_ONE, **COMMON},
    "twelve-bar blues": {"changes": BLUES, **PASSING},
    "twelve-bar blues, common tones repeated": {"changes": BLUES, **COMMON},
}
WORDS = """
Lines ranked, drawn and fitted by the taste learned from one half of the counts of transcribed solos, beside
compiling the space and beside drawing evenly, measured in turns. The distances are Jensen-Shannon divergences
in bits (intervals, pairs of successive intervals, degrees given the chord's family and the beat) from the
other half, which the taste has not learned from; the two halves lie 0.000, 0.011 and 0.002 apart. All rule
files have both kinds of passing notes and one skip; the handoff is `nearest`, or `nearest-or-common` where
common tones may be repeated.
""".strip()


def section(quick: bool) -> Section:
    """Measure. ``quick`` takes one turn, few lines and one rule file."""
    turns, lines = (1, 100) if quick else (3, 1000)
    styles = list(STYLES.items())[: 1 if quick else None]
    head = ("", "processor time", "of what", "ratio to it")
    return Section(
        "Taste",
        WORDS,
        (
            Table(head, tuple(_times(turns, lines))),
            Table(
                ("", "lines", "intervals", "pairs", "degrees"),
                tuple(row for name, tables in styles for row in _nearness(name, tables, lines)),
            ),
        ),
    )


def _times(turns: int, lines: int) -> list[tuple[Cell, ...]]:
    short, long = rules({"changes": TWO_FIVE_ONE}), rules(form(32))
    diagram = compile_rules(long)
    rows: list[tuple[Cell, ...]] = []

    def row(name: str, work: Callable[[], Any], beside: str, other: Callable[[], Any]) -> None:
        here, there = in_turns([work, other], turns)
        rows.append((name, Spread.of(here).seconds(), beside, ratio(here, there).times()))

    def least(wanted: Any) -> Callable[[], Any]:
        return lambda: list(islice(least_strange(wanted, compile_rules(wanted), LEARNED_FROM), 100))

    for name, wanted in (("default ii-V-I", short), ("32 bars", long)):
        row(
            f"{name}: compile, 100 least strange",
            least(wanted),
            "compiling",
            compiled(wanted),
        )
    row(
        f"32 bars: {lines} lines by taste",
        lambda: list(islice(drawn_by_taste(Hearing.of(long, diagram), LEARNED_FROM), lines)),
        f"{lines} lines drawn evenly",
        lambda: [diagram.line(number) for number in sample_numbers(diagram.count, lines, 1)],
    )
    row(
        "default ii-V-I: fitting",
        lambda: fit(Hearing.of(short, compile_rules(short)), LEARNED_FROM),
        "compiling",
        lambda: compile_rules(short).count,
    )
    return rows


def _nearness(name: str, tables: Tables, lines: int) -> list[tuple[Cell, ...]]:
    """How far lines chosen in several ways are from the style kept aside."""
    wanted = rules(tables)
    diagram = compile_rules(wanted)
    hearing = Hearing.of(wanted, diagram)
    fitted = fit(hearing, LEARNED_FROM).taste
    by_fitted = drawn_by_taste(hearing, fitted)
    pool = (
        line._replace(strangeness=strangeness(wanted, line.events, LEARNED_FROM))
        for line in drawn_by_taste(hearing, fitted)
    )
    ways: dict[str, Sequence[Events]] = {
        "evenly": [diagram.line(number) for number in sample_numbers(diagram.count, lines, 1)],
        "the smoothest": [line.events for line in islice(smoothest(diagram, wanted.weights), lines)],
        "by taste": [line.events for line in islice(drawn_by_taste(hearing, LEARNED_FROM), lines)],
        "by the fitted taste": [line.events for line in islice(by_fitted, lines)],
        "picked": [line.events for line in pick(wanted, pool, 100).lines],
    }
    style = KEPT_ASIDE.statistics
    assert style is not None
    return [
        (f"{name}: {way}", len(found), *(f"{each:.3f}" for each in distances(counted(wanted, found), style)))
        for way, found in ways.items()
    ]
