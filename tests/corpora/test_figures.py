"""Approach figures: steps, the catalogue, the families."""

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora import STEPS, Figure, InputError, load, parse_steps
from everyline.corpora.figures import MOST_STEPS

CORPUS = load()
SIZES = {"enclosure-2": 8, "enclosure-3": 12, "enclosure-4": 6}


@given(st.lists(st.sampled_from(STEPS), min_size=1, max_size=MOST_STEPS))
def test_steps_read_back(steps: list[str]) -> None:
    figure = Figure("any", parse_steps(" ".join(steps)))
    assert figure.steps == tuple(steps)
    assert parse_steps(figure.text) == figure.steps
    assert len(figure) == len(steps)
    assert figure.two_sided == (any("+" in step for step in steps) and any("-" in step for step in steps))


def test_typographic_minus_is_read() -> None:
    assert parse_steps("+d −1") == ("+d", "-1")


@pytest.mark.parametrize("text", ["+3", "d", "1", "+d,-1", "++1", "-d -"])
def test_wrong_step_is_named(text: str) -> None:
    with pytest.raises(InputError, match=r"is not a step: write one of \+d, -d, \+1, -1, \+2, -2"):
        parse_steps(text)


@pytest.mark.parametrize("text", ["", " ", "+1 " * (MOST_STEPS + 1)])
def test_too_few_or_too_many_steps(text: str) -> None:
    with pytest.raises(InputError, match="step"):
        parse_steps(text)


@pytest.mark.parametrize(("name", "size"), SIZES.items())
def test_families_hold_exactly_what_their_rule_says(name: str, size: int) -> None:
    # The slow reference: every sequence, filtered by the rule word for word.
    steps = {"+2": 2, "+1": 1, "-1": -1, "-2": -2}

    def closes_in(sequence: tuple[str, ...]) -> bool:
        values = [steps[step] for step in sequence]
        above = [value for value in values if value > 0]
        below = [-value for value in values if value < 0]
        both = bool(above) and bool(below)
        no_equal_neighbours = all(a != b for a, b in pairwise(values))
        shrinking = all(a > b for side in (above, below) for a, b in pairwise(side))
        return both and no_equal_neighbours and shrinking

    expected = {sequence for sequence in product(steps, repeat=int(name[-1])) if closes_in(sequence)}
    family = CORPUS.families[name]
    assert {figure.steps for figure in family} == expected
    assert len(family) == size
    assert len({figure.name for figure in family}) == size
    assert all(figure.two_sided for figure in family)


def test_plain_enclosures_of_published_teaching() -> None:
    # Wikipedia, "Jazz improvisation" (enclosure): the scale tone above and the chromatic tone below, or the
    # chromatic tone below and the scale tone above; J. Antoniuk, enclosure handout: diatonic above, half step
    # below, target.
    assert CORPUS.figures["above-below"].steps == ("+d", "-1")
    assert CORPUS.figures["below-above"].steps == ("-1", "+d")


@pytest.mark.parametrize("figure", CORPUS.figures.values(), ids=lambda figure: figure.name)
def test_names_of_the_catalogue_say_what_the_steps_do(figure: Figure) -> None:
    """A name gives the sides in order, ``double`` for two steps, after ``chromatic`` or ``diatonic``."""
    sides: list[str] = []
    for step in figure.steps:
        side = "above" if step[0] == "+" else "below"
        if sides and sides[-1].endswith(side):
            sides[-1] = f"double-{side}"
        else:
            sides.append(side)
    words = figure.name.replace("double-chromatic-", "chromatic-double-")
    for kind, letters in (("chromatic-", "12"), ("diatonic-", "d")):
        if words.startswith(kind):
            assert all(step[1] in letters for step in figure.steps)
            words = words.removeprefix(kind)
    assert words == "-".join(sides)
    # Whatever is chromatic closes in: two steps on one side are two semitones, then one.
    for side in "+-":
        semitones = [step[1] for step in figure.steps if step[0] == side]
        assert semitones in ([], ["d"], ["1"], ["2", "1"])


def test_no_two_figures_of_the_catalogue_are_the_same() -> None:
    assert len({figure.steps for figure in CORPUS.figures.values()}) == len(CORPUS.figures) == 18
