"""Two players on one page: joined staves, names, beats under each other, and words for all of it."""

import re
from io import BytesIO
from xml.etree import ElementTree

import pypdf
import pytest

from everyline import parse
from everyline.corpora.errors import InputError
from everyline.paper.engrave import engrave
from everyline.paper.musicxml import write
from everyline.paper.picture import svg
from everyline.paper.score_options import ScoreOptions
from everyline.paper.sheet import SecondStaff, Sheet, SheetExercise, SheetOptions, key_pdf, sheet_pdf
from everyline.paper.system_marks import System
from everyline.spaces.second_part import second_part
from tests.handmade import handmade
from tests.sweeps import sweep
from tests.tagged import tags_of

SPACE = parse(
    'changes = "Dm7 | G7 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"\n[approach]\ncount = ["0-1"]'
)
PAIRS = [
    (line, SecondStaff(found.line))
    for line in SPACE.sample(sweep(8, 300), seed=2)
    for found in [second_part(SPACE, line)]
    if found is not None
]
LINE, SECOND = PAIRS[0]
ALTO = handmade(
    "D4:4. F4 A4 B4 G4:4 r8 B4 D5:4. C5:2", "Dm7 | G7 | Cmaj7", range={"instrument": "alto-saxophone"}
)
CONCERT = SecondStaff(ALTO, concert=True)


def figures(pdf: bytes) -> list[str]:
    """What the pictures with music in a tagged document say."""
    said = [text for kind, text in tags_of(pdf) if kind == "/Figure"]
    assert all(said)
    return [text for text in said if text and "of two players" in text]


def drawn(system: System) -> str:
    return "".join(ElementTree.tostring(each, encoding="unicode") for each in system.elements)


def heads(picture: str, letter: str) -> dict[str, float]:
    """Where the heads of a part's notes stand, by the note's place in the line."""
    found = re.findall(rf'id="{letter}1-(\d+)" class="note"><g><use [^>]*translate\(([\d.]+)', picture)
    return {place: float(x) for place, x in found}


@pytest.mark.parametrize("staves", ["staff", "both", "tab"])
def test_bar_lines_go_through_all_staves_and_beats_stand_under_each_other(staves: str) -> None:
    (system,) = engrave(LINE, ScoreOptions(staves=staves), second=SECOND)
    picture = drawn(system)
    bars = re.findall(r'd="M([\d.]+) ([\d.]+) L\1 ([\d.]+)" stroke-width="27"', picture)
    assert len(bars) == 4  # one begins the system
    reach = {(float(top), float(bottom)) for _, top, bottom in bars}
    lines = {float(y) for y in re.findall(r'd="M[\d.]+ ([\d.]+) L[\d.]+ \1" stroke-width="13"', picture)}
    assert len(lines) == {"staff": 10, "both": 22, "tab": 12}[staves]
    for top, bottom in reach:
        assert (top, bottom) == pytest.approx((min(lines), max(lines)), abs=10)
    assert picture.count("#E003") == picture.count("#E004") == 1  # the ends of the bracket
    assert picture.count('class="player"') == 2
    if staves != "tab":
        upper, lower = heads(picture, "n"), heads(picture, "m")
        assert len(upper) == len(LINE.notes)
        assert upper == lower
    for letter in {"staff": "nm", "both": "ntms", "tab": "ts"}[staves]:
        assert len(set(re.findall(rf'id="{letter}1-(\d+)"', picture))) == len(LINE.notes)


def test_symbols_stand_once_where_both_read_the_same_and_twice_where_not() -> None:
    (thirds,) = engrave(LINE, second=SECOND)
    (concert,) = engrave(ALTO, second=CONCERT)
    assert (drawn(thirds).count('class="chord"'), drawn(concert).count('class="chord"')) == (3, 6)
    # At concert pitch it is the same line, with the same marks.
    assert drawn(concert).count('class="role ') == len(ALTO.notes)
    assert drawn(thirds).count('class="role ') == 2 * len(LINE.notes)


@pytest.mark.parametrize("staves", ["both", "tab"])
def test_rows_under_the_upper_tablature_end_before_the_lower_staff_begins(staves: str) -> None:
    for line, second in PAIRS:
        (system,) = engrave(line, ScoreOptions(staves=staves), second=second)
        _, upper, lower = (ElementTree.tostring(each, "unicode") for each in system.elements)
        rows = {float(y) for y in re.findall(r"translate\((?!0 )[\d.-]+ ([\d.]+)\)", upper)}
        picture = drawn(system)
        heads = re.findall(r'id="m1-\d+" class="note"><g><use [^>]*translate\([\d.]+, ([\d.]+)', picture)
        beams = re.findall(r'points="[\d.]+,([\d.]+) [\d.]+,([\d.]+)', picture)
        lines = sorted(
            {float(y) for y in re.findall(r'd="M[\d.]+ ([\d.]+) L[\d.]+ \1" stroke-width="13"', picture)}
        )
        own = lines[len(lines) // 2 :]
        below = [*map(float, heads), *(float(y) for pair in beams for y in pair), *own]
        assert max(rows) < min(y for y in below if y > lines[len(lines) // 2 - 1])
        assert max(rows) + 60 < min(
            float(y) for y in re.findall(r"translate\((?!0 )[\d.-]+ ([\d.]+)\)", lower)
        )


def test_a_line_without_a_second_part_rests_there_in_a_score() -> None:
    root = ElementTree.fromstring(write([LINE, LINE], ScoreOptions(staves="staff"), seconds=[None, SECOND]))
    upper, lower = root.findall("part")
    assert len(upper.findall("measure")) == len(lower.findall("measure")) == 6
    rests = [len(bar.findall("note/rest[@measure='yes']")) for bar in lower.findall("measure")]
    assert rests[:3] == [1, 1, 1] and rests[3:5] == [0, 0]
    assert [each.text for each in root.iterfind("part-list/score-part/part-name")] == ["Guitar 1", "Guitar 2"]


def test_parts_of_two_kinds_do_not_go_into_one_score() -> None:
    with pytest.raises(InputError, match="concert pitch"):
        write([ALTO, ALTO], seconds=[CONCERT, SecondStaff(ALTO)])


def test_one_picture_holds_lines_with_and_without() -> None:
    picture = svg([LINE, LINE], ScoreOptions(staves="staff"), seconds=[None, SECOND])
    assert 'id="n2-0"' in picture and 'id="m2-0"' in picture and 'id="m1-0"' not in picture
    assert "below it" in picture


def test_a_sheet_says_both_parts_in_words_and_its_key_has_both() -> None:
    exercises = [
        SheetExercise(LINE, second=SECOND),
        SheetExercise(LINE, second=SECOND),
    ]
    pdf = sheet_pdf(Sheet("Two guitars", exercises), SheetOptions())
    said = figures(pdf)
    assert len(said) == 2
    upper, lower = said[0].split("Guitar 2: ")
    assert upper.startswith("Staff and tablature of two players. Guitar 1: Dm7: ")
    assert lower.startswith("Dm7: ") and lower != upper.split("Guitar 1: ")[1].rstrip(". ")
    asked = SheetExercise(ALTO, task="Complete it.", blanks=frozenset({1}), answer="F4", second=CONCERT)
    sheet = Sheet("Alto", [asked])
    (before,) = figures(sheet_pdf(sheet))
    key = key_pdf(sheet)
    assert key is not None
    (after,) = figures(key)
    assert before.count("blank") == 2 and "blank" not in after
    assert "Alto saxophone: Bm7: " in after and "Concert pitch: Dm7: D4" in after
    assert len(pypdf.PdfReader(BytesIO(key)).pages) == 1
