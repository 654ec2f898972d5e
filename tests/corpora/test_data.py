"""What our own files hold: every entry is read by the rules, and is what its kind promises."""

from collections import Counter

import pytest

from everyline.corpora import (
    DEGREE_NAMES,
    Ending,
    Instrument,
    ProgressionEntry,
    RuleFileEntry,
    load,
    read_toml,
)
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.degrees import DEGREES, parse_degree
from everyline.rules.ending_facts import ending_level, rests_on
from everyline.rules.endings import thirds
from everyline.rules.limits import LIMITS
from everyline.rules.pitch import parse_pitch
from everyline.rules.progression import parse_progression
from everyline.rules.rulefile import load_rules, parse_rules
from everyline.rules.transpose import CYCLE, home_key, keys_in_order, transpose_tables
from everyline.solver.compiler import compile_rules
from tests.sweeps import sweep

CORPUS = load()
OCTAVE = 12
MAJOR_TONES = {"1", "3", "5", "6", "7"}
MINOR_TONES = {"1", "b3", "5", "b7", "6", "7"}
COLOUR_TONES = {"9", "6", "13", "11"}
# Both thirds in one ending, on beats or before a minor chord: for the blues, or where a file means it.
NAMED_ONLY = {"crushed-third", "turn-on-both-thirds", "minor-third-by-semitones", "minor-third-double-above"}
# The last chord that each kind of chord before it leads to, in common practice: semitones above its root.
LEADS = {"m7b5": 5, "dim7": 1, "m6": 7, "maj7": 7}
DOMINANT_LEADS = 5


def named(thing: Ending | Instrument | ProgressionEntry | RuleFileEntry) -> str:
    return thing.name


def stays(entry: RuleFileEntry) -> bool:
    """Whether a rule file keeps its range in every key: that of an instrument or a position."""
    return "instrument" in read_toml(entry.path).get("range", {})


def chord_of(quality: str) -> Chord:
    return parse_chord(f"C{quality}" if quality[:1] not in ("b", "#") else f"C({quality})")


def contour(ending: Ending, lead: int) -> list[int]:
    """Signed semitones between neighbouring notes: the nearest pitch of each degree, a tritone up."""
    intervals: list[int] = []
    before: int | None = None
    for event in ending.events:
        pitch_class = (parse_degree(event.degree) + (lead if event.after else 0)) % OCTAVE
        if before is not None:
            up = (pitch_class - before) % OCTAVE
            intervals.append((up if up <= OCTAVE // 2 else up - OCTAVE) + OCTAVE * event.octave)
        before = pitch_class
    return intervals


def test_degree_names_are_those_of_the_rules() -> None:
    assert set(DEGREE_NAMES) == set(DEGREES)


@pytest.mark.parametrize("ending", CORPUS.endings.values(), ids=named)
def test_an_ending_can_be_sung(ending: Ending) -> None:
    intervals = contour(ending, LEADS.get(ending.over[0], DOMINANT_LEADS))
    assert max(map(abs, intervals)) <= OCTAVE
    heights = [sum(intervals[:place]) for place in range(len(intervals) + 1)]
    assert max(heights) - min(heights) <= OCTAVE + 2
    # It arrives by no more than a fourth; wider leaps stay inside.
    arrival = len(ending.before) - 1 - ending.held
    assert abs(intervals[arrival]) <= 5
    assert ending.remark.endswith(".")


@pytest.mark.parametrize("ending", CORPUS.endings.values(), ids=named)
def test_an_ending_names_qualities_and_ends_on_a_chord_tone(ending: Ending) -> None:
    assert ending.over
    assert [chord_of(quality).quality for quality in ending.over] == list(ending.over)
    rest = rests_on(ending).split(",")[0]
    assert rest in (COLOUR_TONES if ending.colour else MAJOR_TONES | MINOR_TONES)
    assert thirds(ending) != "neither" or ending.name in NAMED_ONLY
    assert 1 <= ending_level(ending) <= 5


def test_no_two_endings_are_the_same() -> None:
    assert len({(ending.events, ending.over) for ending in CORPUS.endings.values()}) == len(CORPUS.endings)


def test_endings_are_spread() -> None:
    endings = CORPUS.endings.values()
    dominant = [ending for ending in endings if "7" in ending.over]
    assert len(endings) >= 150
    plain = [ending for ending in dominant if not ending.colour and not ending.held]
    assert {ending.resolves_to for ending in plain} == MAJOR_TONES | MINOR_TONES
    assert {ending.resolves_to for ending in dominant if ending.colour} >= COLOUR_TONES
    halves = {f"{beat}{part}" for beat in "1234" for part in ("", "&")}
    assert halves <= {ending.start_beat for ending in dominant}
    assert {"1", "3", "5", "b7", "b9", "9", "13", "11"} <= {ending.start_degree for ending in dominant}
    assert {"m7", "m6", "m7b5", "dim7", "7sus4", "7alt", "7#5"} <= {q for e in endings for q in e.over}
    assert any(beat.rest for ending in endings for beat in ending.beats.before)
    assert any(ending.lands_on is None for ending in endings)
    assert any(event.length == 160 for ending in endings for event in ending.events)
    assert min(len(ending.events) for ending in endings) == 2
    assert max(ending.length for ending in endings) >= 2 * 1920
    # Each tone of a major and of a minor chord has more than one way home.
    assert min(Counter(ending.resolves_to for ending in plain).values()) >= 3
    assert min(Counter(map(ending_level, endings)).values()) >= 20
    for third in ("major", "minor", "both"):
        assert sum(thirds(ending) == third for ending in endings) >= 20


def test_anticipations_are_held_and_not_struck_again() -> None:
    held = [ending for ending in CORPUS.endings.values() if ending.held]
    assert len(held) >= 15
    for ending in CORPUS.endings.values():
        if not ending.held and ending.lands_on is not None:
            assert contour(ending, LEADS.get(ending.over[0], DOMINANT_LEADS))[len(ending.before) - 1] != 0


@pytest.mark.parametrize("entry", CORPUS.progressions.values(), ids=named)
def test_changes_and_numerals_agree(entry: ProgressionEntry) -> None:
    changes = parse_progression(entry.changes, entry.meter, 2, entry.key)
    numerals = parse_progression(entry.numerals, entry.meter, 2, entry.key)
    assert [chord.key for chord in changes.chords] == [chord.key for chord in numerals.chords]
    assert changes.starts == numerals.starts
    assert changes.bars == entry.bars + entry.turns_round


def test_progressions_cover_common_practice() -> None:
    assert len(CORPUS.progressions) >= 80
    assert {entry.level for entry in CORPUS.progressions.values()} == {1, 2, 3, 4, 5}
    assert len({entry.key for entry in CORPUS.progressions.values()}) >= 9
    assert {12, 32} <= {entry.bars for entry in CORPUS.progressions.values()}
    assert CORPUS.progressions["jazz-blues"].bars == CORPUS.progressions["minor-blues"].bars == 12


@pytest.mark.parametrize("instrument", CORPUS.instruments.values(), ids=named)
def test_instruments_hold_together(instrument: Instrument) -> None:
    lowest, highest = parse_pitch(instrument.lowest), parse_pitch(instrument.highest)
    assert 12 <= highest - lowest <= 60
    assert 21 <= lowest < highest <= 108  # the compass of a piano
    low, high = map(parse_pitch, instrument.comfortable)
    # Room for a line: an octave and a third at least.
    assert lowest <= low and low + 15 <= high <= highest
    strings = [parse_pitch(string) for string in instrument.strings]
    if strings:
        assert min(strings) == lowest
    if instrument.fretted:
        assert max(strings) + instrument.frets == highest


def test_a_comfortable_neck_ends_before_its_last_fret() -> None:
    # Common practice: single lines are read up to about the fifteenth fret, on short necks up to the octave.
    for instrument in CORPUS.instruments.values():
        if instrument.fretted:
            top = parse_pitch(instrument.comfortable[1]) - max(map(parse_pitch, instrument.strings))
            assert 12 <= top <= 15


TUNINGS = {
    # MusicXML tablature tutorial (W3C): strings 6 to 1 of the guitar, MIDI 40 45 50 55 59 64.
    "guitar": (40, 45, 50, 55, 59, 64),
    # The others: common practice.
    "bass-guitar": (28, 33, 38, 43),
    "mandolin": (55, 62, 69, 76),
    "violin": (55, 62, 69, 76),
    "ukulele": (67, 60, 64, 69),
}


@pytest.mark.parametrize(("name", "pitches"), TUNINGS.items())
def test_tunings(name: str, pitches: tuple[int, ...]) -> None:
    assert tuple(parse_pitch(string) for string in CORPUS.instruments[name].strings) == pitches


def test_fretted_notes_of_the_tablature_tutorial() -> None:
    # MusicXML tablature tutorial (W3C): string 3, fret 5 sounds C4 and fret 7 D4.
    third_string = parse_pitch(CORPUS.instruments["guitar"].strings[-3])
    assert (third_string + 5, third_string + 7) == (parse_pitch("C4"), parse_pitch("D4"))


# Common practice: written pitch above sounding pitch, in semitones.
TRANSPOSITIONS = {
    "guitar": 12,
    "bass-guitar": 12,
    "double-bass": 12,
    "trumpet": 2,
    "clarinet": 2,
    "soprano-saxophone": 2,
    "alto-saxophone": 9,
    "tenor-saxophone": 14,
    "baritone-saxophone": 21,
    "flute": 0,
    "violin": 0,
    "trombone": 0,
}


@pytest.mark.parametrize(("name", "semitones"), TRANSPOSITIONS.items())
def test_transpositions(name: str, semitones: int) -> None:
    assert CORPUS.instruments[name].transposition == semitones


# Our name, the class of music21 (BSD licence) that describes the same instrument, and whether it states the
# transposition and the lowest note that ours should have. Its guitar and bass are given at sounding pitch.
OTHERS = [
    ("guitar", "ElectricGuitar", False),
    ("bass-guitar", "ElectricBass", False),
    ("double-bass", "Contrabass", True),
    ("violin", "Violin", True),
    ("viola", "Viola", True),
    ("cello", "Violoncello", True),
    ("flute", "Flute", True),
    ("clarinet", "Clarinet", True),
    ("soprano-saxophone", "SopranoSaxophone", True),
    ("alto-saxophone", "AltoSaxophone", True),
    ("tenor-saxophone", "TenorSaxophone", True),
    ("trumpet", "Trumpet", True),
    ("trombone", "Trombone", True),
]


@pytest.mark.parametrize(("name", "other", "written"), OTHERS, ids=[row[0] for row in OTHERS])
def test_instruments_against_music21(name: str, other: str, written: bool) -> None:
    from music21 import instrument as music21_instrument

    ours, theirs = CORPUS.instruments[name], getattr(music21_instrument, other)()
    lowest = parse_pitch(ours.lowest)
    if written:
        semitones = -int(theirs.transposition.semitones) if theirs.transposition else 0
        assert ours.transposition == semitones
        lowest += semitones
    assert theirs.lowestNote.midi == lowest
    if name not in ("bass-guitar", "double-bass"):  # ours are the finger and acoustic sounds, theirs differ
        assert ours.program == theirs.midiProgram + 1
    if ours.strings:
        assert [parse_pitch(string) for string in ours.strings] == [p.midi for p in theirs.stringPitches]


@pytest.mark.parametrize("entry", CORPUS.rulefiles.values(), ids=named)
def test_every_rule_file_has_lines(entry: RuleFileEntry) -> None:
    rules = load_rules(entry.path, CORPUS)
    assert rules.title == entry.title != entry.name
    assert entry.remark.endswith(".")
    assert entry.level is not None
    assert compile_rules(rules).count > 0


LONG_FORM = 7
"""Bars from which three keys, a major third apart, stand for twelve: the test stays quick."""


@pytest.mark.parametrize("entry", [each for each in CORPUS.rulefiles.values() if stays(each)], ids=named)
def test_what_names_an_instrument_has_lines_for_it_in_twelve_keys(entry: RuleFileEntry) -> None:
    tables = read_toml(entry.path)
    keys = keys_in_order(CYCLE, minor=home_key(tables).endswith("m"))
    bars = load_rules(entry.path, CORPUS).progression.bars
    for key in keys[:: sweep(small=6, full=4)] if bars >= LONG_FORM else keys[:: sweep(small=3, full=1)]:
        rules = parse_rules(transpose_tables(tables, key), CORPUS)
        assert compile_rules(rules).count > 0, f"{entry.name} has no line in {key}"


@pytest.mark.parametrize("strings", [[1, 2, 3, 4], [2, 3, 4, 5], [3, 4, 5, 6]])
@pytest.mark.parametrize("changes", ["Dm7 | G7 | Cmaj7", "Dm7b5 | G7 | Cm6"])
def test_every_position_on_four_strings_has_lines_with_the_defaults(strings: list[int], changes: str) -> None:
    # Twelve positions of one progression are one position in twelve keys.
    for position in range(1, 13):
        place = {"instrument": "guitar", "position": position, "strings": strings}
        assert compile_rules(parse_rules({"changes": changes, "range": place}, CORPUS)).count > 1000


@pytest.mark.parametrize("chord", ["Dm7", "G7", "Cmaj7", "C6", "Bm7b5", "Bdim7", "D7sus4", "C", "Am"])
def test_a_vamp_on_one_chord_has_lines_with_the_defaults(chord: str) -> None:
    assert compile_rules(parse_rules({"changes": f"{chord} | %"}, CORPUS)).count > 1000


def test_rule_files_are_graded_and_show_every_limit() -> None:
    files = CORPUS.rulefiles.values()
    levels = [entry.level for entry in files if entry.level is not None]
    assert len(files) >= 30
    assert levels == sorted(levels)
    assert set(levels) == {1, 2, 3, 4, 5}
    first = next(iter(files))
    assert compile_rules(load_rules(first.path, CORPUS)).count < 50
    shown = {limit for entry in files for limit in LIMITS if f'kind = "{limit}"' in entry.text()}
    assert shown == set(LIMITS)
