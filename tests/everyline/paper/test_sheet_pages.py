"""What stands around the exercises of a sheet: head and foot, staves of one's own, fitted pages, tags."""

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import pypdf
import pytest

from everyline import parse
from everyline.corpora.errors import InputError
from everyline.paper import printing
from everyline.paper.blanks import own_line
from everyline.paper.engrave import engrave
from everyline.paper.heading import CAUTION
from everyline.paper.score_options import ScoreOptions
from everyline.paper.sheet import Sheet, SheetExercise, SheetOptions, sheet_pdf
from everyline.paper.sheet_options import LARGE_STAVES
from everyline.paper.transposed import in_key
from everyline.text.plain_rules import plain_rules
from tests.handmade import handmade
from tests.tagged import tags_of

GUITAR = parse('changes = "Dm7 | G7 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"\nposition = 5')
LINES = [GUITAR[index * 97] for index in range(8)]
STAFF = SheetOptions(score=ScoreOptions(staves="staff"), legend=False)


def pages_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(BytesIO(pdf)).pages]


def own(look: str) -> SheetExercise:
    line = own_line(GUITAR.rules)
    blanks = frozenset(range(len(line.notes)))
    return SheetExercise(line, title="A line of your own", blanks=blanks, labels=False, own=look)


# -- head and foot -------------------------------------------------------------------------------------------


def test_head_and_foot() -> None:
    sheet = Sheet(
        "Third lesson",
        [SheetExercise(line) for line in LINES],
        author="A. Teacher",
        rights="May be copied in class.",
        footer="Evening school",
        student="Kim",
        week="7",
        rules=plain_rules(GUITAR.rules),
    )
    pdf = sheet_pdf(sheet, STAFF)
    pages = pages_of(pdf)
    for wanted in ("A. Teacher", "Name Kim Week 7 Date", "The rules of these lines", "It begins on beat 1"):
        assert wanted in pages[0]
    assert len(pages) > 1
    assert all("Evening school" in page and "May be copied in class." in page for page in pages)
    assert [page.count(CAUTION[:30]) for page in pages] == [1, *[0] * (len(pages) - 1)]
    assert pypdf.PdfReader(BytesIO(pdf)).metadata.author == "A. Teacher"  # type: ignore[union-attr]


def test_key_and_meter_stand_at_the_head_only_where_all_lines_have_them() -> None:
    moved = [LINES[0], in_key(LINES[0], "F")]
    (page,) = pages_of(sheet_pdf(Sheet("Two keys", [SheetExercise(line) for line in moved]), STAFF))
    assert "Key" not in page and "Meter 4/4" in page


def test_a_meter_in_eighths_by_threes_is_counted_in_dotted_quarters() -> None:
    line = handmade("D4:8 E4:8 F4:8 G4:4.", "Dm7 | G7", meter="6/8")
    score = ScoreOptions(staves="staff", tempo=180)
    (page,) = pages_of(sheet_pdf(Sheet("Six eighths", [SheetExercise(line)]), replace(STAFF, score=score)))
    assert "Tempo = 60" in page


# -- answers -------------------------------------------------------------------------------------------------


def test_answers_at_the_end_stand_on_a_page_of_their_own_and_say_what_is_shown() -> None:
    exercises = [
        SheetExercise(LINES[0], task="Complete it.", blanks=frozenset({1}), answer="The 3.", labels=False),
        SheetExercise(
            LINES[1], task="Which note is wrong?", solution=LINES[2], answer="Note 4.", labels=False
        ),
        SheetExercise(LINES[3], task="Go on.", blanks=frozenset({4, 5}), answer="9 lines do; one of them:"),
    ]
    asked, answers = pages_of(sheet_pdf(Sheet("Find it", exercises, key_at_end=True), STAFF))
    assert "The 3." not in asked and "Shown" not in asked
    for wanted in ("Answers", "the missing notes filled in. The 3.", "without the wrong note. Note 4."):
        assert wanted in answers


def test_an_explanation_stays_on_the_page_of_its_line() -> None:
    exercises = [SheetExercise(line, title=f"Line {n}", explain=True) for n, line in enumerate(LINES, 1)]
    pages = pages_of(sheet_pdf(Sheet("Lines", exercises), SheetOptions(legend=False)))
    assert len(pages) > 2
    ends = [page.count("Bar 2 (G7)") for page in pages]
    assert [page.count("Line ") for page in pages] == ends and sum(ends) == len(LINES)


# -- staves of one's own -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("look", "slashes"), [("bare", 0), ("slashes", 12)])
def test_a_staff_of_ones_own_has_changes_and_no_note(look: str, slashes: int) -> None:
    exercise = own(look)
    (system,) = engrave(exercise.line, ScoreOptions(), blanks=exercise.blanks, blank_look=look)
    classes = [each.get("class") for element in system.elements for each in element.iter()]
    assert classes.count("chord") == 3 and classes.count("slash") == slashes
    assert "note" not in classes
    assert not exercise.in_key


# -- pages ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("staves", "wanted"), [("staff", 8), ("both", 6)])
def test_so_many_lines_a_page(staves: str, wanted: int) -> None:
    lines = [SheetExercise(LINES[n % 2], title=f"Title{n}") for n in range(2 * wanted)]
    score = ScoreOptions(staves=staves, roles=False, degrees=False)
    options = SheetOptions(size=0.8, score=score, per_page=wanted)
    pages = pages_of(sheet_pdf(Sheet("Lines", lines), options))
    assert [page.count("Title") for page in pages][-1] <= wanted
    assert wanted in [page.count("Title") for page in pages]


def test_more_lines_than_fit_are_refused() -> None:
    small = replace(STAFF, paper="A5", per_page=12)
    with pytest.raises(InputError, match="12 lines do not fit on a page of A5"):
        sheet_pdf(Sheet("Lines", [SheetExercise(LINES[0])] * 12), replace(small, size=0.52))


def test_large_print_has_large_staves_and_words() -> None:
    assert SheetOptions(large=True).staff_size == LARGE_STAVES
    sizes: dict[bool, list[float]] = {}
    for large in (False, True):
        found: list[float] = []

        def look(
            text: str, _: Any, matrix: list[float], __: Any, size: float, found: list[float] = found
        ) -> None:
            if text.strip():
                found.append(size * abs(matrix[3] or 1))

        reader = pypdf.PdfReader(
            BytesIO(sheet_pdf(Sheet("Large", [SheetExercise(LINES[0])]), replace(STAFF, large=large)))
        )
        reader.pages[0].extract_text(visitor_text=look)
        sizes[large] = found
    assert max(sizes[True]) > 1.5 * max(sizes[False])


# -- contents, bookmarks, tags -------------------------------------------------------------------------------


def titles(outline: list[Any]) -> Iterator[str]:
    for each in outline:
        if isinstance(each, list):
            yield from titles(each)
        else:
            yield " ".join(str(each.title).split())


def test_contents_and_bookmarks() -> None:
    book = [SheetExercise(line, title=f"Idea {n}") for n, line in enumerate(LINES, 1)]
    pdf = sheet_pdf(Sheet("Book", book, contents=True), STAFF)
    first = pages_of(pdf)[0]
    assert all(f"Idea {n}" in first for n in range(1, 9))
    wanted = [f"{n} Idea {n}" for n in range(1, 9)]
    assert list(titles(pypdf.PdfReader(BytesIO(pdf)).outline)) == ["Book", *wanted]


def test_a_bound_book_has_bookmarks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(printing, "BATCH", 3)
    book = [SheetExercise(line, title=f"Idea {n}") for n, line in enumerate(LINES, 1)]
    pdf = sheet_pdf(Sheet("Book", book), replace(STAFF, size=1.5))
    found = list(titles(pypdf.PdfReader(BytesIO(pdf)).outline))
    assert [each for each in found if "Idea" in each] == [f"{n} Idea {n}" for n in range(1, 9)]


def test_every_figure_of_a_tagged_sheet_says_what_it_shows() -> None:
    """PDF/UA-1 (ISO 14289-1): marked, with language, a title that is displayed, figures with a text in place
    of them, and headings that skip no level. The page setter refuses what breaks the standard; here its tags
    are read back.
    """
    sheet = Sheet("Tagged", [SheetExercise(LINES[0], title="One", explain=True), own("bare")], tempi=(60,))
    options = SheetOptions(score=ScoreOptions(tempo=120, fretboard="left"))
    found = tags_of(sheet_pdf(sheet, options))
    figures = [said for kind, said in found if kind == "/Figure"]
    assert len(figures) >= 5 and all(figures)
    names = " ".join(str(said) for said in figures)
    for note in LINES[0].notes:
        assert note.name.replace("b", "♭").replace("#", "♯") in names
    assert "quarter note" in names and "On the guitar" in names and "to write on" in names
    assert [kind for kind, _ in found if kind.startswith("/H")] == ["/H1", "/H2", "/H2"]


def test_what_is_to_be_found_is_not_said() -> None:
    blanks = frozenset({3})
    pdf = sheet_pdf(Sheet("Find", [SheetExercise(LINES[0], blanks=blanks, labels=False)]), STAFF)
    (said,) = [said for kind, said in tags_of(pdf) if kind == "/Figure"]
    assert str(said).split().count("blank") == 1
