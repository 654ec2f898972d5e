"""What a line costs: how rough it is, and how strange to a taste."""

from __future__ import annotations

from collections.abc import Iterable

from everyline.rules.ruleset import Rules
from everyline.rules.taste import UNIT, default_taste
from everyline.solver.diagram import Diagram
from everyline.solver.properties.base import LINES, Count, Property, Tallied
from everyline.solver.smooth import roughness_histogram
from everyline.solver.strange import strangeness_histogram


def _roughness(rules: Rules, diagram: Diagram) -> Iterable[Count]:
    found = roughness_histogram(diagram, rules.weights) if diagram.count else {}
    return (Count(str(value), value, lines) for value, lines in found.items())


def _strangeness(rules: Rules, diagram: Diagram) -> Iterable[Count]:
    """By whole bits, rounded down."""
    bits: dict[int, int] = {}
    found = strangeness_histogram(rules, diagram, default_taste()) if diagram.count else {}
    for strangeness, lines in found.items():
        bits[strangeness // UNIT] = bits.get(strangeness // UNIT, 0) + lines
    return (Count(str(value), value, bits[value]) for value in sorted(bits))


ROUGHNESS = Property(
    "roughness", "how rough each line is; lower is smoother", tally=Tallied(LINES, _roughness)
)
STRANGENESS = Property(
    "strangeness",
    "how strange each line is, in whole bits; lower is more in the style",
    tally=Tallied(LINES, _strangeness),
)
