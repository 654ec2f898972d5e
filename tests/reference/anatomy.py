"""The anatomy of a line: from what has been played so far, every note that may come next.

`openings` gives the first notes and `moves` the next ones, each with its role and with what must be
remembered.  An analysis is a path through these; it is whole when `is_whole` says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from tests.reference.progression import BEAT
from tests.reference.rulefile import Rules
from tests.reference.theory import Chord
from tests.reference.vocabulary import Event, figure_pitches


class State(NamedTuple):
    """What an analysis remembers of the notes so far."""

    slot: int  # the next slot to fill
    pitch: int  # the note before
    chord_tone: int | None  # the last note that is not an approach note; None before there is one
    run: int  # direction of the run since the last anchor: +1, -1, or 0 where none has begun
    turned: int  # changes of direction inside this run
    since: int | None  # chord tones since the last figure's target, that one included; None before any
    started: int  # figures started in the chord of the note before
    coming: tuple[int, ...]  # the rest of a figure, its target last
    tail: tuple[Event, ...]  # the rest of a stock ending
    over: bool  # the last note has sounded


Move = tuple[Event, str, State]  # a note, its role, and what to remember after it


def openings(rules: Rules) -> Iterator[Move]:
    """The rules say: "The line starts on the entry beat, either on any chord tone of the first chord or on
    the first note of an approach figure whose target is also in the first chord"."""
    progression = rules.progression
    first = progression.chords[0]
    for slot in rules.entry_slots:
        blank = State(slot, 0, None, 0, 0, None, 0, (), (), False)
        for pitch in sorted(rules.pitches):
            if first.has(pitch) and may_start(rules, pitch):
                yield sound(rules, blank, pitch, "entry")
        # "At entry nothing precedes the figure, so `reach` does not apply", nor does `after`.
        for notes, target in figures_from(rules, slot):
            target_slot = slot + len(notes)
            in_first_chord = progression.index_at(target_slot) == 0
            allowed = rules.counts[0][1] >= 1 and may_start(rules, notes[0])
            if in_first_chord and allowed:
                yield approach(rules, blank, notes, target)


def may_start(rules: Rules, pitch: int) -> bool:
    """The rules say: "`start` restricts the first sounding note to given pitches or note names; `degrees`
    restricts it to degrees of the first chord"."""
    root = rules.progression.chords[0].root
    named = rules.start_pitches is None or pitch in rules.start_pitches
    return named and (rules.entry_degrees is None or (pitch - root) % 12 in rules.entry_degrees)


def moves(rules: Rules, state: State) -> Iterator[Move]:
    """Every note that may come next."""
    if state.over:
        return
    if state.tail:
        event, *rest = state.tail
        yield event, "ending", state._replace(pitch=event[2], tail=tuple(rest), over=not rest)
    elif state.coming:
        yield from figure_goes_on(rules, state)
    else:
        yield from stock_endings(rules, state)
        if rules.progression.is_change(state.slot):
            yield from handoffs(rules, state)
        else:
            yield from arpeggios(rules, state)
            yield from figure_starts(rules, state)


def sound(rules: Rules, state: State, pitch: int, role: str, **changed: int) -> Move:
    """One chord tone of one slot.  An anchor ends the run before it; the resolution ends the line."""
    progression = rules.progression
    last = state.slot == progression.resolution
    # The rules say of plain: "the handoff on the resolution slot is the last note and is held for one beat".
    length = BEAT if last else progression.slot_ticks
    since = changed.get("since", None if state.since is None else state.since + 1)
    after = State(
        slot=state.slot + 1,
        pitch=pitch,
        chord_tone=pitch,
        run=changed.get("run", 0),
        turned=changed.get("turned", 0),
        # More than `after` chord tones are as good as `after` of them.
        since=None if since is None else min(since, rules.after),
        started=0 if progression.is_change(state.slot) else state.started,
        coming=(),
        tail=(),
        over=last,
    )
    return (state.slot * progression.slot_ticks, length, pitch), role, after


def arpeggios(rules: Rules, state: State) -> Iterator[Move]:
    """The rules say: "the next rung up or down from the note before, which must be a chord tone of the same
    chord. A run goes one way: up or down, chosen afresh after each anchor. `turns` (default 0) allows that
    many changes of direction inside one run. `direction` = up, down or either (default) restricts all
    runs"."""
    chord = rules.progression.chord_at(state.slot)
    for way in {"up": (1,), "down": (-1,), "either": (-1, 1)}[rules.direction]:
        turned = state.turned + (state.run == -way)
        pitch = chord.rung(state.pitch, way)
        if turned <= rules.turns and pitch in rules.pitches:
            yield sound(rules, state, pitch, "arpeggio", run=way, turned=turned)


@lru_cache(maxsize=4096)
def figures_from(rules: Rules, slot: int) -> list[tuple[tuple[int, ...], int]]:
    """Every figure that may start at this slot by its time and target: its notes, and the target.

    The rules say: "A figure of k notes fills k slots in one chord and its target takes the slot after. The
    target is a chord tone of the chord at its own slot and must fall on a beat. The target's slot is in the
    same chord, or is the first slot of the next chord"; "`targets` restricts targets to degrees of the
    target's own chord"; "every note of the line must then be in range".
    """
    progression = rules.progression
    found = []
    for steps in rules.figures:
        target_slot = slot + len(steps)
        in_one_chord = progression.index_at(slot) == progression.index_at(target_slot - 1)
        if not in_one_chord or not progression.on_beat(target_slot) or target_slot > progression.resolution:
            continue
        chord = progression.chord_at(target_slot)
        for target in sorted(rules.pitches):
            wanted = rules.targets is None or (target - chord.root) % 12 in rules.targets
            if chord.has(target) and wanted:
                notes = figure_pitches(steps, target, chord)
                if rules.pitches.issuperset(notes):
                    found.append((notes, target))
    return found


def figure_starts(rules: Rules, state: State) -> Iterator[Move]:
    """The rules say: "The figure's first note differs from the note before it and lies at most `reach`
    semitones from it"; "`after` is the least number of chord tones since the last figure's target, that
    target included, before a new figure may begin"; the target on a new chord "must also be a legal
    handoff"."""
    progression = rules.progression
    if state.started >= rules.counts[progression.index_at(state.slot)][1]:
        return
    if state.since is not None and state.since < rules.after:
        return
    for notes, target in figures_from(rules, state.slot):
        target_slot = state.slot + len(notes)
        near = 1 <= abs(notes[0] - state.pitch) <= rules.reach
        legal = not progression.is_change(target_slot) or target in handoff_pitches(
            rules, state.chord_tone, progression.chord_at(target_slot)
        )
        if near and legal:
            yield approach(rules, state, notes, target)


def approach(rules: Rules, state: State, notes: tuple[int, ...], target: int) -> Move:
    """The first note of a figure."""
    ticks = rules.progression.slot_ticks
    after = state._replace(
        slot=state.slot + 1, pitch=notes[0], started=state.started + 1, coming=(*notes[1:], target)
    )
    return (state.slot * ticks, ticks, notes[0]), "approach", after


def figure_goes_on(rules: Rules, state: State) -> Iterator[Move]:
    """The later notes of a figure, and its target.  "A note that is both target and handoff is a target"."""
    pitch, *rest = state.coming
    if rest:
        ticks = rules.progression.slot_ticks
        after = state._replace(slot=state.slot + 1, pitch=pitch, coming=tuple(rest))
        yield (state.slot * ticks, ticks, pitch), "approach", after
    elif may_arrive(rules, state):
        yield sound(rules, state, pitch, "target", since=1)


def may_arrive(rules: Rules, state: State) -> bool:
    """Whether the next slot may hold a note of the line's own: the chord left behind has as many figures as
    `count` asks, and the resolution slot is reached only by the plain ending."""
    progression = rules.progression
    if not progression.is_change(state.slot):
        return True
    enough = state.started >= rules.counts[progression.index_at(state.slot) - 1][0]
    return enough and (rules.plain or state.slot != progression.resolution)


def handoffs(rules: Rules, state: State) -> Iterator[Move]:
    """The rules say: "The first slot of each new chord, unless it falls inside the ending, holds a chord tone
    of the new chord"."""
    if may_arrive(rules, state):
        chord = rules.progression.chord_at(state.slot)
        for pitch in handoff_pitches(rules, state.chord_tone, chord):
            if pitch in rules.pitches:
                yield sound(rules, state, pitch, "handoff")


@lru_cache(maxsize=4096)
def handoff_pitches(rules: Rules, p: int | None, chord: Chord) -> list[int]:
    """The legal handoff notes, in range or not.  The rules say: "With p the last note before it that is not
    an approach note, the handoff note q must be ..."."""
    if p is None:
        raise AssertionError("a chord tone of the first chord comes before every handoff")
    around = [q for q in range(p - 128, p + 129) if q != p]
    tones = [q for q in around if chord.has(q)]
    common = [p] if chord.has(p) else []
    if rules.handoff == "nearest":
        # "a chord tone of the new chord, other than p itself, at the least distance from p, both where two
        # tie"
        return nearest(tones, p)
    if rules.handoff == "nearest-or-common":
        # "the same, and also p itself where it is a chord tone of the new chord"
        return nearest(tones, p) + common
    if rules.handoff == "step":
        # "any chord tone at 1 or 2 semitones from p"
        return [q for q in tones if abs(q - p) <= 2]
    if rules.handoff == "guide":
        # "the nearest of the new chord's third and seventh, other than p"
        return nearest([q for q in around if any(chord.is_degree(q, d) for d in chord.guides())], p)
    if rules.handoff == "any":
        # "any chord tone other than p at most `reach` from p"
        return [q for q in tones if abs(q - p) <= rules.reach]
    raise ValueError(f"{rules.handoff!r} is not a handoff rule")


def nearest(pitches: list[int], p: int) -> list[int]:
    """All the pitches at the least distance from p."""
    least = min((abs(q - p) for q in pitches), default=0)
    return [q for q in pitches if abs(q - p) == least]


def stock_endings(rules: Rules, state: State) -> Iterator[Move]:
    """The rules say: "The ending's first pitch differs from the note before it and is at most `lead_in`
    semitones from it. All its notes must be in range"; "Where an ending begins inside a chord, that chord's
    count is complete at that moment"; "A chord that the line never sounds before the ending starts cannot
    meet a minimum count above 0"."""
    progression = rules.progression
    for ending in rules.endings:
        if ending.start != state.slot * progression.slot_ticks:
            continue
        index = progression.index_at(state.slot)
        started = state.started
        if progression.is_change(state.slot):
            if started < rules.counts[index - 1][0]:
                continue
            started = 0
        if started < rules.counts[index][0]:
            continue
        pitches = ending.pitches(state.pitch, progression)
        led_in = 1 <= abs(pitches[0] - state.pitch) <= rules.lead_in
        if led_in and all(p in rules.pitches for p in pitches):
            events = tuple((n.onset, n.length, p) for n, p in zip(ending.notes, pitches, strict=True))
            after = state._replace(pitch=pitches[0], tail=events[1:], over=len(events) == 1)
            yield events[0], "ending", after
