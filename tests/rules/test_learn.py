"""Learning from notes: what is written down, placed again, gives the notes back exactly."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from itertools import product

import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from everyline import corpora
from everyline.corpora import Ending, make_ending, parse_steps
from everyline.corpora.errors import InputError
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.endings import EndingDoesNotFit, place
from everyline.rules.ladder import figure_pitches
from everyline.rules.learn import EndingReading, ending_toml, figure_toml, learn_endings, learn_figures
from everyline.rules.line import Event, Events
from everyline.rules.progression import Progression, parse_progression
from everyline.rules.scales import default_scale

CHANGES = [
    parse_progression("Dm7 | G7 | Cmaj7"),
    parse_progression("Fm7 Bb7 | Ebmaj7"),
    parse_progression("Bm7b5 | E7b9 | Am6", subdivision=4),
    parse_progression("Em7 | A7alt | Dm7", meter="3/4"),
    parse_progression("Gm7 | C7 | F6", meter="6/8"),
    parse_progression("C | Fm", subdivision=3),
]
CORPUS = corpora.load()


def read_back(text: str) -> Ending:
    """An entry read as the corpora read it: TOML, then the checks of an ending."""
    (table,) = tomllib.loads(text)["ending"]
    table["over"] = tuple(table["over"])
    return make_ending(**table)


def moved(events: Events, ticks: int) -> Events:
    return tuple(event._replace(onset=event.onset + ticks) for event in events)


@st.composite
def fragments(draw: st.DrawFn) -> tuple[Progression, Events, int]:
    """Changes, notes and rests in note values, and how many notes stand before the bar line."""
    changes = draw(st.sampled_from(CHANGES))
    values = st.sampled_from([120, 160, 240, 240, 240, 360, 480, 720])
    before, after = draw(st.integers(1, 5)), draw(st.integers(1, 4))
    now, pitch, events = draw(st.integers(-4, 9)) * 240, draw(st.integers(50, 75)), []
    for index in range(before + after):
        if index:
            now += draw(st.sampled_from([0, 0, 0, 240, 480]))
            pitch = min(100, max(20, pitch + draw(st.integers(-17, 17))))
        length = draw(values)
        events.append(Event(now, pitch, length))
        now += length
    last = changes.chords[-1]
    while events[-1].pitch % 12 not in last.tone_classes:
        events[-1] = events[-1]._replace(pitch=events[-1].pitch + 1)
    return changes, tuple(events), before


@given(fragments())
def test_a_learned_ending_placed_again_gives_the_fragment_exactly(
    case: tuple[Progression, Events, int],
) -> None:
    changes, events, split = case
    try:
        readings = learn_endings(events, changes, "mine", split)
    except InputError:
        reject()  # too long for its chord, or off the slots; such refusals have tests of their own
    for reading in readings:
        again = place(read_back(ending_toml(reading.ending)), changes)
        played = again.after(events[0].pitch)
        assert played == reading.events
        assert moved(played, events[0].onset - played[0].onset) == events
        assert reading.split == split
        assert changes.chords[-2].quality in reading.fits
        resolution = changes.resolution * changes.slot_ticks
        assert sum(event.onset < resolution for event in played) == split


def changes_for(ending: Ending) -> Iterator[Progression]:
    """Two bars of each chord that an ending names, before each kind of last chord that it can end on."""
    for quality in ending.over:
        for last in ("Cmaj7", "C6", "Cm6", "Cm7", "Cm(maj7)", "C7"):
            for subdivision in (2, 3, 4):
                changes = parse_progression(f"Dm7 | G{quality} | % | {last}", subdivision=subdivision)
                try:
                    place(ending, changes)
                except EndingDoesNotFit:
                    continue
                yield changes
                break


@pytest.mark.parametrize("name", [name for name, each in CORPUS.endings.items() if not each.held])
def test_every_ending_of_the_corpus_is_learned_back(name: str) -> None:
    """Played from two notes, each gives its own degrees (by sound), rhythm and octave marks again."""
    ending = CORPUS.endings[name]
    fitting = list(changes_for(ending))
    assert fitting
    for changes, previous in product(fitting, (59, 66)):
        events = place(ending, changes).after(previous)
        readings = learn_endings(events, changes, "mine", len(ending.before))
        again = [place(reading.ending, changes) for reading in readings]
        assert any(each.after(previous) == events for each in again)
        assert any(reading.ending.rhythm_text == ending.rhythm_text for reading in readings)


def test_the_likeliest_reading_lands_its_long_note_on_the_resolution() -> None:
    """b9 1 b7 5 over the dominant and the third after the bar line: common practice."""
    events = tuple(Event(240 * at, pitch, 240) for at, pitch in enumerate((68, 67, 65, 62)))
    events = (*events, Event(960, 64, 480), Event(1440, 60, 240))
    first, *others = learn_endings(events, CHANGES[0], "mine")
    assert first.ending.notes == "b9 1 b7 5 | 3 1"
    assert first.ending.rhythm == "8 8 8 8 | 4 8"
    assert first.starts == "b9 of G7 on bar 2, beat 3"
    assert first.resolves == "1 of Cmaj7 on bar 3, beat 2"
    assert first.beats == 3.5
    assert first.compass == (60, 68)
    assert others, "other bar lines are readings too"


def test_octave_marks_show_leaps_of_more_than_a_tritone() -> None:
    events = (Event(0, 67, 240), Event(240, 79, 240), Event(480, 71, 240), Event(720, 60, 480))
    (reading,) = learn_endings(events, CHANGES[0], "mine", 3)
    assert reading.ending.notes == "1 1' 3, | 1,"
    assert reading.ending.rhythm == "8 8 8 | 4"


def test_qualities_that_contradict_a_note_are_left_out() -> None:
    """A natural 5 contradicts 7#5, a 9 contradicts 7b9, and neither contradicts a plain seventh chord."""
    events = (Event(0, 62, 240), Event(240, 69, 240), Event(480, 64, 480))
    (reading,) = learn_endings(events, CHANGES[0], "mine", 2)
    assert reading.ending.notes == "5 9' | 3" or reading.ending.notes == "5 9 | 3"
    assert {"7", "9"} <= set(reading.fits)
    assert not {"7#5", "7b5", "7alt", "7b9"} & set(reading.fits)


@pytest.mark.parametrize(
    ("events", "words"),
    [
        ([(0, 67, 240)], "two notes at least"),
        ([(0, 67, 240), (240, 61, 240)], "neither a chord tone of Cmaj7"),
        ([(0, 67, 480), (240, 60, 240)], "two of the notes sound together"),
        ([(0, 67, 300), (300, 60, 240)], "not a single note value"),
        ([(0, 67, 240 * 9), (2160, 60, 240)], "not a single note value"),
        ([(240 * at, 67, 240) for at in range(9)] + [(2160, 60, 240)], "beats long"),
    ],
)
def test_what_cannot_be_an_ending_is_told_why(events: list[tuple[int, int, int]], words: str) -> None:
    fragment = tuple(Event(*each) for each in events)
    with pytest.raises(InputError, match=words):
        learn_endings(fragment, CHANGES[0], "mine", len(fragment) - 1)


@pytest.mark.parametrize(
    ("events", "notes", "rhythm"),
    [
        ([(1440, 68, 240), (1680, 64, 720)], "b9 13 | -", "8 8 | 4"),
        ([(1440, 68, 240), (1680, 64, 480), (2160, 67, 480)], "b9 13 | - 5", "8 8 | 8 4"),
        ([(960, 68, 720), (1680, 71, 960)], "b9 3 | -", "4. 8 | 4."),
    ],
)
def test_a_note_held_over_the_bar_line_is_written_with_its_sign(
    events: list[tuple[int, int, int]], notes: str, rhythm: str
) -> None:
    fragment = tuple(Event(*each) for each in events)
    (found,) = (each for each in learn_endings(fragment, CHANGES[0], "mine", placed=True) if each.ending.held)
    assert (found.ending.notes, found.ending.rhythm) == (notes, rhythm)
    before = fragment[0].pitch
    assert found.placed.after(before) == moved(fragment, found.placed.start - fragment[0].onset)
    assert read_back(ending_toml(found.ending)) == found.ending
    assert not any(each.ending.held for each in learn_endings_or_none(fragment))


def learn_endings_or_none(fragment: Events) -> tuple[EndingReading, ...]:
    """The readings where nobody knows the place within the bar."""
    try:
        return learn_endings(fragment, CHANGES[0], "mine")
    except InputError:
        return ()


@pytest.mark.parametrize("ending", [each for each in CORPUS.endings.values() if each.held], ids=str)
def test_held_endings_of_the_corpus_are_learned_back(ending: Ending) -> None:
    for changes in CHANGES[:2]:
        try:
            placed = place(ending, changes)
        except EndingDoesNotFit:
            continue
        readings = learn_endings(placed.after(60), changes, "mine", placed=True)
        assert (ending.notes, ending.rhythm) in {(each.ending.notes, each.ending.rhythm) for each in readings}


def test_a_vamp_and_a_taken_name_are_refused() -> None:
    events = (Event(0, 67, 240), Event(240, 60, 480))
    with pytest.raises(InputError, match="needs two chords"):
        learn_endings(events, parse_progression("Gm7 | %"), "mine")
    with pytest.raises(InputError, match="cannot name"):
        learn_endings(events, CHANGES[0], "plain")


@given(
    st.sampled_from(["Dm7", "G7", "Cmaj7", "Bm7b5", "E7alt", "F6"]).map(parse_chord),
    st.lists(st.sampled_from(["+d", "-d", "+1", "-1", "+2", "-2"]), min_size=1, max_size=6),
    st.integers(50, 76),
)
def test_a_learned_figure_gives_the_notes_back(chord: Chord, steps: list[str], near: int) -> None:
    scale = default_scale(chord)
    target = next(pitch for pitch in range(near, near + 12) if pitch % 12 in chord.tone_classes)
    notes = figure_pitches(tuple(steps), target, chord.root_class, scale)
    fragment = tuple(Event(240 * at, pitch, 240) for at, pitch in enumerate((*notes, target)))
    readings = learn_figures(fragment, chord, scale, "mine")
    for reading in readings:
        (table,) = tomllib.loads(figure_toml(reading.figure))["figure"]
        again = parse_steps(table["steps"])
        assert figure_pitches(again, target, chord.root_class, scale) == notes
    assert tuple(steps) in {reading.figure.steps for reading in readings}


def test_a_figure_has_to_land_on_a_chord_tone_from_close_by() -> None:
    chord = parse_chord("G7")
    scale = default_scale(chord)
    with pytest.raises(InputError, match="has to be a chord tone of G7"):
        learn_figures((Event(0, 70, 240), Event(240, 69, 240)), chord, scale, "mine")
    with pytest.raises(InputError, match="3 semitones from the target"):
        learn_figures((Event(0, 74, 240), Event(240, 71, 240)), chord, scale, "mine")
    with pytest.raises(InputError, match="1 to 16 notes"):
        learn_figures((Event(0, 71, 240),), chord, scale, "mine")
