"""A stretch of a form as changes of its own, written as lead-sheet text."""

from __future__ import annotations

from everyline.corpora.errors import InputError
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.progression import Progression


def excerpt(form: Progression, first: int, beyond: int, subdivision: int) -> str:
    """The changes from slot ``first`` of a form to the slot before ``beyond``, in whole bars.

    The chord that holds at ``first`` is written from the start of that bar, and the last one to the end of
    its bar. ``subdivision`` is that of the text's reader. Raises InputError where a chord begins between two
    of its slots.
    """
    bar = form.slots_per_bar
    starts = {start: chord.symbol for start, chord in zip(form.starts, form.chords, strict=True)}
    kept = {start: symbol for start, symbol in starts.items() if first < start < beyond}
    held = form.chords[form.chord_index(first)].symbol
    bars = []
    for opening in range(first // bar * bar, beyond, bar):
        changes = [(0, held)]
        for start in sorted(start for start in kept if opening <= start < opening + bar):
            held = kept[start]
            changes = [each for each in changes if each[0] < start - opening] + [(start - opening, held)]
        bars.append(_bar(form, opening, changes, subdivision))
    return " | ".join(bars)


def _bar(form: Progression, opening: int, changes: list[tuple[int, str]], subdivision: int) -> str:
    """One bar of text from (slot in the bar, symbol), in as few equal shares as will do."""
    beats = form.beats_per_bar
    slots = beats * subdivision
    placed = {}
    for slot, symbol in changes:
        at, between = divmod(slot * form.slot_ticks, TICKS_PER_BEAT // subdivision)
        if between:
            raise InputError(
                f"{symbol} begins on {form.place(opening + slot)}, which lies between two slots of "
                f"subdivision = {subdivision}; leave the phrase's subdivision out"
            )
        placed[at] = symbol
    shares = next(
        n
        for n in range(1, slots + 1)
        if slots % n == 0
        and (beats % n == 0 or n % beats == 0)
        and all(at % (slots // n) == 0 for at in placed)
    )
    return " ".join(placed.get(share * (slots // shares), "/") for share in range(shares))
