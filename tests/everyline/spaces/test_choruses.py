"""Choruses: the Python face, what a chorus shows of its phrases, and rests on paper and in the ear."""

from __future__ import annotations

import io
from collections import Counter
from fractions import Fraction

import pytest
from lxml import etree

from everyline import load_plan, parse_plan
from everyline.corpora.errors import InputError
from everyline.paper.bars import bars_of
from everyline.paper.fingering import finger, in_octave
from everyline.paper.musicxml import write
from everyline.paper.score_options import ScoreOptions
from everyline.reading import read_line
from everyline.rules.analysis import holds
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.pitch import parse_pitch
from everyline.rules.roughness import roughness
from everyline.solver.facets import facets
from everyline.solver.tally import tallies
from everyline.spaces.choruses import Chorus, ChorusLine
from tests.schema import musicxml_schema

PLAN = """
title = "Three breaths"
key = "Eb"
changes = "Fm7 Bb7 | Ebmaj7 | Ebmaj7 C7 | Fm7 | Bb7 | Ebmaj7 | Gm7 C7 | Fm7 Bb7 | Ebmaj7 | %"
[range]
instrument = "guitar"
[approach]
figures = ["above-below", "below-above"]
[join]
reach = 5
[[phrase]]
name = "question"
bars = "1-3"
until = "3"
[phrase.ending]
use = ["plain"]
[[phrase]]
name = "triplets"
bars = "4-6"
subdivision = 3
[phrase.approach]
count = ["0"]
[phrase.arpeggio]
turns = 1
[[phrase]]
name = "answer"
bars = "7-9"
[phrase.entry]
pickup = [1]
"""


@pytest.fixture(scope="module")
def chorus() -> Chorus:
    return parse_plan(PLAN)


@pytest.fixture(scope="module")
def some(chorus: Chorus) -> list[ChorusLine]:
    found = [chorus[0], chorus[-1], *chorus.sample(4, seed=9), *chorus.smoothest(2)]
    assert all(isinstance(each, ChorusLine) for each in found)
    return found  # type: ignore[return-value]


# -- the space -----------------------------------------------------------------------------------------------


def test_a_chorus_has_its_number(chorus: Chorus, some: list[ChorusLine]) -> None:
    assert chorus.count > 10**12
    for line in some:
        assert chorus.number(line) == line.number
        assert line in chorus
    assert [each.number for each in chorus[5:8]] == [6, 7, 8]
    with pytest.raises(InputError, match="numbered from 1 to"):
        chorus.line(chorus.count + 1)


def test_every_phrase_is_a_valid_line_by_itself(some: list[ChorusLine]) -> None:
    for line in some:
        assert [each.phrase.name for each in line.phrases] == ["question", "triplets", "answer"]
        assert [each.first for each in line.phrases] == [0, *(each.beyond for each in line.phrases[:-1])]
        for each in line.phrases:
            assert holds(each.phrase.rules, each.line.events)
            moved = [(n.onset + each.phrase.shift, n.pitch, n.role, n.degree) for n in each.line.notes]
            shown = [(n.onset, n.pitch, n.role, n.degree) for n in line.notes[each.first : each.beyond]]
            assert shown == moved


def test_phrases_start_within_reach_and_after_a_rest(some: list[ChorusLine]) -> None:
    for line in some:
        for before, after in zip(line.phrases, line.phrases[1:], strict=False):
            last, first = line.notes[before.beyond - 1], line.notes[after.first]
            assert abs(first.pitch - last.pitch) <= 5
            assert first.onset - (last.onset + last.length) >= 480


def test_figures_lie_on_the_notes_of_the_whole(some: list[ChorusLine]) -> None:
    figures = [(line, figure) for line in some for figure in line.figures]
    assert figures
    for line, figure in figures:
        roles = [note.role for note in line.notes[figure.first : figure.target + 1]]
        assert roles == ["approach"] * (figure.target - figure.first) + ["target"]


def test_roughness_is_that_of_all_notes_and_the_smoothest_come_first(chorus: Chorus) -> None:
    best = [line.roughness for line in chorus.smoothest(20)]
    assert best == sorted(best)
    assert best[0] <= min(line.roughness for line in chorus.sample(50, seed=2))
    for line in chorus.sample(20, seed=3):
        assert line.roughness == roughness([note.pitch for note in line.notes], chorus.rules.weights)


def test_a_row_says_which_notes_are_whose(some: list[ChorusLine]) -> None:
    row = some[2].as_row()
    assert [each["name"] for each in row["phrases"]] == ["question", "triplets", "answer"]
    assert sum(each["notes"] for each in row["phrases"]) == len(row["notes"])
    assert row["phrases"][1]["bars"] == [4, 6]


def test_limits_at_the_top_hold_for_the_whole() -> None:
    found = parse_plan(
        PLAN + '[[limit]]\nkind = "single-peak"\n[[limit]]\nkind = "ambitus"\nsemitones = 19\n'
    )
    free = parse_plan(PLAN)
    assert 0 < found.count < free.count
    for line in found.sample(10, seed=1):
        pitches = [note.pitch for note in line.notes]
        assert pitches.count(max(pitches)) == 1
        assert max(pitches) - min(pitches) <= 19
        assert line in free


def test_facets_and_tallies_read_the_whole() -> None:
    small = parse_plan("""
    changes = "Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7"
    ending.use = ["plain"]
    approach.count = ["0"]
    join.reach = 4
    [[phrase]]
    bars = "1-2"
    [[phrase]]
    bars = "3-4"
    """)
    choruses = list(small.diagram.walk())
    facet = next(each for each in facets(small.rules, small.diagram, ["highest-note"]))
    assert facet.values
    for value in facet.values:
        assert value.count == sum(
            max(event.pitch for event in events) == parse_pitch(value.label) for events in choruses
        )
    (rough,) = tallies(small.rules, small.diagram, ["roughness"])
    weights = small.rules.weights
    counted = Counter(roughness([event.pitch for event in events], weights) for events in choruses)
    assert {entry.number: entry.count for entry in rough.entries} == counted


def test_no_chorus_says_why() -> None:
    impossible = parse_plan(PLAN + '[[limit]]\nkind = "ambitus"\nsemitones = 1\n')
    assert impossible.count == 0
    assert "ambitus" not in (impossible.why_none or "")
    assert (impossible.why_none or "").startswith("none of ")
    alone = parse_plan(PLAN.replace("turns = 1", 'turns = 1\n[phrase.range]\nlowest = "D4"\nhighest = "Eb4"'))
    assert alone.why_none == 'phrase "triplets" (bars 4-6) has no line: its own rules leave none'


@pytest.mark.parametrize(
    ("join", "said"),
    [("least_rest = 4", "only for 3 beats"), ("least_rest = 0\nmost_rest = 2", "3 beats at least")],
)
def test_a_rest_that_cannot_be_is_told(join: str, said: str) -> None:
    plan = f"""
    changes = "Dm7 | G7 | Cmaj7 | Dm7 | G7 | Cmaj7"
    ending.use = ["plain"]
    [join]
    {join}
    [[phrase]]
    bars = "1-3"
    [[phrase]]
    bars = "4-6"
    """
    found = parse_plan(plan)
    assert found.count == 0
    assert said in (found.why_none or "")


def test_a_plan_file_may_name_rules_in_python_only_where_allowed(tmp_path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN.replace('bars = "7-9"', 'bars = "7-9"\nown_rules = ["rule.py:rule"]'))
    with pytest.raises(InputError, match=r'"answer", own_rules = .*run only when allowed'):
        load_plan(path)


def test_every_phrase_is_fingered_in_its_own_position() -> None:
    plan = PLAN.replace('instrument = "guitar"', 'instrument = "guitar"\nposition = 5')
    moving = parse_plan(plan.replace('bars = "7-9"', 'bars = "7-9"\nrange = { position = 8 }'))
    staying = parse_plan(plan)
    for line in moving.sample(4, seed=8):
        for each in line.phrases:  # type: ignore[attr-defined]
            low = 8 if each.phrase.name == "answer" else 5
            frets = [note.fret for note in finger(line).notes[each.first : each.beyond]]
            assert all(low <= fret < low + 5 for fret in frets)
        higher = in_octave(line, 0)
        assert [n.fret for n in finger(higher).notes] == [n.fret for n in finger(line).notes]
        assert write([line], ScoreOptions(staves="both"))
    for line in staying.sample(4, seed=8):
        assert finger(line).positions == (5,)
        score = etree.fromstring(write([line], ScoreOptions(staves="both")))
        assert {int(fret.text) for fret in score.iter("fret")} <= {5, 6, 7, 8, 9}


# -- paper and sound -----------------------------------------------------------------------------------------


def silences(line: AnnotatedLine, bars: int) -> list[tuple[int, int]]:
    """(start, end) in ticks of every stretch of the form in which nothing sounds."""
    edges = [0] + [at for note in line.notes for at in (note.onset, note.onset + note.length)] + [bars * 1920]
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(start, end) for start, end in pairs if end > start]


def test_rests_are_written_where_nothing_sounds(some: list[ChorusLine]) -> None:
    for line in some:
        rested = set()
        for bar in bars_of(line):
            opening = (bar.number - 1) * 1920
            for each in bar.written:
                if each.note is None:
                    rested.update(range(opening + each.start, opening + each.end, 40))
        assert rested == {at for start, end in silences(line, 10) for at in range(start, end, 40)}


@pytest.mark.parametrize("staves", ["staff", "tab", "both"])
def test_musicxml_is_valid_and_its_bars_add_up(some: list[ChorusLine], staves: str) -> None:
    score = etree.fromstring(write(some[:3], ScoreOptions(staves=staves)))
    musicxml_schema().assertValid(score.getroottree())
    rests = 0
    for measure in score.iter("measure"):
        for staff in {note.findtext("staff", "1") for note in measure.findall("note")}:
            own = [note for note in measure.findall("note") if note.findtext("staff", "1") == staff]
            assert sum(Fraction(int(note.findtext("duration")), 480) for note in own) == 4
            assert any(note.find("rest") is not None for note in own) or len(own) >= 4
            rests += sum(note.find("rest") is not None for note in own)
    assert rests >= 3 * 4


def test_music21_hears_the_same_notes_and_rests(some: list[ChorusLine]) -> None:
    """music21 (BSD) reads the score with a reader of its own."""
    from music21 import converter

    line = some[3]
    score = converter.parse(write([line], ScoreOptions(staves="staff")), format="musicxml")
    heard: list[list[Fraction]] = []
    for note in score.flatten().notes:
        if note.isNote:
            start, length = Fraction(note.offset), Fraction(note.quarterLength)
            if note.tie is not None and note.tie.type in ("stop", "continue"):
                heard[-1][2] += length
            else:
                heard.append([start, Fraction(note.pitch.midi), length])
    assert heard == [[Fraction(n.onset, 480), n.pitch, Fraction(n.length, 480)] for n in line.notes]
    rests = sum(Fraction(rest.quarterLength) for rest in score.flatten().getElementsByClass("Rest"))
    assert rests == sum(Fraction(end - start, 480) for start, end in silences(line, 10))


def test_midi_sounds_the_same_notes(some: list[ChorusLine]) -> None:
    from mido import MidiFile

    from everyline.sound.midi_file import write as write_midi
    from everyline.sound.sound_options import SoundOptions

    line = some[2]
    options = SoundOptions(count_in=0, swing="straight", mute=frozenset({"chords", "bass", "click", "drums"}))
    file = MidiFile(file=io.BytesIO(write_midi([line], options)))
    found = []
    for track in file.tracks:
        at = 0
        for message in track:
            at += message.time
            if message.type == "note_on" and message.velocity:
                found.append((Fraction(at, file.ticks_per_beat), message.note))
    assert found == [(Fraction(note.onset, 480), note.pitch) for note in line.notes]


def test_a_written_chorus_is_found_again(chorus: Chorus, some: list[ChorusLine], tmp_path) -> None:
    for line in some[:4]:
        path = tmp_path / f"{line.number}.musicxml"
        path.write_bytes(write([line], ScoreOptions(staves="staff")))
        candidates = read_line(path, chorus.rules).candidates
        assert line.number in [chorus.diagram.number(events) for events in candidates]
