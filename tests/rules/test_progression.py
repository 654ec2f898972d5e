"""Progressions on the slot grid."""

from contextlib import suppress
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.meter import SUBDIVISIONS, Meter, parse_meter
from everyline.rules.progression import Progression, parse_progression


def layout(text: str, **options: object) -> list[tuple[str, int]]:
    """Chords and their first slots."""
    progression = parse_progression(text, **options)  # type: ignore[arg-type]
    return [
        (chord.symbol, start) for chord, start in zip(progression.chords, progression.starts, strict=True)
    ]


@pytest.mark.parametrize(
    ("text", "chords"),
    [
        ("Dm7 | G7 | Cmaj7", [("Dm7", 0), ("G7", 8), ("Cmaj7", 16)]),
        ("| Dm7 | G7 || Cmaj7 |", [("Dm7", 0), ("G7", 8), ("Cmaj7", 16)]),
        ("Dm7 G7 | Cmaj7", [("Dm7", 0), ("G7", 4), ("Cmaj7", 8)]),
        ("Dm7 / / G7 | Cmaj7", [("Dm7", 0), ("G7", 6), ("Cmaj7", 8)]),
        ("Dm7 // G7 | Cmaj7", [("Dm7", 0), ("G7", 6), ("Cmaj7", 8)]),
        ("Dm7 G7 | % | Cmaj7", [("Dm7", 0), ("G7", 4), ("Dm7", 8), ("G7", 12), ("Cmaj7", 16)]),
        ("Dm7 | / G7 | Cmaj7", [("Dm7", 0), ("G7", 12), ("Cmaj7", 16)]),
        ("Dm7 | % | G7", [("Dm7", 0), ("G7", 16)]),
        ("Dm7 | D-7 | G7", [("Dm7", 0), ("G7", 16)]),
        ("Dm7 D-7 / G7 | Cmaj7", [("Dm7", 0), ("G7", 6), ("Cmaj7", 8)]),
        ("C#7 | Db7 | F#", [("C#7", 0), ("Db7", 8), ("F#", 16)]),
        ("C7(b9, #5) F | C6/9 C/E", [("C7(b9, #5)", 0), ("F", 4), ("C6/9", 8), ("C/E", 12)]),
        ("| Dm7 | G7 |\n\n| Cmaj7 | A7 |", [("Dm7", 0), ("G7", 8), ("Cmaj7", 16), ("A7", 24)]),
        ("Dm7 | / | Cmaj7", [("Dm7", 0), ("Cmaj7", 16)]),
        ("Dm7 | G7\nCmaj7 | A7", [("Dm7", 0), ("G7", 8), ("Cmaj7", 16), ("A7", 24)]),
        ("A B C D E F G A | D", [(c, n) for n, c in enumerate("ABCDEFGA")] + [("D", 8)]),
    ],
)
def test_lead_sheet_text_in_four_four(text: str, chords: list[tuple[str, int]]) -> None:
    assert layout(text) == chords


@pytest.mark.parametrize(
    ("text", "meter", "subdivision", "starts"),
    [
        ("Dm7 | G7", "3/4", 2, [0, 6]),
        ("Dm7 G7 C | F", "3/4", 2, [0, 2, 4, 6]),
        ("Dm7 G7 | C", "4/4", 3, [0, 6, 12]),
        ("Dm7 / G7 | C", "6/8", 2, [0, 8, 12]),
        ("Dm7 / / G7 / | C", "5/4", 4, [0, 12, 20]),
        ("D E F G A B C D E F G A | C", "4/4", 3, [*range(12), 12]),
        ("Dm7 G7 | C", "2/2", 2, [0, 2, 4]),
        ("Dm7 G7 | C", "1/4", 4, [0, 2, 4]),
    ],
)
def test_other_meters_and_subdivisions(text: str, meter: str, subdivision: int, starts: list[int]) -> None:
    assert list(parse_progression(text, meter, subdivision).starts) == starts


@pytest.mark.parametrize("text", ["Dm7 | %", "Dm7 | Dm7", "Dm7 | /", "Dm7 D-7 | %"])
def test_a_single_chord_is_held_twice_and_resolves_in_the_last_bar(text: str) -> None:
    progression = parse_progression(text)
    assert progression.single
    assert progression.chords[0] == progression.chords[1]
    assert (progression.starts, progression.resolution, progression.bars) == ((0, 8), 8, 2)


def test_a_single_chord_in_one_bar_is_refused() -> None:
    with pytest.raises(InputError, match=r'bars at least, such as "Dm7 \| %"'):
        parse_progression("Dm7")


@pytest.mark.parametrize(
    ("text", "meter", "subdivision", "instead"),
    [
        ("Dm7 G7 C7 | F", "4/4", 2, "Dm7 / G7 C7"),
        ("Dm7 G7 | F", "3/4", 2, "Dm7 / G7"),
        ("Dm7 / G7 | F", "4/4", 2, "Dm7 / / G7"),
        ("Dm7 G7 | F", "5/4", 2, "Dm7 / / G7 /"),
        ("A B C D E | F", "4/4", 2, "A / B / C / D E"),
        ("A B C D E F G A | F", "4/4", 3, "A / B / C / D / E F G A"),
    ],
)
def test_shares_that_do_not_fit_are_refused_with_a_spelling_that_works(
    text: str, meter: str, subdivision: int, instead: str
) -> None:
    with pytest.raises(InputError) as refusal:
        parse_progression(text, meter, subdivision)
    assert f'such as "{instead}"' in str(refusal.value)
    parse_progression(text.replace(text.split(" |")[0], instead, 1), meter, subdivision)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "holds no chord"),
        ("Dm7 | " * 20_001, "20,001 bars are too many: at most 20,000"),
        ("|", "holds no chord"),
        ("| |", "bar 1 of the changes is empty; begin with a chord"),
        ("Dm7 | | Cmaj7", 'bar 2 of the changes is empty, after "Dm7"; write / in it to hold the chord'),
        ("Dm7 | G7 | |", "bar 3 of the changes is empty"),
        ("| Dm7 | G7 |\n| |\n| Cmaj7 |", "bar 3 of the changes is empty"),
        ("Dm7 || | G7", "bar 2 of the changes is empty"),
        ("Dm7( | G7", "the bracket ( has no partner"),
        ("Dm7 | ) | G7", "the bracket ) has no partner"),
        ("% | Dm7", "no chord comes before it"),
        ("/ Dm7 | G7", "no chord comes before it"),
        ("Dm7 % | G7", "% stands alone"),
        ("Dm7 | ii7", "needs a key"),
        ("Dm7 | Gmaj7z", '"z" is not'),
        ("Dm7 | verse", "is not a chord symbol"),
        ("A B C D E F G A B | C", "put fewer chords"),
    ],
)
def test_refusals(text: str, says: str) -> None:
    with pytest.raises(InputError) as refusal:
        parse_progression(text)
    assert says in str(refusal.value)


@pytest.mark.parametrize("meter", ["4", "0/4", "16/4", "4/3", "4/16", "C", "-4/4", "4/4/4"])
def test_meters_that_cannot_be_used(meter: str) -> None:
    with pytest.raises(InputError, match=r"1 to 15 over 2, 4 or 8"):
        parse_progression("Dm7 | G7", meter)


@pytest.mark.parametrize("subdivision", [-2, 0, 7, 9, 960])
def test_subdivisions_that_cannot_be_used(subdivision: int) -> None:
    with pytest.raises(InputError, match=r"it is 1 \(quarters\), 2"):
        parse_progression("Dm7 | G7", subdivision=subdivision)


def test_roman_numerals_and_symbols_together() -> None:
    assert layout("ii7 | V7 | Imaj7", key="Eb") == [("Fm7", 0), ("Bb7", 8), ("Ebmaj7", 16)]
    assert layout("Dm7 | V7 | C6", key="C") == [("Dm7", 0), ("G7", 8), ("C6", 16)]
    assert parse_progression("ii7 | V7", key="Eb").key == "Eb"


@pytest.mark.parametrize(
    ("subdivision", "names"),
    [
        (2, ["1", "1&", "2", "2&", "3", "3&"]),
        (3, ["1", "1trip", "1let", "2", "2trip", "2let", "3", "3trip", "3let"]),
        (4, ["1", "1e", "1&", "1a", "2", "2e", "2&", "2a", "3", "3e", "3&", "3a"]),
    ],
)
def test_beats_are_counted_aloud(subdivision: int, names: list[str]) -> None:
    progression = parse_progression("Dm7 | G7", "3/4", subdivision)
    assert [progression.beat_name(slot) for slot in range(progression.slots_per_bar)] == names
    assert [progression.parse_beat(name) for name in names] == list(range(len(names)))


def test_places_in_words() -> None:
    progression = parse_progression("Dm7 | G7 | Cmaj7")
    assert progression.place(0) == "bar 1, beat 1"
    assert progression.place(13) == "bar 2, beat 3&"
    assert progression.place(-1) == "bar 0, beat 4&"
    assert progression.parse_beat("2 &") == 3


@pytest.mark.parametrize("text", ["0", "5", "1e", "4&&", "", "one", "-1"])
def test_beats_that_do_not_exist(text: str) -> None:
    with pytest.raises(InputError, match=r"Use one of: 1 1& 2 2& 3 3& 4 4&"):
        parse_progression("Dm7 | G7").parse_beat(text)


CHORDS = st.sampled_from(["Dm7", "D-7", "G7", "Cmaj7", "A7b9", "Bm7b5", "C6/9", "F/A"])


@st.composite
def progressions(draw: st.DrawFn) -> Progression:
    beats = draw(st.integers(1, 15))
    subdivision = draw(st.sampled_from(SUBDIVISIONS))
    shares = [n for n in range(1, beats + 1) if beats % n == 0] + [beats * subdivision]
    bars = draw(
        st.lists(
            st.sampled_from(shares).flatmap(lambda n: st.lists(CHORDS, min_size=n, max_size=n)),
            min_size=2,
            max_size=5,
        )
    )
    return parse_progression(" | ".join(" ".join(bar) for bar in bars), f"{beats}/4", subdivision)


@given(progressions())
def test_chords_cover_every_slot_in_order(progression: Progression) -> None:
    assert progression.starts[0] == 0
    assert all(a < b for a, b in pairwise(progression.starts))
    assert progression.slots == progression.bars * progression.beats_per_bar * progression.subdivision
    assert progression.resolution < progression.slots
    for slot in range(-progression.slots_per_bar, progression.slots):
        index = progression.chord_index(slot)
        assert index == max((i for i, start in enumerate(progression.starts) if start <= slot), default=0)
        bar = 0 if slot < 0 else slot // progression.slots_per_bar + 1
        assert progression.place(slot) == f"bar {bar}, beat {progression.beat_name(slot)}"
        assert progression.on_beat(slot) == progression.beat_name(slot).isdigit()
        assert progression.parse_beat(progression.beat_name(slot)) == slot % progression.slots_per_bar
    if not progression.single:
        assert all(a.key != b.key for a, b in pairwise(progression.chords))
    assert progression.slot_ticks * progression.subdivision == 480


@given(st.integers(1, 15), st.sampled_from([2, 4, 8]))
def test_meters(beats: int, unit: int) -> None:
    assert parse_meter(f"{beats}/{unit}") == Meter(beats, unit)


@given(st.text(alphabet="Dm7 |/%GCbi#VI\n()", max_size=24))
def test_any_text_is_read_or_refused(text: str) -> None:
    with suppress(InputError):
        assert parse_progression(text).slots > 0
