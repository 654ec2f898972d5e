"""From frames to notes: where each begins and ends, which pitch it is, how sure that is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from everyline.listening.period import octave_doubt, periodic, too_low
from everyline.listening.played import Played, PlayedNote
from everyline.listening.recording import Recording
from everyline.listening.tracking import FRAME, Frames, track

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LOWEST, HIGHEST = 20, 108
"""MIDI numbers that are heard."""
CHANGE = 5.0
"""What a change of pitch costs, in frames about: glides and slips of the tracker are to be no notes."""
QUIET = -45.0
"""Decibels below the loudest frame at which nothing is a note."""
SHORTEST = 0.045
"""Seconds: what is shorter is no note of its own."""
STRUCK = 6.0
"""Growth of the spectrum, in decibels, that is a new attack."""
REPEATED = 3.5
"""Decibels by which the level has to rise in two frames where a pitch is played again: a vibrato rises by up
to 2.5."""
GROWN = 7.0
"""By how much the spectrum has to grow in five frames together where a pitch is played again."""
FALL = 2.0
"""Decibels by which a note has to have died away before it can be played again."""
FALSE = 0.5
"""Sureness below which a short sound is none: a slip of the tracker, a click, a breath."""
SHORT = 0.12
"""Seconds up to which a sound is short."""
FUNDAMENTAL = 60
"""MIDI number from which a tone has a fundamental: one far deeper may lose it in a small microphone."""
SLIP = 0.14
"""Seconds at the beginning of a tone for which it may be heard an octave off."""
LOST = 8
"""Frames for which a tone may be lost."""
BEFORE, AFTER = 5, 4
"""Frames around a change of pitch among which its attack is sought."""


class _Span(NamedTuple):
    """Frames from ``first`` to before ``last`` with one pitch."""

    first: int
    last: int
    pitch: int


def notes_of(recording: Recording) -> Played:
    """The notes of a recording of one melody line. Where it has no pitch there are none."""
    frames = track(recording.samples)
    tuning = _tuning(frames)
    frames = _raised(recording, frames, _spans(frames, tuning), tuning)
    spans = [span for span in _spans(frames, tuning) if _is_heard(_note(recording, frames, span, tuning))]
    struck = [part for span in _joined(spans, frames) for part in _struck(span, frames)]
    notes = [_note(recording, frames, span, tuning) for span in struck]
    return Played(notes, True, round(100 * tuning), recording.remarks)


def _is_heard(note: PlayedNote) -> bool:
    """Whether a sound is a note at all."""
    return note.length >= SHORTEST and (note.sure >= FALSE or note.length > SHORT)


def _tuning(frames: Frames) -> float:
    """Semitones by which the take as a whole is above A = 440 Hz, from -0.5 to 0.5: a circular mean."""
    import numpy as np

    heard = (frames.sure >= 0.8) & (frames.level > QUIET)
    if not heard.any():
        return 0.0
    return float(np.angle(np.exp(2j * np.pi * frames.pitch[heard]).mean()) / (2 * np.pi))


def _spans(frames: Frames, tuning: float) -> Iterator[_Span]:
    """The likeliest row of pitches and silences, by a Viterbi search: a frame costs what its pitch is off, a
    change costs ``CHANGE``."""
    import numpy as np

    pitches = np.arange(LOWEST, HIGHEST + 1)
    count, states = len(frames.pitch), len(pitches) + 1
    voiced = np.where(frames.level > QUIET, frames.sure, 0.0)
    back = np.zeros((count, states), np.uint8)
    cost = np.zeros(states)
    for frame in range(count):
        best = int(np.argmin(cost))
        change = cost[best] + CHANGE < cost
        back[frame] = np.where(change, best, np.arange(states))
        cost = np.minimum(cost, cost[best] + CHANGE)
        off = np.abs(frames.pitch[frame] - tuning - pitches)
        cost[:-1] += 2 * voiced[frame] * np.minimum(off, 1.5) + 4 * max(0.0, 0.5 - voiced[frame])
        cost[-1] += 4 * max(0.0, voiced[frame] - 0.5)
    path = np.empty(count, int)
    state = int(np.argmin(cost))
    for frame in range(count - 1, -1, -1):
        path[frame] = state
        state = int(back[frame, state])
    edges = [0, *(np.flatnonzero(np.diff(path)) + 1).tolist(), count]
    for first, last in pairwise(edges):
        if path[first] < states - 1:
            yield _Span(first, last, int(pitches[path[first]]))


def _raised(recording: Recording, frames: Frames, spans: Iterable[_Span], tuning: float) -> Frames:
    """The frames with the pitch of every tone that has no fundamental put where the sound has one."""
    pitch = frames.pitch.copy()
    for span in spans:
        if span.pitch >= FUNDAMENTAL:
            hertz = 440 * 2 ** ((span.pitch + tuning - 69) / 12)
            semitones = too_low(_middle(recording.samples, _inner(span)), hertz)
            near = abs(pitch[span.first : span.last] - tuning - span.pitch) < 1
            pitch[span.first : span.last] += semitones * near
    return replace(frames, pitch=pitch)


def _struck(span: _Span, frames: Frames) -> Iterator[_Span]:
    """A span cut where its pitch is struck or tongued again."""
    first, gap = span.first, round(SHORTEST / FRAME)
    # What grows at the very end is the next note.
    for frame in range(span.first + gap, span.last - 2 * gap):
        if frame - first >= gap and _attack_at(frames, frame, first):
            yield span._replace(first=first, last=frame)
            first = frame
    yield span._replace(first=first)


def _attack_at(frames: Frames, frame: int, first: int) -> bool:
    """Whether a new attack peaks at a frame of a note that began at ``first``: the level has fallen since,
    and rises again faster than in a vibrato."""
    if frames.attack[frame] < frames.attack[frame - 2 : frame + 3].max():
        return False
    start = max(first, frame - 6)
    lowest = start + int(frames.level[start : frame + 1].argmin())
    fall = frames.level[first : lowest + 1].max() - frames.level[lowest]
    near = frames.level[max(first, frame - 3) : frame + 4]
    rise = (near[2:] - near[:-2]).max()
    grown = frames.attack[max(0, frame - 2) : frame + 3].sum()
    return bool(fall >= FALL and rise >= REPEATED and grown >= GROWN)


def _joined(spans: list[_Span], frames: Frames) -> list[_Span]:
    """Spans that are one tone, made one: across a gap without an attack, where the tracker lost it for a
    moment, and after a beginning that was heard an octave off."""
    found: list[_Span] = []
    for span in spans:
        last = found[-1] if found else None
        if last and frames.attack[last.last - 1 : span.first + 3].max() < STRUCK:
            gap = span.first - last.last
            slipped = abs(last.pitch - span.pitch) == 12 and (last.last - last.first) * FRAME <= SLIP
            if (slipped and gap <= 1) or (last.pitch == span.pitch and 0 < gap <= LOST):
                found[-1] = _Span(last.first, span.last, span.pitch)
                continue
        found.append(span)
    return found


def _onset(span: _Span, frames: Frames) -> int:
    """The frame of a note's attack: where the spectrum grows most around its change of pitch, else the
    change."""
    first = max(0, span.first - BEFORE)
    near = frames.attack[first : span.first + AFTER]
    peak = int(near.argmax())
    return first + peak if near[peak] >= STRUCK else span.first


def _note(recording: Recording, frames: Frames, span: _Span, tuning: float) -> PlayedNote:
    import numpy as np

    inner = _inner(span)
    off = frames.pitch[inner] - tuning - span.pitch
    onset = _onset(span, frames)
    samples = _middle(recording.samples, inner)
    hertz = 440 * 2 ** ((span.pitch + tuning + float(np.median(off)) - 69) / 12)
    sure = float(frames.sure[inner].mean() * (np.abs(off) < 0.4).mean()) * periodic(samples, hertz)
    return PlayedNote(
        onset=onset * FRAME,
        length=max(FRAME, (span.last - onset) * FRAME),
        pitch=span.pitch,
        sure=round(min(1.0, sure), 2),
        cents=round(100 * float(np.median(off))),
        octave=octave_doubt(samples, hertz),
    )


def _inner(span: _Span) -> slice:
    """Its inner frames: the attack and the release belong to two notes."""
    count = span.last - span.first
    return slice(span.first + count // 4, max(span.first + count // 4 + 1, span.last - count // 8))


def _middle(samples: NDArray[np.float32], inner: slice) -> NDArray[np.float32]:
    from everyline.listening.tracking import HOP

    return samples[inner.start * HOP : max(inner.stop * HOP, inner.start * HOP + 4 * HOP)]
