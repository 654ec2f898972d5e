"""A second part: a line of the same rules, below the first, with as many thirds as any such line has."""

import pytest

from everyline import parse
from everyline.rules.annotate import AnnotatedLine
from everyline.spaces.second_part import GAPS, THIRDS, second_part, third_below

FIRST = 'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "guitar"'
SMALL = (
    'changes = "Dm7 | Cmaj7"\n[range]\nlowest = "G3"\nhighest = "C5"\n[approach]\ncount = ["0"]\n'
    '[handoff]\nrule = "any"\n[passing]\nkinds = ["scale"]\n[ending]\nuse = ["plain"]'
)


def test_a_second_part_is_a_line_of_the_rules_below_the_first() -> None:
    space = parse(FIRST)
    found = [(line, second_part(space, line)) for line in space.sample(6, seed=2)]
    assert any(second for _, second in found)
    for line, second in found:
        if second is None:
            continue
        assert space.line(second.line.number) == second.line
        assert [n.onset for n in second.line.notes] == [n.onset for n in line.notes]
        gaps = [high.pitch - low.pitch for low, high in zip(second.line.notes, line.notes, strict=True)]
        assert set(gaps) <= set(GAPS)
        assert sum(gap in THIRDS for gap in gaps) == second.thirds >= len(gaps) / 2


def test_no_other_line_has_more_of_the_wanted_notes() -> None:
    """Against every line of a small space."""
    space = parse(SMALL)
    lines = list(space)
    found = 0
    for line in lines[:: max(1, len(lines) // 40)]:
        second = second_part(space, line)
        if second is None:
            continue
        found += 1
        wanted = [third_below(space.rules, note.onset, note.pitch) for note in line.notes]
        kept = [_agreeing(line, other, wanted) for other in lines]
        assert _agreeing(line, second.line, wanted) == max(kept)
    assert found


def _agreeing(line: AnnotatedLine, other: AnnotatedLine, wanted: list[int]) -> int:
    """How many notes of another line are as wanted, -1 where it is no second part to the first."""
    times = [[(n.onset, n.length) for n in each.notes] for each in (line, other)]
    if times[0] != times[1]:
        return -1
    pairs = list(zip(line.notes, other.notes, strict=True))
    if any(high.pitch - low.pitch not in GAPS for high, low in pairs):
        return -1
    return sum(note.pitch == each for note, each in zip(other.notes, wanted, strict=True))


@pytest.mark.parametrize(
    ("pitch", "onset", "wanted"), [(62, 0, 59), (65, 0, 62), (60, 0, 57), (63, 0, 60), (71, 1920, 67)]
)
def test_a_third_below_in_the_scale(pitch: int, onset: int, wanted: int) -> None:
    """Over Dm7 (D dorian): B below D, D below F, A below C; Eb goes down as D does; over G7 G below B."""
    assert third_below(parse(FIRST).rules, onset, pitch) == wanted
