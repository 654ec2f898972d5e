"""Sheets: what is asked for is on the page, answers are apart, pages fill evenly, the same bytes again."""

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pypdf
import pytest

from everyline import parse
from everyline.corpora.errors import InputError
from everyline.paper import printing
from everyline.paper.heading import CAUTION
from everyline.paper.score_options import ScoreOptions
from everyline.paper.sheet import (
    PAPERS,
    Sheet,
    SheetExercise,
    SheetOptions,
    key_pdf,
    sheet_pdf,
    twelve_key_sheet,
    write_sheet,
)

GUITAR = parse('changes = "Dm7 | G7b9 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"\nposition = 5')
LINES = [GUITAR[index * 97] for index in range(12)]
STAFF = SheetOptions(score=ScoreOptions(staves="staff"))


def words(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(BytesIO(pdf)).pages]


def exercises() -> Iterator[SheetExercise]:
    yield SheetExercise(LINES[0], title="Two enclosures", task="Play it in time.", explain=True)
    yield SheetExercise(
        LINES[1], task="Complete it.", blanks=frozenset({2, 3}), answer="The b9 falls to the 5."
    )
    yield SheetExercise(LINES[2], remark="Listen for Ab over G7b9.")


def test_everything_asked_for_is_on_the_page() -> None:
    sheet = Sheet(
        "First lesson",
        exercises(),
        subtitle="ii-V-I",
        remarks=("Sing the target first.",),
        facts=(("Level", "2"),),
        tempi=(60, 80),
    )
    pages = words(sheet_pdf(sheet))
    text = " ".join(pages)
    for wanted in (
        "First lesson", "ii-V-I", "Name", "Date", "Key C", "Meter 4/4",
        "Guitar, written an octave above its sound",
        "Level 2", "60 80", "Sing the target first.", "Two enclosures", "Play it in time.", "Bar 1 (Dm7)",
        "Listen for A♭ over G7♭9.", "No. 1 ",
    ):  # fmt: skip
        assert wanted in text, wanted
    assert [" ".join(CAUTION.split()) in page for page in pages] == [True, *[False] * (len(pages) - 1)]
    assert "falls to the" not in text


def test_the_key_holds_what_has_an_answer_and_nothing_else() -> None:
    key = key_pdf(Sheet("First lesson", exercises()))
    assert key is not None
    (page,) = words(key)
    assert "Shown: the line with the missing notes filled in." in page
    assert "Answers: First lesson" in page and "The ♭9 falls to the 5." in page
    assert "Two enclosures" not in page and "Name" not in page
    assert key_pdf(Sheet("First lesson", [SheetExercise(LINES[0])])) is None


def test_a_line_has_its_number_once_and_a_long_one_stays_on_the_page() -> None:
    (page,) = words(sheet_pdf(Sheet("Sheet", [SheetExercise(LINES[0])]), SheetOptions(legend=False)))
    assert page.count("No.") == 1
    number = 10**150 + 7
    pdf = sheet_pdf(
        Sheet("Sheet", [SheetExercise(replace(LINES[0], number=number))]), SheetOptions(legend=False)
    )
    (page,) = pypdf.PdfReader(BytesIO(pdf)).pages
    rows = [row for row in page.extract_text().replace("\u200b", "").splitlines() if row.count("0") > 9]
    assert len(rows) > 1
    assert "".join(rows).replace("No. ", "").strip() == str(number)


@pytest.mark.parametrize(
    ("score", "said"),
    [
        (ScoreOptions(tempo=100, swing="2:1"), "Tempo = 100, swing 2 : 1"),
        (ScoreOptions(tempo=100, swing="straight"), "Tempo = 100, straight"),
        (ScoreOptions(tempo=100, swing="by-tempo"), "Tempo = 100, swing"),
        (ScoreOptions(tempo=100), "Tempo = 100"),
        (ScoreOptions(swing="straight"), "Feel straight"),
    ],
)
def test_tempo_and_swing_stand_at_the_head(score: ScoreOptions, said: str) -> None:
    (page,) = words(
        sheet_pdf(Sheet("Sheet", [SheetExercise(LINES[0])]), SheetOptions(score=score, legend=False))
    )
    assert said in page


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper(paper: str) -> None:
    reader = pypdf.PdfReader(
        BytesIO(sheet_pdf(Sheet("Sheet", [SheetExercise(LINES[0])]), SheetOptions(paper=paper)))
    )
    box = reader.pages[0].mediabox
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(
        PAPERS[paper], abs=0.1
    )


def test_same_bytes_and_progress(tmp_path: Path) -> None:
    done: list[int] = []
    first, second = tmp_path / "a.pdf", tmp_path / "b.pdf"
    for out in (first, second):
        write_sheet(out, Sheet("Sheet", exercises()), key=tmp_path / "key.pdf", progress=done.append)
    assert first.read_bytes() == second.read_bytes()
    assert done == [1, 2, 3, 1, 2, 3]
    assert sorted(each.name for each in tmp_path.iterdir()) == ["a.pdf", "b.pdf", "key.pdf"]


def test_a_long_book_is_bound_from_batches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Page by page it shows the same exercises as the sheet that is set in one go."""
    large = replace(STAFF, size=1.5)
    monkeypatch.setattr(printing, "BATCH", 6)
    book = [SheetExercise(LINES[index % 12], title=f"Exercise {index}") for index in range(15)]
    pages = write_sheet(tmp_path / "bound.pdf", Sheet("Book", iter(book)), large)
    bound = words((tmp_path / "bound.pdf").read_bytes())
    monkeypatch.setattr(printing, "BATCH", 100)
    whole = words(sheet_pdf(Sheet("Book", book), large))
    assert pages == len(bound) == len(whole) > 2
    for page, (left, right) in enumerate(zip(bound, whole, strict=True), 1):
        assert right.endswith(f"{page} / {len(whole)}")
        assert left == right.removesuffix(f" / {len(whole)}")


def test_one_line_in_twelve_keys_takes_two_pages() -> None:
    sheet, options = twelve_key_sheet(LINES[0])
    pages = words(sheet_pdf(sheet, options))
    assert len(pages) == 2
    for keys, page in (("C F B♭ E♭ A♭ D♭", pages[0]), ("G♭ B E A D G", pages[1])):
        places = [page.index(f"{key} {number}") for number, key in _numbered(keys, page, pages)]
        assert places == sorted(places)


def _numbered(keys: str, page: str, pages: list[str]) -> list[tuple[int, str]]:
    first = 1 + 6 * pages.index(page)
    return list(enumerate(keys.split(), first))


def test_nothing_to_print_and_nowhere_to_write(tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    with pytest.raises(InputError, match="no exercise"):
        write_sheet(out, Sheet("Sheet", []))
    assert not out.exists()
    with pytest.raises(InputError, match="cannot be written"):
        write_sheet(tmp_path / "missing" / "sheet.pdf", Sheet("Sheet", exercises()))
    for wrong in ({"paper": "A7"}, {"size": 3.0}, {"per_page": 0}):
        with pytest.raises(InputError):
            SheetOptions(**wrong)  # type: ignore[arg-type]


def test_words_cannot_run_as_code() -> None:
    """What a teacher types is text, whatever the page setter would make of it."""
    title = '#panic("x") *bold* $x$ @y <z> \\ "quoted"'
    assert title in " ".join(words(sheet_pdf(Sheet(title, [SheetExercise(LINES[0], title=title)]))))
