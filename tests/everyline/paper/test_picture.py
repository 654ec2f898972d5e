"""Pictures: every note once on each staff, labels as told, the same bytes again, no font or file needed."""

import re
from xml.etree import ElementTree

import pytest

from everyline import parse
from everyline.corpora.errors import InputError
from everyline.paper.engrave import engrave
from everyline.paper.fingering import finger
from everyline.paper.look import MARKS
from everyline.paper.picture import PictureOptions, png, svg
from everyline.paper.score_options import ScoreOptions
from everyline.paper.system_marks import System
from everyline.rules.annotate import unexplained
from tests.handmade import handmade

GUITAR = 'changes = "Dm7 | G7alt | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"'
SPACE = parse(GUITAR)
LINE = SPACE[SPACE.count // 3]


def ids(picture: str) -> list[str]:
    return re.findall(r'id="([nt]\d+-\d+[a-z]?)"', picture)


@pytest.mark.parametrize(
    ("staves", "letters"), [("staff", "n"), ("tab", "t"), ("both", "nt")], ids=["staff", "tab", "both"]
)
def test_each_note_once_on_each_staff(staves: str, letters: str) -> None:
    picture = svg([LINE], ScoreOptions(staves=staves))
    wanted = {f"{letter}1-{index}" for letter in letters for index in range(len(LINE.notes))}
    found = [each for each in ids(picture) if each[-1].isdigit()]
    assert sorted(found) == sorted(wanted)


@pytest.mark.parametrize("staves", ["staff", "tab", "both"])
def test_a_line_that_nothing_explains_has_notes_and_no_marks(staves: str) -> None:
    """As one that was kept, and that its rules no longer allow."""
    odd = unexplained(LINE.rules, LINE.events[:3])
    picture = svg([odd], ScoreOptions(staves=staves))
    assert len({each[1:] for each in ids(picture)}) == 3
    assert "role " not in picture


def test_marks_and_degrees_follow_the_options() -> None:
    marks = re.findall(r'class="role (\w+)"', svg([LINE], None, PictureOptions(legend=False)))
    assert sorted(marks) == sorted(note.role for note in LINE.notes)
    assert "role " not in svg([LINE], ScoreOptions(roles=False))
    bare, full = (svg([LINE], ScoreOptions(degrees=flag)) for flag in (False, True))
    assert len(bare) < len(full)


def test_fingers_and_positions_stand_under_the_tablature() -> None:
    found = finger(LINE)
    both, bare = (svg([LINE], ScoreOptions(fingers=each)) for each in (True, False))
    assert both.count('class="finger"') == len(LINE.notes) and 'class="hand"' not in bare
    # Each position where it is new, and the first of each system.
    assert both.count('class="position"') >= len(found.positions)
    assert 'class="hand"' not in svg([LINE], ScoreOptions(staves="staff"))


def test_same_bytes_and_self_contained() -> None:
    picture = svg([LINE], ScoreOptions(tempo=120, swing="by-tempo"))
    assert picture == svg([LINE], ScoreOptions(tempo=120, swing="by-tempo"))
    root = ElementTree.fromstring(picture)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "title", "defs", "g", "path", "use", "polygon", "ellipse", "polyline", "rect"}
    used = set(re.findall(r'href="#(\w+)"', picture))
    assert used == set(re.findall(r'<g id="(E\w{3})"', picture))


def test_a_prefix_keeps_pictures_of_one_page_apart() -> None:
    first, second = (svg([LINE], None, PictureOptions(prefix=prefix)) for prefix in ("a-", "b-"))
    found = [set(re.findall(r'\bid="([^"]+)"', each)) for each in (first, second)]
    assert found[0] and not found[0] & found[1]


def test_blanks_hide_the_note_and_its_labels() -> None:
    blank = frozenset({2, 5})
    picture = svg([LINE], ScoreOptions(staves="both"), PictureOptions(legend=False), blanks=[blank])
    assert not {"n1-2", "n1-5", "t1-2", "t1-5"} & set(ids(picture))
    assert picture.count("stroke-dasharray") == len(blank)
    assert picture.count('class="role ') == len(LINE.notes) - len(blank)


def test_black_and_white_has_no_colour() -> None:
    picture = svg([LINE], None, PictureOptions(colour=False))
    assert not any(mark.colour in picture for mark in MARKS.values())


def test_png_is_as_large_as_it_says() -> None:
    picture = svg([LINE], None, PictureOptions(width=120))
    data = png(picture, 150)
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    width = int.from_bytes(data[16:20], "big")
    millimetres = float(re.search(r'width="([\d.]+)mm"', picture)[1])  # type: ignore[index]
    assert abs(width - millimetres / 25.4 * 150) <= 1


@pytest.mark.parametrize("width", [10, 1000])
def test_widths_out_of_reach_are_refused(width: float) -> None:
    with pytest.raises(InputError, match="out of reach"):
        svg([LINE], None, PictureOptions(width=width))


def test_resolutions_out_of_reach_and_no_lines_are_refused() -> None:
    with pytest.raises(InputError, match="dots an inch"):
        png("<svg/>", 5)
    with pytest.raises(InputError, match="no line"):
        svg([])


ALIGNED = {
    "eighths": GUITAR,
    "triplets": 'changes = "Dm7 | G7 | Cmaj7"\nsubdivision = 3\n[entry]\npickup = [2]\n'
    '[arpeggio]\nturns = 2\n[range]\ninstrument = "tenor-banjo"',
    "sixteenths": 'changes = "Dm7 | G7 | Cmaj7"\nsubdivision = 4\n[arpeggio]\nturns = 2\n'
    '[range]\ninstrument = "guitar"',
    "six eighths": 'changes = "Dm7 | G7 | Cmaj7"\nmeter = "6/8"\n[arpeggio]\nturns = 2\n'
    '[range]\ninstrument = "bass-guitar"',
}


@pytest.mark.parametrize("name", ALIGNED)
def test_frets_stand_under_their_notes(name: str) -> None:
    """The two staves keep the same time: a fret's middle is its notehead's, within half a head."""
    space = parse(ALIGNED[name])
    line = space[space.count // 2]
    root = ElementTree.fromstring(svg([line], ScoreOptions(staves="both"), PictureOptions(legend=False)))
    place = {}
    for group in root.iter("{http://www.w3.org/2000/svg}g"):
        if re.fullmatch(r"[nt]1-\d+", group.get("id", "")):
            move = next(e.get("transform") for e in group.iter() if e.get("transform"))
            place[group.get("id")] = float(re.findall(r"-?[\d.]+", move or "")[0])
    for index in range(len(line.notes)):
        # A head is 2.26 mm wide and drawn from its left edge, a figure about 1.4 mm.
        assert abs(place[f"n1-{index}"] + 113 - (place[f"t1-{index}"] + 70)) < 120


def boxes(system: System, kind: str) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of what stands in every group of a class, in the system's own lengths."""
    found = []

    def walk(element: ElementTree.Element, inside: bool, down: float) -> None:
        inside = inside or element.get("class") == kind
        move = re.findall(r"-?[\d.]+", element.get("transform", ""))
        x, y = (float(each) for each in move[:2]) if move else (0.0, 0.0)
        if inside and element.tag == "path" and kind == "chord":
            # A symbol's letters are at most 2.5 mm high and 2 mm wide each.
            found.append((x, down + y - 240, x + 200, down + y))
        if inside and element.tag == "use" and element.get("href") == "#E0A4":
            found.append((x, down + y - 90, x + 226, down + y + 90))
        for child in element:
            walk(child, inside, down + (y if element.tag == "g" else 0))

    for element in system.elements:
        walk(element, False, 0)
    return found


def test_chord_symbols_touch_no_note() -> None:
    high = handmade("A4 E5 Bb4 B4 C5 A4 F4 D4 B3 G3 C4 A3 E5 C5 G4 E4", range={"instrument": "guitar"})
    low = handmade("D4 F4 A4 C5 B4 G4 F4 D4", range={"instrument": "guitar"})
    for line in (high, low):
        (system,) = engrave(line, ScoreOptions(staves="both"))
        chords, heads = boxes(system, "chord"), boxes(system, "note")
        assert len(chords) == 6 and len(heads) == len(line.notes)
        for left, top, right, bottom in chords:
            assert top >= -40
            assert not any(
                left < end and start < right and top < under and over < bottom
                for start, over, end, under in heads
            )


def test_degrees_are_clear_of_the_top_string() -> None:
    line = handmade("A4 E5 Bb4 B4 C5 A4 F4 D4 E5 C5 G4 E5", range={"instrument": "guitar"})
    (system,) = engrave(line, ScoreOptions(staves="both"))
    labels = next(each for each in system.elements if each.get("class") == "labels")
    degrees = [each for each in labels if each.get("class") is None]
    lowest = max(float(re.findall(r"-?[\d.]+", each.get("transform", ""))[1]) for each in degrees)
    lines = sorted(
        float(re.findall(r"-?[\d.]+", path.get("d", ""))[1])
        for path in system.elements[0].iter("path")
        if path.get("stroke-width") == "13"
    )
    # Six strings: the highest of them holds figures 2.5 mm high, half of which stand above its line.
    assert lowest + 125 < lines[-6]


@pytest.mark.parametrize("width", [70, 110, 180, 300])
def test_every_system_keeps_its_notes_and_stays_on_the_page(width: float) -> None:
    """However narrow or wide the page, no system is left for the engraver to split."""
    line = parse('changes = "Dm7 | G7 | Em7 | A7 | Dm7 | G7 | Cmaj7"\n[handoff]\nrule = "any"')[9]
    systems = engrave(line, width=width)
    assert all(system.width <= width * 100 for system in systems)
    for system in systems:
        for element in system.elements:
            for path in element.iter("path"):
                if path.get("d", "").startswith("M") and " L" in path.get("d", ""):
                    ends = [float(x) for x in re.findall(r"[ML](-?[\d.]+) ", path.get("d", ""))]
                    assert max(ends) <= width * 100 + 100
    marks = sum(
        "role" in element.get("class", "")
        for system in systems
        for part in system.elements
        for element in part.iter()
    )
    assert marks == len(line.notes)
