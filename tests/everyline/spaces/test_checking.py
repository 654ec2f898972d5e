"""Reports on lines, whatever is wrong with them: always drawn, always mended, never a crash."""

from __future__ import annotations

import io
from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from everyline import Space, lines
from everyline.cli.check import write_report
from everyline.reading import ReadLine
from everyline.rules.analysis import holds
from everyline.rules.line import Event, Events
from everyline.spaces.checking import check

SPACES = {
    "defaults": lambda: lines("Dm7 | G7 | Cmaj7"),
    "sixteenths": lambda: lines("Dm7 G7 | Cmaj7", subdivision=4, handoff="any"),
    "waltz": lambda: lines("Bm7b5 | E7b9 | Am6", meter="3/4", figures=["enclosure-3"], handoff="step"),
    "must land": lambda: lines(
        "Dm7 | G7 | Cmaj7",
        pickup=[1],
        limit=[{"kind": "must-target", "degree": "5"}, {"kind": "single-peak"}],
    ),
}


@cache
def space(name: str) -> Space:
    return SPACES[name]()


@st.composite
def cases(draw: st.DrawFn) -> tuple[str, Events]:
    name = draw(st.sampled_from(list(SPACES)))
    made = space(name)
    events = list(made.diagram.line(draw(st.integers(1, made.count))))
    for _ in range(draw(st.integers(0, 5))):
        place = draw(st.integers(0, len(events) - 1))
        event = events[place]
        pitch = min(127, max(0, event.pitch + draw(st.integers(-14, 14))))
        kind = draw(st.sampled_from(["pitch", "pitch", "drop", "late", "length", "more"]))
        if kind == "pitch":
            events[place] = event._replace(pitch=pitch)
        elif kind == "drop" and len(events) > 1:
            del events[place]
        elif kind == "late":
            by = draw(st.sampled_from([40, 120, 160, 240, 480, 1920]))
            events[place:] = [each._replace(onset=each.onset + by) for each in events[place:]]
        elif kind == "length":
            events[place] = event._replace(length=draw(st.sampled_from([1, 60, 160, 240, 481, 2400])))
        elif kind == "more":
            events.append(Event(events[-1].end, pitch, 240))
    return name, tuple(events)


@settings(max_examples=60)
@given(cases())
def test_every_line_has_a_report(case: tuple[str, Events]) -> None:
    name, events = case
    made = space(name)
    report = check(made, ReadLine((events,)), nearest=2)
    assert report.valid == holds(made.rules, events)
    assert (report.number is not None) == report.valid
    assert report.valid or len(report.by_onset) == len(report.by_order) == 2
    for mended in (*report.by_onset, *report.by_order):
        assert holds(made.rules, mended.line.events)
        assert mended.line.events != events
        assert len(mended.words) == len(mended.repair.changes) + len(mended.repair.lengths)
    row = report.as_row()
    assert [note["pitch"] for note in row["notes"]] == [event.pitch for event in events]
    out = io.StringIO()
    write_report(report, out)
    assert out.getvalue().startswith("valid: " if report.valid else "not valid: ")


def test_of_several_places_to_start_the_likeliest_is_judged() -> None:
    made = space("must land")
    line = made.line(7)
    early = tuple(event._replace(onset=event.onset + 480) for event in line.events)
    report = check(made, ReadLine((early, line.events)))
    assert report.valid
    assert report.number == 7
