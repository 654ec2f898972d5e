"""Comping: rhythms drawn by seed, out of the line's way, early only where that is meant. Common practice."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest

from everyline.rules.annotate import AnnotatedLine
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.sound.comping import LOW, LOW_PART, Struck, comped
from everyline.sound.feels import FEELS, fitting
from everyline.sound.pulses import bar_ticks, pulses
from everyline.sound.spans import spans
from everyline.sound.voicing import shell_classes
from everyline.spaces.space import Space
from tests.everyline.sound.sounding import METERS, corpus_rules, in_meter, spans_of
from tests.handmade import handmade
from tests.spaces import CORPUS
from tests.sweeps import sweep

INSTRUMENTS = ("guitar", "trumpet", "alto-saxophone", "tenor-saxophone", "trombone", "double-bass", "violin")


@cache
def lines() -> list[AnnotatedLine]:
    """A line over every eighth progression of the corpus (in a sweep all), the instruments in turn."""
    found = []
    for place, entry in enumerate(list(CORPUS.progressions.values())[:: sweep(8, 1)]):
        data = {"changes": entry.changes, "key": entry.key, "meter": entry.meter, "handoff": {"rule": "any"}}
        data |= {"range": {"instrument": INSTRUMENTS[place % len(INSTRUMENTS)]}, "ending": {"use": ["plain"]}}
        data |= {"approach": {"count": ["0"]}, "arpeggio": {"turns": 3}}
        found.append(Space(parse_rules(data, CORPUS)).sample(1, 1)[0])
    return found


def struck(line: AnnotatedLine, feel: str, seed: int) -> list[Struck]:
    """The chords under a line, without a closing bar."""
    progression = line.rules.progression
    return list(
        comped(progression, spans(progression, progression.bars), FEELS[feel], None, line.events, seed)
    )


def over_the_corpus() -> Iterator[tuple[AnnotatedLine, Struck]]:
    """Every strike under every line, feels and seeds in turn."""
    for place, line in enumerate(lines()):
        feels = fitting(line.rules.progression)
        for seed in range(3):
            for strike in struck(line, feels[(place + seed) % len(feels)], seed):
                yield line, strike


def test_chords_keep_out_of_the_register_of_the_line() -> None:
    """Fewer than one strike in ten lies at or above the line; over a bass player's line, at or below it."""
    met = crossed = 0
    for line, strike in over_the_corpus():
        over = sum(event.pitch < LOW for event in line.events) > LOW_PART * len(line.events)
        for event in line.events:
            if event.onset <= strike.start < event.end:
                met += 1
                crossed += min(strike.pitches) <= event.pitch if over else max(strike.pitches) >= event.pitch
    assert met > 150
    assert crossed < met / 10


def test_no_voice_rubs_against_the_line_on_a_beat() -> None:
    """No voice is a semitone from the line on any beat on which both sound, struck or held."""
    beats = 0
    for line, strike in over_the_corpus():
        for beat in range(-(-strike.start // 480) * 480, strike.end, 480):
            for event in line.events:
                if event.onset <= beat < event.end:
                    beats += 1
                    assert all(abs(pitch - event.pitch) != 1 for pitch in strike.pitches), (line.text, beat)
    assert beats > 150


def test_what_is_struck_is_the_chord_on_the_pulse_of_the_meter() -> None:
    for line, strike in over_the_corpus():
        progression = line.rules.progression
        bar = bar_ticks(progression)
        chord = progression.chords[strike.chord]
        assert {pitch % 12 for pitch in strike.pitches} <= set(shell_classes(chord))
        begins = {span.start % bar for span in spans_of(line.rules)}
        grid = {tick for pulse in pulses(progression) for tick in (pulse.start, pulse.upbeat)}
        assert strike.start % bar in grid | begins
        assert strike.start < strike.end
        wanted = strike.start + (240 if strike.early else 0)
        begun = [start for start in progression.starts if start * progression.slot_ticks <= wanted]
        assert strike.chord == len(begun) - 1, (
            "no chord but the one that holds, or the one that it is early for"
        )


def test_every_chord_is_heard_before_the_next_one() -> None:
    for line in lines():
        for feel in fitting(line.rules.progression)[:2]:
            heard = {strike.chord for strike in struck(line, feel, 3)}
            assert heard == set(range(len(line.rules.progression.chords))), feel


@pytest.mark.parametrize("meter", METERS)
def test_a_seed_draws_more_than_one_rhythm_in_every_feel(meter: tuple[str, str, int]) -> None:
    rules: Rules = in_meter(*meter).rules
    progression = rules.progression
    laid = spans_of(rules)
    for name in set(fitting(progression)) - {"plain"}:
        feel = FEELS[name]
        rhythms = {
            tuple(strike.start for strike in comped(progression, laid, feel, None, (), seed))
            for seed in range(40)
        }
        assert len(rhythms) > 3 or meter[0] == "7/8"
        # What is drawn comes from the feel's rhythms, early strikes apart.
        assert all(start >= 0 for starts in rhythms for start in starts)


def test_a_feel_has_its_usual_rhythm() -> None:
    rules = corpus_rules()["two-five-one-long"]

    def usual(name: str) -> list[float]:
        laid = spans_of(rules)
        return [strike.start / 480 for strike in comped(rules.progression, laid, FEELS[name], None, (), 0)]

    assert usual("swing")[:4] == [0, 1.5, 4, 5.5]
    assert usual("bossa")[:3] == [0, 1.5, 3]
    assert usual("ballad") == usual("plain") == [0, 4, 8, 12]


EARLY = [
    # The line is early itself: the last eighth of bar 1 is held into bar 2.
    ("D4 F4 A4 C5 B4 A4 F4 E4:4. F4 G4 A4 B4", True),
    # The line leaves the last eighth of bar 1 free.
    ("D4 F4 A4 C5 B4 A4 F4 r8 B4 D5 F4 G4 A4 B4 G4 F4", True),
    # The line plays on and changes on the beat.
    ("D4 F4 A4 C5 B4 A4 F4 A4 B4 D5 F4 G4 A4 B4 G4 F4", False),
]


@pytest.mark.parametrize(("text", "allowed"), EARLY)
def test_a_new_chord_is_early_only_where_the_line_is_or_rests(text: str, allowed: bool) -> None:
    line = handmade(text, "Dm7 | G7")
    strikes = [strike for seed in range(1, 60) for strike in struck(line, "swing", seed)]
    assert (3.5 * 480 in {strike.start for strike in strikes if strike.chord == 1}) is allowed


def test_a_chord_that_goes_on_may_always_be_early() -> None:
    line = handmade("D4 F4 A4 C5 B4 A4 F4 A4 B4 D5 F4 G4 A4 B4 G4 F4", "Dm7 | % | G7")
    early = [strike for seed in range(1, 60) for strike in struck(line, "swing", seed) if strike.early]
    assert {strike.start for strike in early if strike.chord == 0} == {3.5 * 480}


def test_a_line_in_the_basement_has_the_chords_above_it() -> None:
    line = handmade("D2 F2 A2 C3 B2 A2 G2 F2 E2:2", "Dm7 | G7", range={"instrument": "double-bass"})
    assert all(min(strike.pitches) > 48 for strike in struck(line, "swing", 1))
