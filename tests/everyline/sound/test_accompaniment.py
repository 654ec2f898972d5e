"""The accompaniment: voicings, bass, who plays when. The rules are common practice."""

from __future__ import annotations

from itertools import pairwise

import pytest

from everyline.rules.chord_table import QUALITIES
from everyline.rules.chords import parse_chord
from everyline.rules.progression import parse_progression
from everyline.rules.ruleset import Rules
from everyline.sound import bass, voicing
from everyline.sound.accompany import Band, accompany
from everyline.sound.feels import FEELS
from everyline.sound.played import PartNote
from everyline.sound.swing import SwingMap
from tests.everyline.sound.sounding import METERS, corpus_rules, in_meter, spans_of
from tests.sweeps import sweep

EVEN = SwingMap(120)
STYLES = ("walking", "two-feel")
NAMES = sorted(corpus_rules())


def band(feel: str = "swing", timing: SwingMap = EVEN, bass: str = "by-feel", seed: int = 0) -> Band:
    """A band whose drums swing as everybody does."""
    return Band(FEELS[feel], timing, timing, bass, seed)


def played(rules: Rules, style: str, part: str, closing: bool = True) -> list[PartNote]:
    """A part over the whole form, straight."""
    bars = rules.progression.bars
    found = accompany(rules, bars, band(bass=style), (part,), closing)
    return sorted(found, key=lambda note: (note.start, note.pitch))


@pytest.mark.parametrize("quality", [each.name for each in QUALITIES])
def test_a_shell_has_the_tones_that_tell_the_chord(quality: str) -> None:
    chord = parse_chord("C" + quality)
    shell = voicing.shell_degrees(chord)
    assert 2 <= len(shell) <= voicing.MOST_VOICES
    assert set(shell) <= set(chord.degrees)
    thirds = {"3", "b3", "4", "2"} & set(chord.degrees)
    assert thirds & set(shell)
    assert {"7", "b7", "bb7"} & set(chord.degrees) <= set(shell)
    for each in voicing.voicings(chord):
        assert {pitch % 12 for pitch in each} == set(voicing.shell_classes(chord))
        assert set(each) <= set(range(voicing.LOWEST, voicing.HIGHEST + 1))


@pytest.mark.parametrize(
    ("changes", "lower", "upper"),
    [
        # Guide-tone pages of published method sites: F F E and C B B.
        ("Dm7 | G7 | Cmaj7", "C B B", "F F E"),
        # The same movement in any key (common practice).
        ("Gm7 | C7 | Fmaj7", "Bb Bb A", "F E E"),
    ],
)
def test_guide_tones_lead_as_printed(changes: str, lower: str, upper: str) -> None:
    classes = {"C": 0, "B": 11, "F": 5, "E": 4, "Bb": 10, "A": 9}
    led = voicing.lead(parse_progression(changes).chords)
    found = [[pitch % 12 for pitch in chord] for chord in led]
    assert found == [
        [classes[low], classes[high]] for low, high in zip(lower.split(), upper.split(), strict=True)
    ]


@pytest.mark.parametrize("root", range(12))
def test_guide_tones_of_a_two_five_one_move_by_step_in_every_key(root: int) -> None:
    names = "C Db D Eb E F Gb G Ab A Bb B".split()
    changes = f"{names[(root + 2) % 12]}m7 | {names[(root + 7) % 12]}7 | {names[root]}maj7"
    for before, after in pairwise(voicing.lead(parse_progression(changes).chords)):
        assert all(abs(p - q) <= 2 for p, q in zip(before, after, strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_voices_lead_through_every_progression_of_the_corpus(name: str) -> None:
    chords = corpus_rules()[name].progression.chords
    led = voicing.lead(chords)
    for (one, other), (before, after) in zip(pairwise(chords), pairwise(led), strict=True):
        nearest = min(voicing.movement(before, each) for each in voicing.voicings(other))
        # A greedy hand would move least at every step; looking ahead may cost a little, never a jump.
        assert voicing.movement(before, after) <= nearest + 10, (one.symbol, other.symbol)


def test_a_small_case_moves_least_of_all() -> None:
    chords = parse_progression("Em7b5 | A7b9 | Dm6").chords
    found = voicing.lead(chords)

    def total(path: tuple[voicing.Voicing, ...]) -> float:
        moved = sum(voicing.movement(before, after) for before, after in pairwise(path))
        return moved + sum(voicing._strain(each, ()) for each in path)

    every = [
        (one, two, three)
        for one in voicing.voicings(chords[0])
        for two in voicing.voicings(chords[1])
        for three in voicing.voicings(chords[2])
    ]
    assert len(every) > 10
    assert total(found) == min(map(total, every))


@pytest.mark.parametrize("closing", [True, False])
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", NAMES)
def test_the_bass_says_where_each_chord_begins(name: str, style: str, closing: bool) -> None:
    rules = corpus_rules()[name]
    line = played(rules, style, "bass", closing)
    at = {note.start: note.pitch for note in line}
    assert len(at) == len(line), "one note at a time"
    for span in spans_of(rules):
        if span.begins:
            assert at[span.start / 480] % 12 == bass.bass_class(rules.progression.chords[span.chord])
    assert all(bass.LOWEST <= pitch <= bass.HIGHEST for pitch in at.values())
    assert all(before.end <= after.start for before, after in pairwise(line))


@pytest.mark.parametrize("closing", [True, False])
@pytest.mark.parametrize("name", NAMES)
def test_a_walking_bass_walks(name: str, closing: bool) -> None:
    rules = corpus_rules()[name]
    line = played(rules, "walking", "bass", closing)
    for before, after in pairwise(line):
        assert 1 <= abs(after.pitch - before.pitch) <= 12
    beats = rules.progression.beats_per_bar
    last = (rules.progression.bars - 1) * beats
    walked = [note.start for note in line if not closing or note.start < last]
    assert set(range(last if closing else last + beats)) <= set(walked)
    starts = [span.start / 480 for span in spans_of(rules) if span.begins]
    for before, after in pairwise(line):
        if after.start in starts and before.start not in starts:
            # What leads in is a half or whole step away, the fifth, or a tone of the old chord.
            away = (before.pitch - after.pitch) % 12
            chord = rules.note((int(before.start * 480), before.pitch, 480))
            assert away in (1, 2, 5, 7, 10, 11) or chord.chord_tone


def test_two_feel_plays_root_and_fifth() -> None:
    rules = corpus_rules()["two-five-one-long"]
    line = played(rules, "two-feel", "bass")
    # D A, G D, C G, and the last C held: root and fifth of each chord.
    assert [note.pitch % 12 for note in line] == [2, 9, 7, 2, 0, 7, 0]
    assert [note.start for note in line] == [0, 2, 4, 6, 8, 10, 12]


def test_an_altered_fifth_is_the_fifth() -> None:
    assert bass.fifth_class(parse_chord("Dm7b5")) == 8
    assert bass.fifth_class(parse_chord("C7#5")) == 8
    assert bass.fifth_class(parse_chord("C7sus4")) == 7


def test_a_slash_bass_is_played() -> None:
    assert bass.bass_class(parse_chord("C/E")) == 4


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("meter", METERS)
def test_every_meter_is_filled_and_nothing_hangs_over(meter: tuple[str, str, int], style: str) -> None:
    rules = in_meter(*meter).rules
    end = rules.progression.bars * rules.progression.beats_per_bar
    for part in ("chords", "bass"):
        notes = played(rules, style, part)
        for span in spans_of(rules):
            assert any(span.start <= round(note.start * 480) < span.end for note in notes), (part, span)
        assert max(note.end for note in notes) <= end
        assert all(note.start < note.end for note in notes)


def test_chords_strike_again_off_the_beat_and_swing_with_the_line() -> None:
    rules = corpus_rules()["two-five-one-long"]
    straight = {note.start for note in accompany(rules, 4, band(), ("chords",))}
    swung = {note.start for note in accompany(rules, 4, band(timing=SwingMap(200, 2.0)), ("chords",))}
    assert straight == {0, 1.5, 4, 5.5, 8, 9.5, 12}
    assert swung == {0, 1 + 2 / 3, 4, 5 + 2 / 3, 8, 9 + 2 / 3, 12}
    triplets = in_meter("4/4", "Dm7 G7 | Cmaj7", 3).rules
    upbeats = {round(note.start % 1, 9) for note in accompany(triplets, 3, band(), ("chords",), False)} - {0}
    assert list(upbeats) == [pytest.approx(2 / 3)]


@pytest.mark.parametrize("meter", METERS)
def test_a_seed_draws_the_comping_and_nothing_else(meter: tuple[str, str, int]) -> None:
    rules = in_meter(*meter).rules
    bars = rules.progression.bars

    def comped(seed: int, part: str = "chords") -> tuple[PartNote, ...]:
        return tuple(accompany(rules, bars, band(seed=seed), (part,)))

    assert comped(7) == comped(7)
    assert comped(7, "bass") == comped(0, "bass")
    assert len({frozenset(note.start for note in comped(seed)) for seed in range(1, 30)}) > 3


def test_the_same_chords_are_played_the_same_way() -> None:
    rules = corpus_rules()["jazz-blues"]
    assert played(rules, "walking", "bass") == played(rules, "walking", "bass")
    assert len({note.pitch for note in played(rules, "walking", "bass")}) > 7


def test_a_walking_bass_covers_the_instrument_and_leads_into_every_chord() -> None:
    """Over the corpus: from the open low string up nearly two octaves, mostly by step; into a chord by a half
    or whole step nearly always.
    """
    pitches: list[int] = []
    moves: list[int] = []
    leads: list[int] = []
    for rules in list(corpus_rules().values())[:: sweep(5, 1)]:
        starts = {span.start / 480 for span in spans_of(rules) if span.begins}
        line = played(rules, "walking", "bass", False)
        pitches += [note.pitch for note in line]
        for before, after in pairwise(line):
            moves.append(abs(after.pitch - before.pitch))
            if after.start in starts and before.start not in starts:
                leads.append(abs(after.pitch - before.pitch))
    assert min(pitches) <= 29 and max(pitches) >= 48
    assert sum(move <= 2 for move in moves) > len(moves) / 2
    assert len(leads) > 50 and sum(lead <= 2 for lead in leads) > 0.95 * len(leads)


@pytest.mark.parametrize("name", NAMES[:: sweep(4, 1)])
def test_the_bass_of_a_bossa_is_root_and_fifth(name: str) -> None:
    rules = corpus_rules()[name]
    chords = rules.progression.chords
    line = played(rules, "dotted", "bass", False)
    at = {round(note.start * 480): note.pitch for note in line}
    for span in spans_of(rules):
        chord = chords[span.chord]
        assert at[span.start] % 12 == bass.bass_class(chord)
        within = {pitch % 12 for tick, pitch in at.items() if span.start <= tick < span.end}
        assert within <= {bass.bass_class(chord), bass.fifth_class(chord)}


def test_a_bossa_bass_as_it_is_taught() -> None:
    line = played(corpus_rules()["two-five-one-long"], "dotted", "bass", False)
    assert [note.start for note in line][:8] == [0, 1.5, 2, 3.5, 4, 5.5, 6, 7.5]
    # D A A D, G D D G.
    assert [note.pitch % 12 for note in line][:8] == [2, 9, 9, 2, 7, 2, 2, 7]
