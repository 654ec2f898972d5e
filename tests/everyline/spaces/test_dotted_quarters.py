"""Beats of a dotted quarter against beats of a quarter in triplets: the same lines, numbers and words.

Of each pair of rule files one is in 12/8, 9/8 or 6/8 with ``beat = "4."``, the other in 4/4, 3/4 or 2/4 with
three slots to a beat or with triplets as note values: an eighth of the one is a triplet eighth of the other.
"""

from __future__ import annotations

from functools import cache
from io import BytesIO, StringIO
from typing import Any

import mido
import pytest

from everyline import Space
from everyline.corpora.errors import InputError
from everyline.listening.heard import heard
from everyline.listening.performed import from_notes
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.canonical import fingerprint
from everyline.rules.chorus_file import read_plan
from everyline.rules.line_text import format_line, parse_line
from everyline.rules.rulefile import parse_rules
from everyline.solver.facets import facets
from everyline.solver.tally import tallies
from everyline.sound.midi_file import write
from everyline.sound.sound_options import LINE, PARTS, SoundOptions
from everyline.spaces.checking import check
from everyline.spaces.choruses import Chorus
from everyline.text.rows import write_rows
from tests.reference.random_time import pitch_name
from tests.spaces import CORPUS

PLAIN = {"ending": {"use": ["plain"]}}
DOTTED: dict[str, Any] = {"beat": "4."}
SLOTS: dict[str, dict[str, Any]] = {
    "figures": {"changes": "C7 | F7 | C7", "approach": {"count": ["0-2"]}},
    "entries": {"changes": "Dm7 G7 | Cmaj7", "entry": {"beats": ["1", "1let"], "pickup": [1, 4]}},
    "targets": {
        "changes": "Dm7 | G7 | Cmaj7",
        "limit": [
            {"kind": "must-target", "degree": "5", "chord": "Dm7", "beat": "2"},
            {"kind": "strong-beats", "beats": ["1", "2"]},
            {"kind": "landing", "degrees": ["b3", "3", "5"]},
            {"kind": "playable", "strings": [1, 2, 3], "span": 5},
        ],
        "range": {"instrument": "guitar", "position": 5},
    },
    "passing": {
        "changes": "Em7b5 | A7 | Dm7",
        "passing": {"kinds": ["scale", "chromatic"], "count": ["0-2"]},
        "handoff": {"rule": "nearest-or-common"},
    },
    "one slot": {"changes": "Dm7 G7 | Em7 A7 | Dm7", "subdivision": 1},
}
"""What says nothing of note values; with three slots to a beat where nothing is said."""
METERS = {"12/8": "4/4", "6/8": "2/4"}

CELLS = {
    "8 8 8": "8t 8t 8t",
    "4 8": "4t 8t",
    "4.": "4",
    "r8 8 8": "r8t 8t 8t",
    "2.": "2",
    "16 16 4": "16t 16t 4t",
}
"""Cells in real note values, and the same in triplets."""
CELLED: dict[str, Any] = {
    "changes": "Dm7 | G7 | Cmaj7",
    "passing": {"kinds": ["scale"]},
    "range": {"lowest": "C4", "highest": "A4"},
    "approach": {"figures": ["above-below", "chromatic-below"], "count": ["0-1"]},
    "ending": {"use": ["plain", "down", "early"]},
}
ENDINGS = (("8 8 8 | 4.", "8t 8t 8t | 4"), ("4 8 4 8 | 4 8", "4t 8t 4t 8t | 4t 8t"))


@cache
def in_slots(name: str, meter: str) -> tuple[Space, Space]:
    table = {**PLAIN, **SLOTS[name]}
    return (
        Space(parse_rules({**table, "meter": meter, **DOTTED}, CORPUS)),
        Space(parse_rules({"subdivision": 3, **table, "meter": METERS[meter]}, CORPUS)),
    )


def _celled(place: int) -> dict[str, Any]:
    """The celled rules in dotted quarters (0) or in triplets (1)."""
    down, early = (pair[place] for pair in ENDINGS)
    endings = [
        {"name": "down", "notes": "b9 1 b7 | 5", "rhythm": down},
        {"name": "early", "notes": "3 b9 1 7 | - 5", "rhythm": early},
    ]
    pattern = ("4 8 4.", "4t 8t 4")[place]
    return {
        **CELLED,
        **({"meter": "9/8", **DOTTED}, {"meter": "3/4"})[place],
        "rhythm": {"cells": [pair[place] for pair in CELLS.items()]},
        "endings": endings,
        "limit": [{"kind": "rhythm", "pattern": pattern, "least": 1}, {"kind": "notes", "most": 16}],
    }


@cache
def in_cells() -> tuple[Space, Space]:
    dotted, plain = (Space(parse_rules(_celled(place), CORPUS)) for place in (0, 1))
    return dotted, plain


PAIRS = [*((name, meter) for name in SLOTS for meter in METERS), ("cells", "9/8")]


def pair(name: str, meter: str) -> tuple[Space, Space]:
    return in_cells() if name == "cells" else in_slots(name, meter)


def some(space: Space) -> list[Any]:
    return [space[space.count * part // 7] for part in range(7)]


def drawn(line: AnnotatedLine) -> str:
    """The line as text: beats counted aloud, names, roles, degrees."""
    out = StringIO()
    write_rows([line], "text", out)
    return out.getvalue()


@pytest.mark.parametrize(("name", "meter"), PAIRS)
def test_lines_numbers_and_what_is_shown_are_those_of_triplets(name: str, meter: str) -> None:
    dotted, plain = pair(name, meter)
    assert dotted.count == plain.count > 10
    assert fingerprint(dotted.rules) != fingerprint(plain.rules)
    for line in some(dotted):
        twin = plain.line(line.number)
        assert line.events == twin.events and line.strangeness == twin.strangeness
        assert plain.number(line.events) == line.number
        if not line.rules.cells:  # the one counts a beat of cells in thirds, the other in halves
            assert drawn(line) == drawn(twin)


def test_what_is_counted_over_all_lines_is_that_of_triplets() -> None:
    dotted, plain = in_slots("figures", "6/8")
    assert facets(dotted.rules, dotted.diagram) == facets(plain.rules, plain.diagram)
    assert tallies(dotted.rules, dotted.diagram) == tallies(plain.rules, plain.diagram)


def test_a_typed_line_is_in_real_note_values() -> None:
    dotted, plain = in_cells()
    for line in some(dotted):
        text = format_line(dotted.rules, line.events, [note.name for note in line.notes], start=True)
        assert "t" not in text
        assert parse_line(text, dotted.rules) == (line.events,)
    eighths, triplets = "D4 F4 A4 C5:4 A4 F4:4.", "D4:8t F4:8t A4:8t C5:4t A4:8t F4:4"
    assert parse_line(eighths, dotted.rules) == parse_line(triplets, plain.rules)
    with pytest.raises(InputError, match='"8t" is a triplet; in beats of a dotted quarter an 8 is a third'):
        parse_line("D4:8t", dotted.rules)


def test_a_wrong_note_is_found_and_mended_as_in_triplets() -> None:
    dotted, plain = in_slots("figures", "6/8")
    (line, *_) = dotted.sample(1, seed=5)
    wrong = [each._replace(pitch=each.pitch + (place == 4)) for place, each in enumerate(line.events)]
    names = [pitch_name(each.pitch) for each in wrong]
    one, other = (check(space, format_line(space.rules, wrong, names)).as_row() for space in (dotted, plain))
    assert one == other and one["breaches"] and one["nearest_by_onset"]


def test_a_chorus_in_dotted_quarters_is_one_in_triplets() -> None:
    form = {
        "changes": "C7 | F7 | C7 | G7 | C7 | %",
        "approach": {"figures": ["above-below"], "count": ["0-1"]},
        "join": {"least_rest": 1, "most_rest": 4},
        "phrase": [{"bars": "1-3", "until": "3"}, {"bars": "4-6", "entry": {"beats": ["1let", "2"]}}],
        **PLAIN,
    }
    dotted, plain = (
        Chorus(read_plan({**form, **more}, CORPUS))
        for more in ({"meter": "12/8", "beat": "4."}, {"subdivision": 3})
    )
    assert dotted.count == plain.count > 0
    number = dotted.count // 3
    assert dotted.line(number).events == plain.line(number).events


def test_a_beat_a_minute_is_a_dotted_quarter() -> None:
    dotted, plain = in_slots("figures", "12/8")
    seconds = []
    for space in (dotted, plain):
        options = SoundOptions(tempi=(60,), count_in=1, mute=frozenset(PARTS) - {LINE})
        file = mido.MidiFile(file=BytesIO(write(space[100], options)))
        (tempo,) = [message.tempo for message in file.tracks[0] if message.type == "set_tempo"]
        (meter,) = [message for message in file.tracks[0] if message.type == "time_signature"]
        seconds.append([message.time for message in file if message.type == "note_on"])
        quarters = (tempo, meter.numerator, meter.denominator, meter.clocks_per_click)
        # 60 dotted quarters a minute are 90 quarters; a click is a beat of 24 clocks a quarter.
        assert quarters == ((666_667, 12, 8, 36) if space is dotted else (1_000_000, 4, 4, 24))
    assert seconds[0] == pytest.approx(seconds[1], abs=0.002)


def test_a_take_is_read_in_beats_of_a_dotted_quarter() -> None:
    dotted, _ = in_slots("figures", "12/8")
    line = dotted[1000]
    rows = [
        {"pitch": each.pitch, "onset": 2 + each.onset / 480, "length": 0.2, "velocity": 80}
        for each in line.events
    ]
    found = check(dotted, heard(from_notes(rows), dotted.rules, 60, "take").line)
    assert found.number == line.number
