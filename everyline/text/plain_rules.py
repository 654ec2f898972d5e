"""A set of rules in plain words, a sentence each, as they stand at the head of a sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from everyline.corpora.counted import plural
from everyline.rules.ruleset import Rules

MOST_NAMED = 8
"""Figures and endings that are named one by one; of more, their number is said."""

HANDOFFS = {
    "nearest": "the nearest other tone of the new chord",
    "nearest-or-common": "the nearest tone of the new chord, or the same note again",
    "step": "a tone of the new chord a step away",
    "guide": "the nearest third or seventh of the new chord",
    "any": "any tone of the new chord",
}
_SLOTS = {
    1: "one note to a beat",
    2: "two notes to a beat",
    3: "three notes to a beat",
    4: "four notes to a beat",
    6: "six notes to a beat",
}


def plain_rules(rules: Rules) -> tuple[str, ...]:
    """The rules, each as one sentence of plain English, in the order in which a line meets them."""
    return tuple(_sentences(rules))


def _sentences(rules: Rules) -> Iterator[str]:
    progression = rules.progression
    if rules.cells:
        yield f"The rhythm is made of: {', '.join(cell.text for cell in rules.cells)}."
    else:
        yield f"The line moves evenly, {_SLOTS[progression.subdivision]}."
    beats = [_beat(rules, slot) for slot in rules.entry.slots]
    yield f"It begins on {_listed(beats, 'or')}, on a chord tone."
    yield _arpeggio(rules)
    yield from _approach(rules)
    if rules.passing.kinds:
        where = ", off the beat" if rules.passing.place == "off" else ""
        yield f"Two chord tones may be joined by passing notes ({_listed(rules.passing.kinds, 'or')}{where})."
    yield f"Where the chord changes, the first note is {HANDOFFS[rules.handoff]}."
    yield _ending(rules)
    asked = [each.describe() for each in rules.limits] + [each.describe() for each in rules.must_targets]
    for text in asked:
        yield f"{text[:1].upper()}{text[1:]}."


def _beat(rules: Rules, slot: int) -> str:
    name = rules.progression.beat_name(slot)
    return f"beat {name} of the bar before" if slot < 0 else f"beat {name}"


def _arpeggio(rules: Rules) -> str:
    arpeggio = rules.arpeggio
    way = {"up": "only up", "down": "only down", "either": "up or down"}[arpeggio.direction]
    turns = (
        f", with at most {plural(arpeggio.turns, 'turn')} in a run" if arpeggio.direction == "either" else ""
    )
    skips = f" and {plural(arpeggio.skips, 'skipped tone')}" if arpeggio.skips else ""
    return f"It runs {way} through the tones of the chord, one after another{turns}{skips}."


def _approach(rules: Rules) -> Iterator[str]:
    figures = rules.approach.figures
    counts = {rules.approach.bounds(chord) for chord in range(len(rules.progression.chords))}
    if not figures or counts == {(0, 0)}:
        yield "There are no approach notes."
        return
    least, most = min(low for low, _ in counts), max(high for _, high in counts)
    many = f"at most {most}" if least == 0 else str(least) if least == most else f"{least} to {most}"
    named = f": {_listed([each.name for each in figures], 'or')}" if len(figures) <= MOST_NAMED else ""
    yield f"In each chord {many} of its tones on a beat may be led to by an approach figure{named}."


def _ending(rules: Rules) -> str:
    names = ["a chord tone of the last chord, held"] if rules.plain else []
    if len(rules.endings) > MOST_NAMED:
        names.append(f"one of {len(rules.endings)} stock endings")
    else:
        names += [f"the ending {each.name}" for each in rules.endings]
    return f"It ends with {_listed(names, 'or')}."


def _listed(words: Sequence[str], last: str) -> str:
    """Words with commas and a last conjunction."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
