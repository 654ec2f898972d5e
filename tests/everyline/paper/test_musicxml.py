"""MusicXML out: valid against the W3C schema, bars that add up, labels and marks that can be switched off."""

from collections.abc import Iterator
from fractions import Fraction
from functools import cache

import pytest
from lxml import etree

from everyline import lines, parse
from everyline.corpora.errors import InputError
from everyline.paper.musicxml import write
from everyline.paper.score_options import ScoreOptions
from everyline.rules.annotate import AnnotatedLine
from tests.schema import musicxml_schema

RULES = {
    "plain": 'changes = "Dm7 | G7 | Cmaj7"',
    "altered, in a key": 'changes = "Dm7b5 | G7alt | Cm(maj7)"\nkey = "Cm"',
    "suspended": 'changes = "G7sus4 | G7b9 | C6/9"',
    "two chords a bar": 'changes = "Fm7 Bb7 | Ebmaj7"\nkey = "Eb"',
    "triplets": 'changes = "Am7 / D7 / | Gmaj7"\nsubdivision = 3\n[approach]\ncount = ["0"]',
    "sixteenths": 'changes = "Am7 D7 | Gmaj7"\nsubdivision = 4\n[approach]\ncount = ["0"]',
    "waltz": 'changes = "Em7 | A7 | Dmaj7 | %"\nmeter = "3/4"',
    "six eighths": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "6/8"\n[arpeggio]\nturns = 2',
    "five": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "5/4"\n[arpeggio]\nturns = 1',
    "halves": 'changes = "Em7 | A7 | Dmaj7"\nmeter = "2/2"',
    "pickup": 'changes = "Dm7 | G7 | Cmaj7"\n[entry]\npickup = [3]',
    "late entry": 'changes = "Dm7 | G7 | Cmaj7"\n[entry]\nbeats = ["2&"]',
    "guitar": 'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "guitar"\nposition = 5',
    "bass": 'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "bass-guitar"',
    "trumpet": 'changes = "C#m7 | F#7 | Bmaj7"\nkey = "B"\n[range]\ninstrument = "trumpet"',
    "baritone": 'changes = "Bbm7 | Eb7 | Abmaj7"\nkey = "Ab"\n[range]\ninstrument = "baritone-saxophone"',
}


@cache
def some_lines(name: str) -> list[AnnotatedLine]:
    space = parse(RULES[name])
    assert space.count > 2
    return [space[0], space[space.count // 2], space[space.count - 1]]


def read(data: bytes) -> etree._Element:
    return etree.fromstring(data)


def bar_fillings(score: etree._Element) -> Iterator[tuple[str, Fraction, list[Fraction]]]:
    """Number, expected length in quarters, and what each staff holds, for each bar that is no pickup."""
    meter = Fraction(4)
    for measure in score.iter("measure"):
        time = measure.find("attributes/time")
        if time is not None:
            meter = Fraction(4 * int(time.findtext("beats")), int(time.findtext("beat-type")))
        totals: dict[str, Fraction] = {}
        for note in measure.findall("note"):
            staff = note.findtext("staff", "1")
            totals[staff] = totals.get(staff, Fraction()) + Fraction(int(note.findtext("duration")), 480)
        if measure.get("implicit") != "yes":
            yield measure.get("number"), meter, list(totals.values())


@pytest.mark.parametrize("name", RULES)
@pytest.mark.parametrize("concert", [False, True])
def test_valid_and_full_bars(name: str, concert: bool) -> None:
    options = ScoreOptions(tempo=132, swing="by-tempo", concert=concert, title="Lines & <marks>")
    score = read(write(some_lines(name), options))
    musicxml_schema().assertValid(score)
    for number, meter, totals in bar_fillings(score):
        assert totals and all(total == meter for total in totals), number


@pytest.mark.parametrize("name", RULES)
def test_same_bytes_every_time(name: str) -> None:
    assert write(some_lines(name)) == write(some_lines(name))


def test_labels_and_marks_are_off_on_request() -> None:
    line = lines("Dm7 | G7 | Cmaj7", start="D4")[0]
    bare = read(write([line], ScoreOptions(roles=False, degrees=False, numbers=False)))
    assert not bare.findall(".//lyric") and not bare.findall(".//direction")
    full = read(write([line], ScoreOptions(tempo=96, swing="2:1")))
    assert full.findtext(".//lyric/text") == "entry"
    assert full.findtext(".//per-minute") == "96"
    assert (full.findtext(".//swing/first"), full.findtext(".//swing/second")) == ("2", "1")


def test_no_line_and_mixed_instruments_are_refused() -> None:
    with pytest.raises(InputError, match="no line"):
        write([])
    guitar, trumpet = (parse(RULES[name])[0] for name in ("guitar", "trumpet"))
    with pytest.raises(InputError, match="several instruments"):
        write([guitar, trumpet])


@pytest.mark.parametrize(
    "wrong",
    [{"staves": "tabs"}, {"beams": "bar"}, {"tempo": 5}, {"swing": "9:1"}, {"swing": "by-tempo"}],
    ids=lambda wrong: next(iter(wrong)),
)
def test_wrong_options_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError):
        ScoreOptions(**wrong)  # type: ignore[arg-type]


def test_tablature_of_a_trumpet_is_refused_and_of_no_instrument_is_a_guitars() -> None:
    with pytest.raises(InputError, match="no frets"):
        write([parse(RULES["trumpet"])[0]], ScoreOptions(staves="both"))
    score = read(write([parse(RULES["plain"])[0]], ScoreOptions(staves="both")))
    steps = [
        each.findtext("tuning-step") + each.findtext("tuning-octave") for each in score.iter("staff-tuning")
    ]
    # MusicXML 4.0, tablature tutorial: line 1 is the lowest string of a guitar.
    assert steps == ["E2", "A2", "D3", "G3", "B3", "E4"]


def test_a_line_that_is_partly_blank_still_fills_its_bars() -> None:
    line = parse(RULES["guitar"])[7]
    score = read(write([line], blanks=[frozenset({0, 3, 4})]))
    musicxml_schema().assertValid(score)
    assert all(total == meter for _, meter, totals in bar_fillings(score) for total in totals)
    printed = {note.get("id") for note in score.iter("note") if note.find("pitch") is not None}
    assert not printed & {"n1-0", "n1-3", "n1-4", "t1-0", "t1-3", "t1-4"}


@pytest.mark.parametrize(
    ("tempo", "swing", "marks"),
    [
        # Swing by tempo: a short note of 100 ms (Friberg and Sundstrom 2002): 2:1 at 200, straight at 300.
        (160, "by-tempo", ("3", "2")),
        (200, "by-tempo", ("13", "10")),
        (300, "by-tempo", None),
        (120, "straight", None),
        (120, "1.3", ("13", "10")),
        (120, "3:1", ("3", "1")),
    ],
)
def test_swing_in_lowest_terms(tempo: int, swing: str, marks: tuple[str, str] | None) -> None:
    score = read(write([parse(RULES["plain"])[0]], ScoreOptions(tempo=tempo, swing=swing)))
    found = score.find(".//swing")
    if marks is None:
        assert found.find("straight") is not None
    else:
        assert (found.findtext("first"), found.findtext("second")) == marks


def test_lines_in_one_file_restate_only_what_changes() -> None:
    lines = [parse(RULES[name])[0] for name in ("plain", "two chords a bar", "waltz", "plain")]
    score = read(write(lines))
    musicxml_schema().assertValid(score)
    firsts = [m for m in score.iter("measure") if m.find("attributes") is not None]
    assert [m.findtext("attributes/key/fifths") for m in firsts] == [None, "-3", "0", None]
    assert [m.findtext("attributes/time/beats") for m in firsts] == ["4", None, "3", "4"]
    assert len([m for m in score.iter("measure") if m.find("print[@new-system]") is not None]) == 3
    numbers = [m.get("number") for m in score.iter("measure")]
    assert len(set(numbers)) == len(numbers)


def test_tablature_keeps_to_the_position_of_the_rules() -> None:
    space = parse('changes = "F7 | Bb7 | F7"\n[range]\ninstrument = "guitar"\nposition = 5\nspan = 4')
    for line in space.sample(5, seed=1):
        frets = {int(fret.text) for fret in read(write([line])).iter("fret")}
        assert frets <= {5, 6, 7, 8}


def test_page_layout_systems_and_bar_numbers_of_each_line() -> None:
    space = parse('changes = "Dm7 | G7 | Cmaj7 | % | Fmaj7 | Bb7 | Cmaj7 | %"\n[handoff]\nrule = "any"')
    score = etree.fromstring(write(space.sample(2, seed=1)))
    musicxml_schema().assertValid(score)
    size = [float(score.findtext(f"defaults/page-layout/page-{side}")) for side in ("width", "height")]
    tenths = 40 / float(score.findtext("defaults/scaling/millimeters"))
    assert [round(each / tenths) for each in size] == [210, 297]
    measures = score.findall("part/measure")
    shown = [each.get("text", each.get("number")) for each in measures]
    assert shown == [str(number) for number in range(1, 9)] * 2
    assert len({each.get("number") for each in measures}) == 16
    broken = [place for place, each in enumerate(measures) if each.find("print[@new-system]") is not None]
    assert 8 in broken and len(broken) > 2
