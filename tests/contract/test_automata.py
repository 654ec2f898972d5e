"""A limit written out as steps reads lines exactly as the limit itself does."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.rules.acceptor import Limit
from everyline.rules.line import Note
from everyline.solver.engines.automata import Layers, TooManySteps, tabulate
from tests.contract.small_spaces import LIMITS, space

LENGTH = 6
PITCHES = range(60, 67)
ALL_LIMITS = [limit for which in LIMITS for limit in space(which).limits]
RULES = space("base")

alphabet = [{p: RULES.note((place * 240, p, 240)) for p in PITCHES} for place in range(LENGTH)]
everything_follows = [{p: tuple(PITCHES) for p in PITCHES}] * (LENGTH - 1)
lines = st.lists(st.sampled_from(PITCHES), min_size=LENGTH, max_size=LENGTH)


def reads(limit: Limit, notes: list[Note]) -> bool:
    state = limit.start()
    for note in notes:
        after = limit.step(state, note)
        if after is None:
            return False
        state = after
    return limit.content(state)


def accepts(layers: Layers, pitches: list[int]) -> bool:
    state: int | None = 0
    for steps, pitch in zip(layers, pitches, strict=True):
        state = next((after for before, read, after in steps if (before, read) == (state, pitch)), None)
    return state is not None


@given(number=st.integers(0, len(ALL_LIMITS) - 1), pitches=lines)
def test_steps_accept_a_line_exactly_when_the_limit_does(number: int, pitches: list[int]) -> None:
    limit = ALL_LIMITS[number]
    notes = [alphabet[place][pitch] for place, pitch in enumerate(pitches)]
    assert accepts(_layers(number), pitches) == reads(limit, notes)


_known: dict[int, Layers] = {}


def _layers(number: int) -> Layers:
    if number not in _known:
        _known[number] = tabulate(ALL_LIMITS[number], alphabet, everything_follows)
    return _known[number]


@pytest.mark.parametrize("number", range(len(ALL_LIMITS)))
def test_a_state_and_a_pitch_lead_to_one_state_and_none_is_idle(number: int) -> None:
    layers = _layers(number)
    if not any(layers):
        # Eighths without a rest can never meet limits that ask for more notes, or for rests.
        assert ALL_LIMITS[number].kind in ("notes", "rests", "rhythm")
        return
    for place, steps in enumerate(layers):
        assert len({step[:2] for step in steps}) == len(steps)
        before = {0} if place == 0 else {after for _, _, after in layers[place - 1]}
        assert {state for state, _, _ in steps} == before


def test_only_pitches_that_may_follow_are_read() -> None:
    upward = [{p: tuple(q for q in PITCHES if q > p) for p in PITCHES}] * (LENGTH - 1)
    layers = tabulate(ALL_LIMITS[0], alphabet, upward)
    assert accepts(layers, [60, 61, 62, 63, 64, 65])
    assert not accepts(layers, [60, 61, 62, 63, 64, 64])


def test_too_many_steps_are_refused() -> None:
    with pytest.raises(TooManySteps):
        tabulate(ALL_LIMITS[0], alphabet, everything_follows, most=10)


def test_no_steps_where_no_line_is_accepted() -> None:
    stuck = space("no line").limits[0]
    nothing_repeats = [{p: tuple(q for q in PITCHES if q != p) for p in PITCHES}] * (LENGTH - 1)
    assert not any(tabulate(stuck, alphabet, nothing_repeats))
