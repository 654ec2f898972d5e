"""Names of the notes of a line: by chord and scale, else by direction."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline import lines
from everyline.rules.annotate import spell_each, spell_line
from everyline.rules.breaches import breaches
from everyline.rules.line_text import parse_line
from everyline.rules.names import line_names
from everyline.rules.pitch import parse_pitch, split_pitch
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from tests.spaces import CORPUS

RANGE = {"lowest": "C2", "highest": "C7"}


def rules_for(changes: str, **more: Any) -> Rules:
    return parse_rules({"changes": changes, "range": RANGE, **more}, CORPUS)


def named(rules: Rules, pitches: str) -> str:
    """What notes in eighths from beat 1 on are called, without octaves."""
    events = tuple((240 * at, parse_pitch(each), 240) for at, each in enumerate(pitches.split()))
    return " ".join(name.rstrip("0123456789") for name in line_names(rules, rules.notes(events)))


@pytest.mark.parametrize(
    ("changes", "pitches", "names", "reason"),
    [
        ("G7 | Cmaj7", "G4 G#4 A4 A#4 B4", "G G# A A# B", "up: raised letters"),
        ("G7 | Cmaj7", "B4 A#4 A4 G#4 G4", "B Bb A Ab G", "down: lowered letters"),
        ("Cmaj7 | %", "E4 D#4 D4 C4", "E Eb D C", "three semitones down on two letters"),
        ("Cmaj7 | %", "C4 C#4 D4 E4", "C C# D E", "three semitones up on two letters"),
        ("Dm7 | %", "C4 D#4 E4 F4", "C D# E F", "a chromatic note that goes up a semitone"),
        ("G7 | Cmaj7", "D5 C#5 C5 B4", "D Db C B", "and one that goes down"),
        ("G7 | Cmaj7", "G#4 A#4 G#4 G4", "Ab Bb Ab G", "b9 #9 b9"),
        ("Dm7 | %", "F4 G#4 Bb4 A4", "F G# Bb A", "an enclosure: up to the target and down to it"),
        ("Dm7 | %", "F4 Bb4 G#4 A4", "F Bb G# A", "the other way round"),
        ("Dm7 | %", "D4 G4 F#4 F4", "D G Gb F", "three semitones down into a target"),
        ("Dm7 | %", "A3 E4 C#4 D4", "A E C# D", "a lower neighbour"),
        ("Ebmaj7 | %", "G4 Bb4 E4 Eb4", "G Bb E Eb", "no Fb outside a key or chord that has it"),
        ("F#m7 | %", "A4 C5 B#4 C#5", "A C C C#", "no B# either"),
        ("Abm7 | %", "Eb4 Cb4 Ab3 Gb3", "Eb Cb Ab Gb", "a chord that has Cb"),
        (
            "Gm7 | %",
            "Bb3 B3 Bb3 G3",
            "Bb B Bb G",
            "not Cb: the letter is shared, and the second note returns",
        ),
        ("Db7 | %", "F4 Gb4 G4 Ab4", "F Gb G Ab", "a scale tone keeps the letter of its degree"),
        ("G7alt | Cm", "G4 Ab4 Bb4 B4", "G G# A# B", "b9 and #9 of the altered scale, up"),
        ("G7alt | Cm", "B4 Bb4 Ab4 G4", "B Bb Ab G", "and down"),
        ("D7 | G7", "F#4 A4 C5 G#4", "F# A C G#", "the last note has nowhere to go: the usual name"),
    ],
)
def test_names(changes: str, pitches: str, names: str, reason: str) -> None:
    assert named(rules_for(changes), pitches) == names, reason


def test_a_key_that_has_the_name_keeps_it() -> None:
    assert named(rules_for("B7 | E7", key="F#"), "D#4 E#4 F#4 A4") == "D# E# F# A"
    assert named(rules_for("B7 | E7", key="E"), "D#4 E#4 F#4 A4") == "D# F F# A"


@pytest.mark.parametrize(
    ("text", "over", "names"),
    [
        ("#5 b9' 1 b7 | 5", "Cmaj7", "D# Ab G F G"),
        ("b9 #9 b9 1 | 3", "Cmaj7", "Ab Bb Ab G E"),
        ("b9 1 b7 5 | 3", "Cmaj7", "Ab G F D E"),
        ("#5 b9' 1 b7 | 5", "Cm7", "Eb Ab G F G"),
    ],
)
def test_endings(text: str, over: str, names: str) -> None:
    """A leap keeps the letter of the written degree, a step goes by direction, a scale tone by its scale."""
    data: dict[str, Any] = {
        "changes": f"Dm7 | G7 | {over}",
        "ending": {"use": ["own"]},
        "endings": [{"name": "own", "notes": text}],
    }
    from everyline.spaces.space import Space

    space = Space(parse_rules(data, CORPUS))
    for line in space.sample(20, seed=3):
        found = [note.name.rstrip("0123456789") for note in line.notes]
        assert found[-len(names.split()) :] == names.split()


def test_sentences_call_notes_as_the_staff_does() -> None:
    rules = lines("Dm7 | G7 | Cmaj7").rules
    events = parse_line("F4 Gb4 E4 F4 A4 C5 D5 F5", rules)[0]
    assert spell_line(rules, events)[1] == "Gb4"
    assert not any("F#4" in breach.message for breach in breaches(rules, events))


def test_alone_a_note_has_one_name_in_every_line() -> None:
    rules = lines("Dm7 | G7 | Cmaj7").rules
    up, down = (parse_line(text, rules)[0] for text in ("D4 D#4 E4", "F4 E4 Eb4"))
    assert spell_each(rules, (up[1],)) == spell_each(rules, up)[1:2]
    assert spell_each(rules, down)[2:] == ("Eb4",)


@given(
    st.lists(st.integers(40, 90), min_size=1, max_size=24),
    st.sampled_from(["Dm7 | G7 | Cmaj7", "Abm7 | Db7 | Gbmaj7", "C#7alt | F#m(maj7)", "Bdim7 | E7b9 | Am6"]),
    st.sampled_from([None, "C", "Gb", "F#", "C#m"]),
)
def test_a_name_sounds_its_pitch_without_double_accidentals(
    pitches: list[int], changes: str, key: str | None
) -> None:
    rules = rules_for(changes, **({} if key is None else {"key": key}))
    notes = rules.notes(tuple((240 * at, pitch, 240) for at, pitch in enumerate(pitches)))
    for pitch, name in zip(pitches, line_names(rules, notes), strict=True):
        assert parse_pitch(name) == pitch
        parts = split_pitch(name)
        assert parts is not None and len(parts[1]) <= 1
