"""Which notes a line can start on, for the teacher who asked for one that none can."""

from __future__ import annotations

from dataclasses import replace

from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.compiler import compile_rules


def first_notes(rules: Rules) -> str:
    """The first notes of all lines there are when the start note is left open, low to high; empty when
    there are none."""
    diagram = compile_rules(replace(rules, entry=replace(rules.entry, pitches=None)))
    pitches = sorted({diagram.events[label].pitch for label in diagram.labels[diagram.root]})
    chord = rules.progression.chords[0]
    return ", ".join(spell(pitch, chord, rules.scales[0], rules.key) for pitch in pitches)
