"""Lines as text: beats counted aloud whatever the rhythm, rests and held notes where they are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.rules.annotate import AnnotatedLine
from everyline.text.drawing import draw
from tests.handmade import handmade


def columns_of(line: AnnotatedLine) -> str:
    """Count and note of every column: ``1=D4 &=–``."""
    _, *rows = draw(line, width=10_000).splitlines()
    count, note = rows[1][7:], rows[2][7:]
    starts = [i for i, c in enumerate(count) if c not in " |" and count[i - 1] in " |"]
    words = [note[i:].split(" ")[0] if i < len(note) else "" for i in starts]
    return " ".join(f"{count[i:].split(' ')[0]}={word}" for i, word in zip(starts, words, strict=True))


# Counting aloud is common practice: 1 & for eighths, 1 trip let for triplets, 1 e & a for sixteenths.
@pytest.mark.parametrize(
    ("text", "columns"),
    [
        ("D4:4 E4:4 F4:2", "1=D4 &=– 2=E4 &=– 3=F4 &=– 4=–"),
        ("D4:4. E4:8 F4:2", "1=D4 &=– 2=– &=E4 3=F4 &=– 4=–"),
        ("D4:8t E4:8t F4:8t G4:8 A4:8 C5:2", "1=D4 trip=E4 let=F4 2=G4 &=A4 3=C5 &=– 4=–"),
        ("D4:16 E4:16 F4:16 G4:16 A4:8. C5:16 D5:2", "1=D4 e=E4 &=F4 a=G4 2=A4 e=– &=– a=C5 3=D5 &=– 4=–"),
        ("D4:8 r8 E4:8t r8t F4:8t G4:2", "1=D4 &=r 2=E4 trip=r let=F4 3=G4 &=– 4=–"),
        ("D4 r8 r2 E4", "1=D4 &=r 2=· 3=· 4=E4 &=·"),
        ("D4:4t E4:4t F4:4t G4:2", "1=D4 trip=– let=E4 2=– trip=F4 let=– 3=G4 &=– 4=–"),
        ("D4:16t E4:16t F4:16t G4:8 A4:2.", "1=D4 +1/6=E4 trip=F4 &=G4 2=A4 &=– 3=– 4=–"),
    ],
)
def test_beats_are_counted_aloud(text: str, columns: str) -> None:
    assert columns_of(handmade(text, "Dm7 | %")) == columns


def test_a_note_is_held_over_the_bar_line() -> None:
    line = handmade("D4:2. r8 E4:4. F4:4", "Dm7 | G7")
    assert columns_of(line) == "1=D4 &=– 2=– 3=– 4=r &=E4 1=– 2=F4 &=– 3=· 4=·"


def test_a_pickup_and_eighths_of_a_meter_in_eighths() -> None:
    line = handmade("@-3 D4 E4 F4 D4:2.", "Dm7 | G7", entry={"pickup": [3]})
    assert columns_of(line).startswith("3= &=D4 4=E4 &=F4 1=D4 &=– 2=– 3=– 4=·")
    line = handmade("D4:4 E4:8 F4:4. E4:16 F4:16 D4:8", "Dm7 | G7", meter="6/8")
    assert columns_of(line) == "1=D4 &=– 2=– 3=E4 &=– 4=F4 &=– 5=– 6=– 1=E4 &=F4 2=D4 &=– 3=· 4=· 5=· 6=·"


VALUES = ("4", "8 8", "4. 8", "8t 8t 8t", "r8 8", "8 16 16", "r8t 8t 8t", "2", "r4", "8. 16", "16 r16 8")
PLACES = {"": 0, "trip": 160, "let": 320, "e": 120, "&": 240, "a": 360}


@given(st.lists(st.sampled_from(VALUES), min_size=1, max_size=24))
def test_every_note_stands_where_it_is_counted(cells: list[str]) -> None:
    values = "4 " + " ".join(cells) + " 4"
    text = " ".join(value if value.startswith("r") else f"D4:{value}" for value in values.split())
    line = handmade(text, "Dm7 | %")
    beat, bar, onsets = 0, -1, []
    for column in columns_of(line).split():
        count, shown = column.split("=")
        if count.isdigit():
            beat, count = int(count) - 1, ""
            bar += beat == 0
        if shown == "D4":
            onsets.append((4 * bar + beat) * 480 + PLACES[count])
    assert onsets == [note.onset for note in line.notes]
