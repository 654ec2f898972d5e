"""A MIDI instrument in a round: a simulated one, missing ones, and what the page makes of what was played."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.everyline.page.practising import given
from tests.everyline.page.served import Served
from tests.everyline.page.test_practice import drawn, opened, started

pytestmark = pytest.mark.browser

INSTRUMENT = """
  const input = { name: "Keys", state: "connected", onmidimessage: null };
  navigator.requestMIDIAccess = async () => ({ inputs: new Map([["1", input]]), onstatechange: null });
  // When the sound begins, by the window's clock.
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...more) {
    const { contextTime, performanceTime } = this.context.getOutputTimestamp();
    const known = performanceTime ? contextTime : this.context.currentTime;
    const moment = performanceTime || performance.now();
    window.begun = moment + (when - known) * 1000;
    return start.call(this, when, ...more);
  };
  window.played = (notes) => {
    for (const [pitch, onset, length] of notes)
      for (const [data, at] of [[[0x90, pitch, 90], onset], [[0x90, pitch, 0], onset + length]])
        input.onmidimessage({ data: Uint8Array.from(data), timeStamp: window.begun + at * 1000 });
  };
"""
"""An instrument that plays when it is told to: [pitch, second of the sound, seconds]."""


def open_round(page: Page, served: Served) -> dict[str, Any]:
    """The round of playing is open; its exercise. Nothing is recorded, so one student does for all."""
    given(served, "Greta")
    opened(page, served, "Greta", tempo=120)
    with page.expect_response("**/api/practice/exercise") as exercise:
        page.locator(".round-row", has_text="play").first.click()
    drawn(page)
    found: dict[str, Any] = exercise.value.json()
    return found


def round_of_line(page: Page, served: Served) -> tuple[dict[str, Any], dict[str, Any]]:
    """The same, and it sounds; its exercise and timing."""
    exercise = open_round(page, served)
    page.get_by_role("button", name="Listen to my MIDI instrument").click()
    expect(page.locator(".round-controls")).to_contain_text("Listening to Keys.")
    with page.expect_response("**/timing*") as timing:
        page.locator("#round-start").click()
    started(page)
    return exercise, timing.value.json()


def test_what_was_played_is_written_out(page: Page, served: Served) -> None:
    """As asked but for one other note, one note not played, one late; and what was played in the count-in is
    no part of it."""
    page.context.add_init_script(INSTRUMENT)
    exercise, timing = round_of_line(page, served)
    pitches = [event["pitch"] for event in _events(served, exercise)]
    notes = [
        [pitch, each["start"], each["end"] - each["start"]]
        for pitch, each in zip(pitches, timing["notes"], strict=True)
    ]
    notes[2][0] += 1
    notes[4][1] += 0.12
    del notes[6]
    page.evaluate("(notes) => window.played(notes)", [[40, 0.1, 0.2], *notes])
    with page.expect_request("**/heard") as sent:
        page.keyboard.press("PageDown")
    body = json.loads(sent.value.post_data or "")
    assert [each["pitch"] for each in body["notes"]] == [pitch for pitch, *_ in notes]
    heard = page.locator(".heard")
    expect(heard.locator("b")).to_have_text(
        f"{len(pitches) - 2} of {len(pitches)} notes right, 1 other note, 1 not heard."
    )
    expect(heard).to_contain_text("was not heard")
    expect(heard).to_contain_text("in place of")
    expect(heard).to_contain_text("late (")
    expect(heard).to_contain_text("Sure to 100 %")
    expect(heard.locator("music-strip[data-ready]")).to_be_visible()


def test_silence_is_not_heard_as_anything(page: Page, served: Served) -> None:
    page.context.add_init_script(INSTRUMENT)
    round_of_line(page, served)
    page.keyboard.press("PageDown")
    expect(page.locator(".heard")).to_have_text("No note came from the instrument after the count-in.")


@pytest.mark.parametrize(
    ("script", "sentence"),
    [
        ("navigator.requestMIDIAccess = undefined;", "This browser cannot hear MIDI instruments here"),
        (
            "navigator.requestMIDIAccess = async () => { throw new DOMException('no', 'NotAllowedError'); };",
            "The browser was not allowed to use MIDI instruments",
        ),
    ],
)
def test_without_midi_one_sentence_says_so(page: Page, served: Served, script: str, sentence: str) -> None:
    page.context.add_init_script(script)
    open_round(page, served)
    page.get_by_role("button", name="Listen to my MIDI instrument").click()
    expect(page.locator(".round-controls")).to_contain_text(sentence)


def _events(served: Served, exercise: dict[str, Any]) -> list[dict[str, int]]:
    from everyline.corpora import load
    from everyline.rules.line_text import parse_line
    from everyline.rules.rulefile import parse_rules
    from tests.everyline.page.served import II_V_I

    assert exercise["key"] == "C"  # so that these are the line's own rules
    (events,) = parse_line(exercise["text"], parse_rules(II_V_I, load(None)))
    return [event._asdict() for event in events]
