"""The accompaniment: voicings, bass, who plays when. The rules are common practice."""

from __future__ import annotations

from itertools import pairwise

import pytest

from everyline.rules.chord_table import QUALITIES
from everyline.rules.chords import parse_chord
from everyline.rules.progression import parse_progression
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.sound import bass, voicing
from everyline.sound.accompany import accompany
from everyline.sound.performance import perform
from everyline.sound.played import PartNote
from everyline.sound.sound_options import SoundOptions
from everyline.sound.swing import SwingMap
from everyline.spaces.space import Space
from tests.everyline.sound.sounding import METERS, corpus_rules, in_meter, spans_of
from tests.spaces import CORPUS
from tests.sweeps import sweep

EVEN = SwingMap(120)
STYLES = ("walking", "two-feel")
NAMES = sorted(corpus_rules())


def played(rules: Rules, style: str, part: str, closing: bool = True) -> list[PartNote]:
    """A part over the whole form, straight."""
    bars = rules.progression.bars
    return sorted(
        accompany(rules, bars, EVEN, style, (part,), closing), key=lambda note: (note.start, note.pitch)
    )


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


def test_chords_keep_out_of_the_way_of_the_line() -> None:
    """Over progressions of the corpus: hardly a strike at or above the line, hardly a rub of a semitone."""
    strikes = crossed = rubs = 0
    for place, entry in enumerate(list(CORPUS.progressions.values())[:: sweep(3, 1)]):
        instrument = ("guitar", "trumpet", "alto-saxophone")[place % 3]
        data = {"changes": entry.changes, "key": entry.key, "meter": entry.meter, "handoff": {"rule": "any"}}
        data |= {"range": {"instrument": instrument}, "approach": {"figures": ["above-below"]}}
        line = Space(parse_rules(data, CORPUS)).sample(1, 1)[0]
        (only,) = perform(line, SoundOptions(swing="straight")).passes
        heard: dict[int, list[int]] = {}
        for note in only.notes:
            if note.part == "chords":
                heard.setdefault(round(note.start * 480), []).append(note.pitch)
        for tick, pitches in heard.items():
            for above in [n.pitch for n in line.notes if n.onset <= tick < n.onset + n.length]:
                strikes += 1
                crossed += max(pitches) >= above
                rubs += tick % 480 == 0 and any(abs(each - above) == 1 for each in pitches)
    assert strikes > 50
    assert crossed < strikes / 10 and rubs < strikes / 50


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
            assert any(note.start == span.start / 480 for note in notes), (part, span)
        assert max(note.end for note in notes) <= end
        assert all(note.start < note.end for note in notes)


def test_chords_strike_again_off_the_beat_and_swing_with_the_line() -> None:
    rules = corpus_rules()["two-five-one-long"]
    straight = {note.start for note in accompany(rules, 4, EVEN, "walking", ("chords",))}
    swung = {note.start for note in accompany(rules, 4, SwingMap(200, 2.0), "walking", ("chords",))}
    assert straight == {0, 1.5, 4, 5.5, 8, 9.5, 12}
    assert swung == {0, 1 + 2 / 3, 4, 5 + 2 / 3, 8, 9 + 2 / 3, 12}
    triplets = in_meter("4/4", "Dm7 G7 | Cmaj7", 3).rules
    upbeats = {
        round(note.start % 1, 9) for note in accompany(triplets, 3, EVEN, "walking", ("chords",), False)
    } - {0}
    assert list(upbeats) == [pytest.approx(2 / 3)]


@pytest.mark.parametrize("meter", METERS)
def test_a_seed_draws_the_comping_and_nothing_else(meter: tuple[str, str, int]) -> None:
    rules = in_meter(*meter).rules
    bars = rules.progression.bars

    def comped(seed: int, part: str = "chords") -> tuple[PartNote, ...]:
        return tuple(accompany(rules, bars, EVEN, "walking", (part,), True, (), seed))

    assert comped(7) == comped(7)
    assert comped(7, "bass") == comped(0, "bass")
    drawn = {frozenset(note.start for note in comped(seed)) for seed in range(1, 30)}
    # Chords of two beats, and of seven eighths, are struck where they begin alone.
    assert (len(drawn) > 1) is (meter[0] != "7/8" and meter[2] == 2), "more than one rhythm"
    usual = {note.start for note in comped(0)}
    begins = {span.start / 480 for span in spans_of(rules)}
    for starts in drawn:
        # Where a chord begins it is struck, whatever is drawn, and never off the halves of a beat.
        assert begins <= starts and begins <= usual
        assert all(meter[2] == 3 or start * 2 % 1 == 0 for start in starts)


def test_the_same_chords_are_played_the_same_way() -> None:
    rules = corpus_rules()["jazz-blues"]
    assert played(rules, "walking", "bass") == played(rules, "walking", "bass")
    assert len({note.pitch for note in played(rules, "walking", "bass")}) > 7
