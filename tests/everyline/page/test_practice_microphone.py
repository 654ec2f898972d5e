"""A microphone in a round: one that hears our own sound of the line, and what is said where there is none."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Page, expect

from tests.everyline.page.node import run
from tests.everyline.page.practising import given
from tests.everyline.page.served import Served
from tests.everyline.page.test_practice import started
from tests.everyline.page.test_practice_midi import open_round

MICROPHONE = """
  const context = new AudioContext();
  const heard = context.createMediaStreamDestination();
  let sound = null;
  window.hears = async (address) => {
    sound = await context.decodeAudioData(await (await fetch(address)).arrayBuffer());
  };
  navigator.mediaDevices.getUserMedia = async () => heard.stream;
  const start = MediaRecorder.prototype.start;
  MediaRecorder.prototype.start = function () {
    const source = context.createBufferSource();
    source.buffer = sound;
    source.connect(heard);
    context.resume();
    source.start();
    return start.call(this);
  };
"""
"""A microphone that hears a sound from the moment on at which somebody records."""


@pytest.mark.slow
@pytest.mark.browser
def test_what_was_sung_into_it_is_written_out(page: Page, served: Served) -> None:
    """At least nine in ten notes: a browser that has much to do may lose a moment of sound."""
    page.context.add_init_script(MICROPHONE)
    exercise = open_round(page, served)
    page.evaluate(
        "(address) => window.hears(address)",
        f"/api/practice/lines/{exercise['id']}/sound.wav?tempo=120&mute=chords,bass,drums,click",
    )
    page.get_by_role("button", name="Listen by microphone").click()
    expect(page.locator(".round-controls")).to_contain_text("Wear headphones")
    page.locator("#round-start").click()
    started(page)
    summary = page.locator(".heard b")
    expect(summary).to_contain_text("notes right")
    found = re.match(r"(\d+) of (\d+) notes right", summary.inner_text())
    assert found is not None and int(found[2]) == len(exercise["notes"])
    assert int(found[1]) >= 0.9 * int(found[2]), summary.inner_text()
    expect(page.locator(".heard")).to_contain_text("Sure to")


@pytest.mark.browser
def test_without_a_microphone_one_sentence_says_so(page: Page, served: Served) -> None:
    page.context.add_init_script(
        "navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('', 'NotAllowedError'));"
    )
    open_round(page, served)
    page.get_by_role("button", name="Listen by microphone").click()
    expect(page.locator(".round-controls")).to_contain_text("was not allowed to use the microphone")


def test_the_wav_file_is_read_by_others() -> None:
    """Read back by libsndfile, sample by sample, to half a step of 16 bits."""
    samples = np.sin(np.linspace(0, 20, 500)) * 1.2
    script = """
    const { wav } = await load("microphone.js");
    return [...new Uint8Array(wav(given, 22050))];
    """
    data, rate = soundfile.read(io.BytesIO(bytes(run(script, samples.tolist()))))
    assert rate == 22050
    assert np.abs(data - np.clip(samples, -1, 1)).max() < 1.6 / 32768


@pytest.mark.parametrize("data", [b"", b"RIFF", b"\x00" * 5000])
def test_what_is_no_recording_is_refused(served: Served, data: bytes) -> None:
    (line, *_) = given(served, "Rosa")
    body = {"student": "Rosa", "line": line.id, "key": "C", "kind": "play"}
    found = served.client.post("/api/practice/exercise", json=body).json()
    answer = served.client.post(
        f"/api/practice/lines/{found['id']}/heard/recording?tempo=120",
        content=data,
        headers={"content-type": "application/octet-stream"},
    )
    assert answer.status_code == 400 and "take.wav" in answer.json()["error"]
