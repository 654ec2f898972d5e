"""All properties of lines, a row each, in the order in which they are shown."""

from __future__ import annotations

from everyline.solver.properties.analysis import (
    ENDINGS,
    FIGURES,
    HANDOFFS,
    PASSING_NOTES,
    TARGET_DEGREES,
    TARGETS,
)
from everyline.solver.properties.base import Property
from everyline.solver.properties.cost import ROUGHNESS, STRANGENESS
from everyline.solver.properties.fretboard import POSITION
from everyline.solver.properties.harmony import DEGREE, LANDING, OUTSIDE_NOTES
from everyline.solver.properties.pitch import (
    DIRECTION,
    DIRECTION_CHANGES,
    HIGHEST_NOTE,
    INTERVAL,
    LARGEST_LEAP,
    PITCH,
    RANGE,
)
from everyline.solver.properties.start import ENTRY_BEAT, START_DEGREE, START_NOTE
from everyline.solver.properties.time import NUMBER_OF_NOTES, RHYTHM

PROPERTIES: dict[str, Property] = {
    each.name: each
    for each in (
        START_NOTE,
        START_DEGREE,
        ENTRY_BEAT,
        FIGURES,
        TARGETS,
        TARGET_DEGREES,
        PASSING_NOTES,
        HANDOFFS,
        LANDING,
        RHYTHM,
        ENDINGS,
        HIGHEST_NOTE,
        OUTSIDE_NOTES,
        DIRECTION,
        POSITION,
        INTERVAL,
        DEGREE,
        PITCH,
        ROUGHNESS,
        STRANGENESS,
        NUMBER_OF_NOTES,
        LARGEST_LEAP,
        RANGE,
        DIRECTION_CHANGES,
    )
}

TRAITS: dict[str, str] = {
    **{name: each.says for name, each in PROPERTIES.items() if each.notes is not None},
    **{name: each.says for name, each in PROPERTIES.items() if each.marks is not None},
}
"""The properties by which sets are balanced or covered, since each line has values of them; those of the
notes first."""
