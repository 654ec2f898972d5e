"""What the page of practice works out by itself: the day, pieces by ear, and what belongs to a take."""

from __future__ import annotations

from typing import Any

from tests.everyline.page.node import run

TIMING: dict[str, Any] = {
    "seconds": 11.0,
    "bars_start": 2.0,
    "beats": [],
    "notes": [{"note": 0, "start": 2.0, "end": 2.4}],
    "loop": {"begin": 0.0, "seconds": 6.0},
}
"""Three bars of two seconds after a bar of count-in."""


def test_by_ear_every_bar_is_heard_and_then_the_players() -> None:
    script = """
    const { earPieces, placeInPieces } = await load("practice-sound.js");
    const pickup = { ...given, notes: [{ note: 0, start: 1.5, end: 2 }] };
    const pieces = earPieces(given, 3);
    return {
      pieces: pieces.map((each) => [each.heard, each.from, each.until]),
      pickup: earPieces(pickup, 3).map((each) => [each.heard, each.from, each.until]),
      places: [1, 5.9, 6.5, 11, 12.5].map((gone) => placeInPieces(pieces, given, gone)),
    };
    """
    assert run(script, TIMING) == {
        "pieces": [[True, 0, 6], [False, 2, 6], [True, 6, 8], [False, 6, 8]],
        # A pickup of the player's is in the bar before.
        "pickup": [[True, 0, 6], [False, 0, 6], [True, 6, 8], [False, 6, 8]],
        "places": [
            None,
            None,
            {"second": 0.5, "pass": 0},
            None,
            {"second": 4.5, "pass": 0},
        ],
    }


def test_of_a_loop_each_note_has_its_time_round() -> None:
    script = """
    const { placeRound } = await load("practice-sound.js");
    return [1.9, 2.0, 7.7, 7.9, 8.5].map((gone) => placeRound(given, gone));
    """
    found = run(script, TIMING)
    assert [each["pass"] for each in found] == [0, 0, 0, 1, 1]
    assert [round(each["second"], 6) for each in found] == [-0.1, 0, 5.7, -0.1, 0.5]


def test_a_take_is_the_last_whole_time_round_and_nothing_of_the_count_in() -> None:
    """Note on with velocity 0 ends a note (MIDI 1.0)."""
    script = """
    const { Take } = await load("practice-take.js");
    const place = (since) => ({ second: (since % 1000) / 1000, pass: Math.max(0, Math.floor(since / 1000)) });
    const take = new Take((ms) => (ms < 500 ? null : place(ms - 2000)));
    const hear = (data, ms) => take.hear(data, ms);
    const played = [[50, 100], [51, 600], [60, 2000], [62, 2500], [64, 3000], [65, 3400], [67, 4100]];
    for (const [pitch, ms] of played) {
      hear([0x90, pitch, 80], ms);
      hear([0x9f, pitch, 0], ms + 200);
    }
    hear([0xb0, 64, 127], 4200);
    hear([0x80], 4300);
    return {
      two: take.notes(4500, 2, 0),
      none: take.notes(4500, 0, 0).map((each) => each.pitch),
    };
    """
    found = run(script)
    assert [each["pitch"] for each in found["two"]] == [64, 65]
    assert [round(each["onset"], 3) for each in found["two"]] == [0.3, 0.7]
    assert [each["length"] for each in found["two"]] == [0.2, 0.2]
    assert found["none"] == [67]


def test_what_comes_next_of_a_day() -> None:
    script = """
    const { nextOpen, doneOf, tempoOf, restsAfter, wrongNotes, roundName } = await load("practice-day.js");
    const one = (kind, tempo = 60) => ({ line: "a", name: "Line 1", kind, key: "C", tempo, reason: "" });
    const day = {
      rounds: [one("play"), one("continue"), one("find the slip", null)],
      rests_after: [2],
      done: [{ ...one("continue"), id: "1", grade: "clean" }],
      lines: [{ line: "a", name: "Line 1", key: "C", tempo: 72 }],
      day: "2026-11-26",
    };
    const all = { ...day, done: day.rounds.map((each) => ({ ...each, id: "1", grade: "clean" })) };
    const names = new Set(Array.from({ length: 50 }, roundName));
    return {
      next: [0, 1, 2, 3].map((from) => nextOpen(day, from)),
      end: nextOpen(all, 0),
      done: day.rounds.map((each) => Boolean(doneOf(each, day.done))),
      tempi: day.rounds.map((each) => tempoOf(day, each)),
      rests: [0, 1, 2].map((place) => restsAfter(day, place)),
      wrong: [[60, 64], [60, 65], [61, 65]].map((each) => wrongNotes([[60, 64], [62, 66]], each)),
      names: [names.size, [...names].every((each) => /^[0-9a-f]{16}$/.test(each))],
    };
    """
    assert run(script) == {
        "next": [0, 2, 2, 0],
        "end": -1,
        "done": [False, True, False],
        "tempi": [72, 72, None],
        "rests": [False, True, False],
        "wrong": [0, 1, 2],
        "names": [50, True],
    }
