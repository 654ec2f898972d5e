"""A line in twelve keys: the changes of published tables, the same shape, names that read well, in range."""

import pytest

from everyline import lines, parse
from everyline.corpora import load
from everyline.paper.instrument_part import part_for
from everyline.paper.layout import lay_out, score_part
from everyline.paper.score_options import ScoreOptions
from everyline.paper.transposed import as_written, in_key, key_of, twelve_keys, written_pitches
from everyline.rules.pitch import parse_pitch
from everyline.rules.words import explain

# ii-V-I in twelve keys: guitar-chord.org, table of ii-V-I; order of the cycle: learnjazzstandards.com.
TABLE = {
    "C": "Dm7 G7", "F": "Gm7 C7", "Bb": "Cm7 F7", "Eb": "Fm7 Bb7", "Ab": "Bbm7 Eb7", "Db": "Ebm7 Ab7",
    "Gb": "Abm7 Db7", "B": "C#m7 F#7", "E": "F#m7 B7", "A": "Bm7 E7", "D": "Em7 A7", "G": "Am7 D7",
}  # fmt: skip
SPACE = parse('changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "guitar"')
LINE = SPACE[SPACE.count // 2]


def test_twelve_keys_of_the_published_table_in_the_order_of_the_cycle() -> None:
    found = {}
    for line in twelve_keys(LINE):
        chords = [chord.symbol for chord in line.rules.progression.chords]
        assert chords[-1] == f"{key_of(line)}maj7"
        assert line.rules.progression.text == " | ".join(chords)
        found[key_of(line)] = " ".join(chords[:2])
    assert list(found.items()) == list(TABLE.items())


@pytest.mark.parametrize("index", range(12))
def test_the_shape_and_the_analysis_stay(index: int) -> None:
    line = SPACE[index * SPACE.count // 12]
    for moved in twelve_keys(line):
        up = moved.notes[0].pitch - line.notes[0].pitch
        assert [n.pitch - up for n in moved.notes] == [n.pitch for n in line.notes]
        assert [(n.role, n.degree) for n in moved.notes] == [(n.role, n.degree) for n in line.notes]
        assert [n.onset for n in moved.notes] == [n.onset for n in line.notes]
        assert all(parse_pitch(n.name) == n.pitch for n in moved.notes)
        assert not any("bb" in n.name or "##" in n.name for n in moved.notes)
        assert all(40 <= n.pitch <= 86 for n in moved.notes)


@pytest.mark.parametrize("progression", load().progressions)
def test_every_progression_moves_round_the_cycle(progression: str) -> None:
    entry = load().progressions[progression]
    space = parse(
        f'changes = """{entry.changes}"""\nkey = "{entry.key}"\nmeter = "{entry.meter}"\n'
        '[handoff]\nrule = "any"\n[arpeggio]\nturns = 30\n[approach]\ncount = ["0"]\n'
        '[range]\nlowest = "C4"\nhighest = "C5"'
    )
    line = space.sample(1, seed=1)[0]
    keys = [key_of(moved) for moved in twelve_keys(line)]
    assert len(set(keys)) == 12 and all(key.endswith("m") == entry.key.endswith("m") for key in keys)


def test_roman_numerals_stay_and_the_key_moves() -> None:
    line = parse('changes = "ii7 | V7 | Imaj7"\nkey = "C"')[0]
    moved = in_key(line, "Eb")
    assert moved.rules.progression.text == "ii7 | V7 | Imaj7"
    assert [chord.name for chord in moved.rules.progression.chords] == ["Fm7", "Bb7", "Ebmaj7"]


def test_words_beside_a_transposed_part_name_what_is_printed() -> None:
    space = parse('changes = "Dm7 | G7 | Cmaj7"\nkey = "C"\n[range]\ninstrument = "alto-saxophone"')
    line = space[5]
    part = score_part([line], ScoreOptions())
    written = as_written(line, part)
    printed = lay_out(line, part, ScoreOptions()).pitches
    assert [note.name for note in written.notes] == [pitch.name for pitch in printed]
    assert "Bm7" in explain(written) and "Dm7" not in explain(written)


def test_a_written_part_has_no_b_sharp_that_its_key_and_chord_have_not() -> None:
    # Before E a line in C has D#; an alto saxophone reads it in A, where it is C before C#, and not B#.
    space = lines("Dm7 | Cmaj7", key="C", instrument="alto-saxophone", figures=["double-chromatic-below"])
    alto = part_for(space.rules.instrument, space.rules.pitches)
    written = [
        (note.name, pitch.name)
        for line in space.sample(60, seed=4)
        for note, pitch in zip(line.notes, written_pitches(line, alto, alto.steps("C")), strict=True)
    ]
    assert any(name.startswith("D#") for name, _ in written)
    assert {pitch[:2] for _, pitch in written}.isdisjoint({"Cb", "Fb", "E#", "B#"})
    assert all(parse_pitch(name) + 9 == parse_pitch(pitch) for name, pitch in written)
