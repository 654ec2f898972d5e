"""A line as typed text and back: starts, lengths, rests."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.note_lengths import parse_value
from everyline.rules.annotate import unexplained
from everyline.rules.line import Event
from everyline.rules.line_text import format_line, length_name, parse_line
from everyline.spaces.space import parse

RULES = [
    parse(text).rules
    for text in (
        'changes = "Dm7 | G7 | Cmaj7"\n',
        'changes = "Dm7 | G7 | Cmaj7"\nentry.beats = ["1", "2&"]\n',
        'changes = "Dm7 | G7 | Cmaj7"\nentry.pickup = [1, 3]\n',
        'changes = "Dm7 | G7 | Cmaj7"\nsubdivision = 3\n',
        'changes = "Dm7 | G7 | Cmaj7"\nmeter = "6/8"\n',
    )
]
lengths = st.lists(st.integers(2, 300).map(lambda size: 20 * size), min_size=1, max_size=12)


@given(st.sampled_from(RULES), st.data(), lengths)
def test_any_line_is_read_back(rules, data, held) -> None:
    """Lengths of 20 ticks and more that values can show; the plainest rhythms there are, and the oddest."""
    at = data.draw(st.sampled_from(sorted(rules.entry.slots))) * rules.slot_ticks
    events = []
    for length in held:
        if length_name(length, rules) is None:
            continue
        events.append(Event(at, data.draw(st.integers(48, 84)), length))
        at += length
    if not events:
        return
    names = [note.name for note in unexplained(rules, tuple(events)).notes]
    (again,) = parse_line(format_line(rules, events, names, start=True), rules)
    assert again == tuple(events)


@pytest.mark.parametrize(
    ("ticks", "name"),
    [(240, "8"), (720, "4."), (1200, "2+8"), (600, "4+16"), (2400, "1+4"), (6000, "1+1+1+8")],
)
def test_lengths_as_they_are_tied_on_paper(ticks: int, name: str) -> None:
    """Common practice: a length that no value shows is the longer value tied to the shorter."""
    assert length_name(ticks, RULES[0]) == name
    assert sum(parse_value(value).ticks for value in name.split("+")) == ticks


def test_every_length_on_a_grid_of_thirty_seconds_has_a_name() -> None:
    assert all(length_name(ticks, RULES[0]) for ticks in range(60, 16 * 480, 60))
    assert all(length_name(ticks, RULES[0]) for ticks in range(160, 16 * 480, 160))


def test_the_start_is_written_where_it_is_asked_for() -> None:
    events, names = [Event(0, 62, 240), Event(240, 65, 480)], ["D4", "F4"]
    assert format_line(RULES[0], events, names) == "D4 F4:4"
    assert format_line(RULES[0], events, names, start=True) == "@1 D4 F4:4"
