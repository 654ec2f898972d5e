"""What the analyses of a line have: figures, their targets, passing notes, handoffs, endings."""

from __future__ import annotations

from typing import Any

from everyline.rules.analysis import PLAIN
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.figure_marks import ENDING, FIGURE, HANDOFF, PASSING, TARGET, Mark
from everyline.solver.properties.base import Analyses, Facet, MarkReader, Property, facet
from everyline.solver.readingsums import count_without

_ANY = "A line that can be read in several ways counts for each of them."
_NO_FIGURE, _NO_TARGET, _NO_PASSING = "no figure", "no target", "none"

# -- the mark of one line, in words --------------------------------------------------------------------------


def _value(mark: Mark) -> str:
    return str(mark.value)


def _figure(rules: Rules) -> MarkReader:
    return MarkReader(FIGURE, _value, _NO_FIGURE, FIGURE)


def _target(rules: Rules) -> MarkReader:
    name = rules.progression.beat_name

    def label(mark: Mark) -> str:
        degree, slot = mark.value
        return f"{degree} on beat {name(slot)}"

    return MarkReader(TARGET, label, _NO_TARGET, FIGURE)


def _target_degree(rules: Rules) -> MarkReader:
    return MarkReader(TARGET, lambda mark: str(mark.value[0]), _NO_TARGET, FIGURE)


def _passing(rules: Rules) -> MarkReader:
    return MarkReader(PASSING, _value, _NO_PASSING, PASSING)


def _handoff(rules: Rules) -> MarkReader:
    progression = rules.progression

    def label(mark: Mark) -> str:
        where = (
            f"{progression.chords[mark.chord].symbol}, {progression.place(progression.starts[mark.chord])}"
        )
        return f"{_entered(rules, mark)} into {where}"

    return MarkReader(HANDOFF, label)


def _entered(rules: Rules, mark: Mark) -> str:
    """The note that a handoff enters a chord on."""
    if mark.value is None:
        return "inside the ending"
    return spell(mark.value, rules.progression.chords[mark.chord], rules.scales[mark.chord], rules.key)


def _ending(rules: Rules) -> MarkReader:
    return MarkReader(ENDING, _value)


# -- all lines -----------------------------------------------------------------------------------------------


def _figures(rules: Rules, all_lines: Analyses) -> list[Facet]:
    counts = all_lines.counts
    found = [(figure.name, counts.get(Mark(FIGURE, 0, figure.name), 0)) for figure in rules.approach.figures]
    found.append((_NO_FIGURE, count_without(all_lines.graph, FIGURE)))
    return [facet(FIGURE, FIGURES.says, found, _ANY, named=True)]


def _passing_notes(rules: Rules, all_lines: Analyses) -> list[Facet]:
    counts = all_lines.counts
    found = [(kind, counts.get(Mark(PASSING, 0, kind), 0)) for kind in rules.passing.kinds]
    found.append((_NO_PASSING, count_without(all_lines.graph, PASSING)))
    return [facet(PASSING, PASSING_NOTES.says, found, _ANY if rules.passing.kinds else "", named=True)]


def _targets(rules: Rules, all_lines: Analyses) -> list[Facet]:
    semitones = {
        chord.degree_of(chord.root_class + tone): tone
        for chord in rules.progression.chords
        for tone in range(12)
    }

    def order(mark: Mark) -> tuple[Any, ...]:
        degree, slot = mark.value
        return semitones[degree], degree, slot

    label = _target(rules).label
    marks = sorted((mark for mark in all_lines.counts if mark.kind == TARGET), key=order)
    found = [(label(mark), all_lines.counts[mark]) for mark in marks]
    found.append((_NO_TARGET, count_without(all_lines.graph, FIGURE)))
    return [facet(TARGET, TARGETS.says, found, _ANY)]


def _handoffs(rules: Rules, all_lines: Analyses) -> list[Facet]:
    progression, counts = rules.progression, all_lines.counts
    found = []
    for index, chord in enumerate(progression.chords[1:], 1):
        here = (mark for mark in counts if mark.kind == HANDOFF and mark.chord == index)
        marks = sorted((mark for mark in here if mark.value is not None), key=lambda mark: mark.value)
        marks.append(Mark(HANDOFF, index, None))
        title = f"note that enters {chord.symbol}, {progression.place(progression.starts[index])}"
        values = ((_entered(rules, mark), counts.get(mark, 0)) for mark in marks)
        found.append(facet(HANDOFF, title, values))
    return found


def _endings(rules: Rules, all_lines: Analyses) -> list[Facet]:
    names = [PLAIN, *(ending.name for ending in rules.endings)]
    values = ((name, all_lines.counts.get(Mark(ENDING, 0, name), 0)) for name in names)
    return [facet(ENDING, ENDINGS.says, values, _ANY, named=True)]


FIGURES = Property(
    FIGURE, "approach figure, anywhere in the line", marks=_figure, mark_facet=_figures, column="figures"
)
TARGETS = Property(
    TARGET,
    "degree and beat on which a figure lands, anywhere in the line",
    marks=_target,
    mark_facet=_targets,
    column="targets",
)
TARGET_DEGREES = Property("target-degree", "degree on which a figure lands", marks=_target_degree)
PASSING_NOTES = Property(
    PASSING,
    "passing notes, anywhere in the line",
    marks=_passing,
    mark_facet=_passing_notes,
    column="passing",
)
HANDOFFS = Property(
    HANDOFF,
    "note on which a new chord is entered, for each change",
    marks=_handoff,
    mark_facet=_handoffs,
    column="handoffs",
)
ENDINGS = Property(ENDING, "how the line ends", marks=_ending, mark_facet=_endings, column="endings")
