"""No line under the defaults has the wrong third over its tonic: shown by counts that are 0."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from everyline.rules.acceptor import State
from everyline.rules.line import TICKS_PER_BEAT, Note
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from everyline.solver.intersect import intersect
from tests.spaces import CORPUS

MINOR_THIRD, MAJOR_THIRD = 3, 4
MAJOR = ("Dm7 | G7 | Cmaj7", "Gm7 C7 | F6", "Bb7 | Eb", "F#7 | Bmaj7", "Am7 | D7 / G7 / | Cmaj7")
MINOR = ("Dm7b5 | G7 | Cm7", "Am7b5 D7b9 | Gm6", "F#7alt | Bm", "Em7b5 | A7 | Dm(maj7)")


@dataclass(frozen=True)
class Heard:
    """Lines with a note of this degree of the last chord from a tick on, on a beat or anywhere."""

    degree: int
    root_class: int
    since: int
    on_beat: bool
    kind: str = "heard"

    def start(self) -> State:
        return False

    def step(self, state: State, note: Note) -> State | None:
        sounds = (note.pitch - self.root_class) % 12 == self.degree and note.onset >= self.since
        return bool(state) or (sounds and not (self.on_beat and note.onset % TICKS_PER_BEAT))

    def content(self, state: State) -> bool:
        return bool(state)


@pytest.mark.parametrize("changes", MAJOR)
def test_no_minor_third_on_a_beat_over_a_major_tonic(changes: str) -> None:
    rules = parse_rules({"changes": changes}, CORPUS)
    root = rules.progression.chords[-1].root_class
    everything = compile_rules(rules)
    wrong = Heard(MINOR_THIRD, root, rules.resolution_tick, on_beat=True)
    assert intersect(everything, wrong, rules).count == 0
    right = Heard(MAJOR_THIRD, root, rules.resolution_tick, on_beat=True)
    assert 0 < intersect(everything, right, rules).count < everything.count


@pytest.mark.parametrize("changes", MINOR)
def test_no_major_third_over_a_minor_tonic(changes: str) -> None:
    rules = parse_rules({"changes": changes}, CORPUS)
    root = rules.progression.chords[-1].root_class
    everything = compile_rules(rules)
    wrong = Heard(MAJOR_THIRD, root, rules.resolution_tick, on_beat=False)
    assert intersect(everything, wrong, rules).count == 0
    right = Heard(MINOR_THIRD, root, rules.resolution_tick, on_beat=False)
    assert 0 < intersect(everything, right, rules).count < everything.count


def test_a_named_ending_may_have_any_third() -> None:
    """A teacher who names an ending means it."""
    blue = {"name": "blue", "notes": "b7 1 | b3 3", "rhythm": "8 8 | 8 4."}
    rules = parse_rules(
        {"changes": "Dm7 | G7 | Cmaj7", "endings": [blue], "ending": {"use": ["blue"]}}, CORPUS
    )
    wrong = Heard(MINOR_THIRD, 0, rules.resolution_tick, on_beat=True)
    diagram = compile_rules(rules)
    assert intersect(diagram, wrong, rules).count == diagram.count > 0
