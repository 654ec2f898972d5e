"""The look: marks that need no colour, colours that stand out, letters that exist, words and breaks that read
well.
"""

from io import BytesIO
from itertools import combinations
from xml.etree.ElementTree import Element, tostring

import pytest
from fontTools.ttLib import TTFont
from PIL import Image

from everyline import parse
from everyline.corpora.errors import EverylineError
from everyline.paper.bars import bars_of
from everyline.paper.breaks import least_width, system_starts
from everyline.paper.fonts import FAMILY, FOLDER, STYLES, font_path
from everyline.paper.look import MARKS
from everyline.paper.outlines import outline
from everyline.paper.picture import png
from everyline.paper.signs import readable
from everyline.paper.system_marks import draw_mark
from everyline.rules.analysis import ROLES
from everyline.rules.chord_table import QUALITIES
from everyline.rules.degrees import DEGREES


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_every_role_has_a_mark_of_its_own_shape() -> None:
    assert set(MARKS) == set(ROLES)
    shapes = {(mark.path, mark.hollow) for mark in MARKS.values()}
    assert len(shapes) == len({mark.path for mark in MARKS.values()}) == len(ROLES)


@pytest.mark.parametrize("role", MARKS)
def test_marks_stand_out_from_paper(role: str) -> None:
    # WCAG 2.2, 1.4.3: 4.5 to 1.
    assert 1.05 / (luminance(MARKS[role].colour) + 0.05) >= 4.5


def drawn(role: str) -> set[tuple[int, int]]:
    """The dark dots of a mark printed in black at 300 dots an inch, as a photocopy would show it."""
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": "-120 -120 240 240"})
    root.set("width", "2.4mm")
    root.set("height", "2.4mm")
    draw_mark(root, MARKS[role], 0, 0, colour=False)
    image = Image.open(BytesIO(png(tostring(root, encoding="unicode"), 300))).convert("L")
    return {
        (x, y) for x in range(image.width) for y in range(image.height) if int(image.getpixel((x, y))) < 128
    }


@pytest.mark.parametrize(("left", "right"), list(combinations(ROLES, 2)))
def test_marks_differ_in_black_at_print_size(left: str, right: str) -> None:
    """Less than two thirds of the ink of any two marks falls on the same dots."""
    first, second = drawn(left), drawn(right)
    assert len(first) > 30 and len(second) > 30
    assert len(first & second) / len(first | second) < 2 / 3


@pytest.mark.parametrize("style", STYLES)
def test_the_fonts_can_write_every_chord_and_degree(style: str) -> None:
    written = {spelling for quality in QUALITIES for spelling in quality.spellings} | set(DEGREES)
    for text in (*written, "♭♯♮△Δ°øØ", "B♭m7♭5/G♯"):
        run = outline(text.replace("Ø", "ø"), style, 300)
        assert run.width > 0 or not text


def test_a_sign_that_the_fonts_lack_is_refused() -> None:
    with pytest.raises(EverylineError, match="cannot be drawn"):
        outline("漢", "Regular", 300)


@pytest.mark.parametrize(
    ("plain", "printed"),
    [
        ("Bb4 is the b7 of C7b9", "B♭4 is the ♭7 of C7♭9"),
        ("F#m7b5", "F♯m7♭5"),
        ("a half step below D#3;", "a half step below D♯3;"),
        ("the #5 of G7alt", "the ♯5 of G7alt"),
        ("bb7 of Bdim7", "♭♭7 of Bdim7"),
        ("Ab closes in on G", "A♭ closes in on G"),
        ("Exercise number 5, bar 3: begin", "Exercise number 5, bar 3: begin"),
        ("About Bebop; Ebony, Abe", "About Bebop; Ebony, Abe"),
        ("No. 12 #1", "No. 12 ♯1"),
    ],
)
def test_words_get_printed_accidentals(plain: str, printed: str) -> None:
    assert readable(plain) == printed


FORM = "| Dm7 | G7 | Cmaj7 | A7 |" * 4


@pytest.mark.parametrize("width", [900, 1400, 1800, 2600])
def test_breaks_cover_every_bar_and_fit(width: int) -> None:
    line = parse(f'changes = "{FORM}"\n[ending]\nuse = ["plain"]')[0]
    bars = bars_of(line)
    signs = [0] * len(bars)
    starts = system_starts(bars, signs, width)
    assert starts[0] == 0 and starts == sorted(set(starts))
    for left, right in zip(starts, [*starts[1:], len(bars)], strict=True):
        room = sum(least_width(bar, 0) for bar in bars[left:right])
        assert room <= width or right - left == 1


def test_phrases_of_four_stay_together() -> None:
    line = parse(f'changes = "{FORM}"\n[ending]\nuse = ["plain"]')[0]
    assert system_starts(bars_of(line), [0] * 16, 1900) == [0, 4, 8, 12]


def test_a_blues_is_broken_in_three_fours() -> None:
    blues = "F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7 | Gm7 | C7 | F7 D7 | Gm7 C7"
    line = parse(f'changes = "{blues}"\n[handoff]\nrule = "any"\n[ending]\nuse = ["plain"]')[0]
    assert system_starts(bars_of(line), [3] * 12, 1800) == [0, 4, 8]


def test_bars_of_sixteenths_are_not_squeezed() -> None:
    line = parse('changes = "Dm7 | G7 | Cmaj7 | A7"\nsubdivision = 4\n[arpeggio]\nturns = 9')[0]
    starts = system_starts(bars_of(line), [0] * 4, 1800)
    assert starts == [0, 2]


def test_no_bar_is_left_alone() -> None:
    line = parse('changes = "| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 |"\n[ending]\nuse = ["plain"]')[0]
    starts = system_starts(bars_of(line), [0] * 7, 1500)
    assert len(bars_of(line)) - starts[-1] > 1


@pytest.mark.parametrize("style", STYLES)
def test_fonts_carry_their_own_name_and_their_licence(style: str) -> None:
    """Lato's name is reserved by its licence, so the fonts made from it must not bear it."""
    names = TTFont(font_path(style))["name"]
    assert names.getDebugName(1) == FAMILY and names.getDebugName(2) == style
    assert all("Lato" not in str(names.getDebugName(record)) for record in (1, 3, 4, 6))
    assert "Open Font License" in (FOLDER / "OFL.txt").read_text("utf-8")
