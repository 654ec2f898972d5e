"""The anatomy of a line: from what has been played so far, every note that may come next.

`openings` gives the first notes and `moves` the next ones, each with its role and with what must be
remembered.  An analysis is a path through these that ends where the state is `over`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, NamedTuple

from tests.reference.between_chords import fillings, handoff_pitches
from tests.reference.endings import Note
from tests.reference.progression import on_beat
from tests.reference.rhythm import Cell, Place, cuts, entry_places, places
from tests.reference.rulefile import Rules
from tests.reference.vocabulary import Event, figure_pitches

# A chord has room for fewer filled moves than this, so such a bound need not be counted up to.
NO_BOUND = 99


class Due(NamedTuple):
    """A note that must come next, without a rest: of a figure or of a filled move."""

    role: str
    pitch: int
    chord: int  # the chord that must hold then


class State(NamedTuple):
    """What an analysis remembers of the notes so far."""

    clock: int  # where the note before ends
    left: Cell  # what is left of its cell
    chord: int = 0  # the chord of the note before
    pitch: int = 0  # the note before
    chord_tone: int | None = None  # the last note that is neither an approach note nor a passing note
    run: int = 0  # direction of the run since the last anchor: +1, -1, or 0 where none has begun
    turned: int = 0  # changes of direction inside this run
    skipped: int = 0  # moves inside this run that passed over a rung
    since: int | None = None  # chord tones since the last figure's target, that one included; None before any
    figures: int = 0  # figures begun in this chord
    fills: int = 0  # filled moves begun in this chord
    due: tuple[Due, ...] = ()  # the rest of a figure, or of a filled move
    tail: tuple[tuple[Note, int], ...] = ()  # the rest of a stock ending, with its pitches
    over: bool = False  # the last note has sounded
    notes: int = 0  # notes so far, where a limit asks
    rests: int = 0  # silences between two notes so far, where a limit asks


Move = tuple[Event, str, State]  # a note, its role, and what to remember after it


def openings(rules: Rules) -> Iterator[Move]:
    """The rules say: "The line starts on the entry beat, either on any chord tone of the first chord or on
    the first note of an approach figure whose target is also in the first chord"."""
    return tallied(rules, None, first_notes(rules))


def moves(rules: Rules, state: State) -> Iterator[Move]:
    """Every note that may come next."""
    return tallied(rules, state, next_notes(rules, state))


def first_notes(rules: Rules) -> Iterator[Move]:
    first = rules.progression.chords[0]
    for tick in rules.entries:
        for place in set(entry_places(rules.rhythm, rules.progression, tick)):
            blank = State(clock=place.onset, left=())
            for pitch in sorted(rules.pitches):
                if first.has(pitch) and may_start(rules, pitch):
                    yield sound(rules, blank, place, pitch, "entry")
            # "At entry nothing precedes the figure, so `reach` does not apply", nor does `after`.
            if rules.counts[0][1] >= 1:
                for notes, target in figures_to(rules, 0):
                    if may_start(rules, notes[0]):
                        yield figure(blank, place, notes, target, 0)


def may_start(rules: Rules, pitch: int) -> bool:
    """The rules say: "`start` restricts the first sounding note to given pitches or note names; `degrees`
    restricts it to degrees of the first chord"."""
    root = rules.progression.chords[0].root
    named = rules.start_pitches is None or pitch in rules.start_pitches
    return named and (rules.entry_degrees is None or (pitch - root) % 12 in rules.entry_degrees)


def next_notes(rules: Rules, state: State) -> Iterator[Move]:
    if state.over:
        return
    if state.tail:
        yield ending_note(state, state.tail)
        return
    if not state.due:
        yield from stock_endings(rules, state)
    for place in set(places(rules.rhythm, rules.progression, state.clock, state.left)):
        if state.due:
            yield from what_is_due(rules, state, place)
        elif place.chord != state.chord:
            yield from handoffs(rules, state, place)
        else:
            yield from arpeggios(rules, state, place)
            yield from figure_starts(rules, state, place)
            yield from fill_starts(rules, state, place)


def play(state: State, place: Place, pitch: int, role: str, **changed: Any) -> Move:
    """One note of the body."""
    after = state._replace(clock=place.onset + place.length, left=place.left, pitch=pitch, **changed)
    return (place.onset, place.length, pitch), role, after


def sound(rules: Rules, state: State, place: Place, pitch: int, role: str, **changed: Any) -> Move:
    """One chord tone.  An anchor ends the run before it; the resolution ends the line."""
    counted = {"run": 0, "turned": 0, "skipped": 0}
    if place.chord != state.chord:
        counted |= {"figures": 0, "fills": 0}
    # More than `after` chord tones are as good as `after` of them.
    since = None if state.since is None else min(state.since + 1, max(rules.after, 1))
    over = place.chord == rules.progression.last
    changed = {**counted, "since": since, **changed}
    return play(state, place, pitch, role, chord=place.chord, chord_tone=pitch, due=(), over=over, **changed)


def ways(rules: Rules) -> tuple[int, ...]:
    """The rules say: "`direction` = up, down or either (default) restricts all runs"."""
    return {"up": (1,), "down": (-1,), "either": (-1, 1)}[rules.direction]


def arpeggios(rules: Rules, state: State, place: Place) -> Iterator[Move]:
    """The rules say: "the next rung up or down from the note before, which must be a chord tone of the same
    chord. A run goes one way: up or down, chosen afresh after each anchor. `turns` (default 1) allows that
    many changes of direction inside one run. `skips` (default 0) is the number of moves in one run that may
    pass over one rung: two rungs at once, in the run's direction"; "A move may be a turn and a skip at
    once"."""
    chord = rules.progression.chords[place.chord]
    for way in ways(rules):
        turned = state.turned + (state.run == -way)
        if turned > rules.turns:
            continue
        for skip in (0, 1):
            skipped = state.skipped + skip
            pitch = chord.rung(state.pitch, way)
            if skip:
                pitch = chord.rung(pitch, way)
            if skipped <= rules.skips and pitch in rules.pitches:
                run = {"run": way, "turned": turned, "skipped": skipped}
                yield sound(rules, state, place, pitch, "arpeggio", **run)


@lru_cache(maxsize=4096)
def figures_to(rules: Rules, index: int) -> list[tuple[tuple[int, ...], int]]:
    """Every figure with a target in a chord: its notes, and the target.

    The rules say: "The target is a chord tone of the chord at its own slot"; "`targets` restricts targets to
    degrees of the target's own chord"; "every note of the line must then be in range".
    """
    chord = rules.progression.chords[index]
    found = []
    for steps in rules.figures:
        for target in sorted(rules.pitches):
            wanted = rules.targets is None or (target - chord.root) % 12 in rules.targets
            if chord.has(target) and wanted:
                notes = figure_pitches(steps, target, chord)
                if rules.pitches.issuperset(notes):
                    found.append((notes, target))
    return found


def figure_starts(rules: Rules, state: State, place: Place) -> Iterator[Move]:
    """The rules say: "The target's slot is in the same chord, or is the first slot of the next chord, where
    it must also be a legal handoff. The figure's first note differs from the note before it and lies at most
    `reach` semitones from it"; "`after` is the least number of chord tones since the last figure's target,
    that target included, before a new figure may begin"."""
    if state.figures >= rules.counts[state.chord][1]:
        return
    if state.since is not None and state.since < rules.after:
        return
    for index in (state.chord, state.chord + 1):
        for notes, target in figures_to(rules, index):
            near = 1 <= abs(notes[0] - state.pitch) <= rules.reach
            legal = index == state.chord or target in handoff_pitches(rules, state.chord_tone, index)
            if near and legal and may_land(rules, place, len(notes), index):
                yield figure(state, place, notes, target, index)


@lru_cache(maxsize=100_000)
def may_land(rules: Rules, place: Place, length: int, index: int) -> bool:
    """Whether a figure of so many notes that begins here can have its target in time in a chord.

    What is due is judged note by note anyway; this spares the figures that would come to nothing.
    """
    clock = place.onset + place.length
    following = [p for p in places(rules.rhythm, rules.progression, clock, place.left) if p.onset == clock]
    if length == 1:
        return any(p.chord == index and on_beat(p.onset) for p in following)
    return any(p.chord == place.chord and may_land(rules, p, length - 1, index) for p in following)


def figure(state: State, place: Place, notes: tuple[int, ...], target: int, index: int) -> Move:
    """The first note of a figure, whose target is to sound in the chord `index`."""
    due = [Due("approach", pitch, state.chord) for pitch in notes[1:]] + [Due("target", target, index)]
    return play(state, place, notes[0], "approach", figures=state.figures + 1, due=tuple(due))


def fill_starts(rules: Rules, state: State, place: Place) -> Iterator[Move]:
    """The rules say: "A filled move plays the passing notes between two chord tones p and q and then q. It
    stands in place of a plain arpeggio move from p to the next rung q (same chord, same direction, same
    `turns`; a skip is never filled), or in place of a direct handoff from p to q"; "At a handoff no chord
    tone of the old chord may lie strictly between p and q"."""
    if state.fills >= rules.fills[state.chord][1] or not passing_may_begin(rules, place):
        return
    chord, p = rules.progression.chords[state.chord], state.pitch
    # Where no bound is near, a filled move more or less makes no difference.
    least, most = rules.fills[state.chord]
    fills = min(state.fills + 1, least) if most >= NO_BOUND else state.fills + 1
    for way in ways(rules):
        turned = state.turned + (state.run == -way)
        if turned <= rules.turns:
            goal = Due("arpeggio", chord.rung(p, way), state.chord)
            run = {"run": way, "turned": turned, "fills": fills}
            yield from fill_to(rules, state, place, goal, run)
    for q in handoff_pitches(rules, p, state.chord + 1):
        if not any(chord.has(pitch) for pitch in range(min(p, q) + 1, max(p, q))):
            goal = Due("handoff", q, state.chord + 1)
            yield from fill_to(rules, state, place, goal, {"fills": fills})


def fill_to(rules: Rules, state: State, place: Place, goal: Due, changed: dict[str, int]) -> Iterator[Move]:
    """The first passing notes of the moves from the note before to a goal."""
    chord = rules.progression.chords[state.chord]
    if goal.pitch in rules.pitches:
        for pitches in fillings(rules.kinds, chord, state.pitch, goal.pitch):
            if rules.pitches.issuperset(pitches):
                due = [Due("passing", pitch, state.chord) for pitch in pitches[1:]] + [goal]
                yield play(state, place, pitches[0], "passing", due=tuple(due), **changed)


def passing_may_begin(rules: Rules, place: Place) -> bool:
    """The rules say: "`place = "off"` (default) asks that no passing note begins on a beat"."""
    return rules.passing_anywhere or not on_beat(place.onset)


def what_is_due(rules: Rules, state: State, place: Place) -> Iterator[Move]:
    """The later notes of a figure and its target, or of a filled move.

    The rules say: "The notes of a figure and its target follow one another without a rest, and so do the
    notes of a filled move"; the target "must fall on a beat"; "No figure note and no passing note is a new
    chord's first onset". "A note that is both target and handoff is a target".
    """
    due, *rest = state.due
    if place.onset != state.clock or place.chord != due.chord or not may_arrive(rules, state, place):
        return
    if due.role == "approach":
        yield play(state, place, due.pitch, "approach", due=tuple(rest))
    elif due.role == "passing":
        if passing_may_begin(rules, place):
            yield play(state, place, due.pitch, "passing", due=tuple(rest))
    elif due.role == "target":
        if on_beat(place.onset):
            yield sound(rules, state, place, due.pitch, "target", since=1)
    elif due.role == "arpeggio":
        run = {"run": state.run, "turned": state.turned, "skipped": state.skipped}
        yield sound(rules, state, place, due.pitch, "arpeggio", **run)
    else:
        yield sound(rules, state, place, due.pitch, "handoff")


def may_arrive(rules: Rules, state: State, place: Place) -> bool:
    """Whether a note of a new chord may come: the chord left behind has what its counts ask."""
    return place.chord == state.chord or complete(rules, state)


def complete(rules: Rules, state: State) -> bool:
    """Whether as many figures and filled moves have begun in the chord as its counts ask at least."""
    index = state.chord
    return state.figures >= rules.counts[index][0] and state.fills >= rules.fills[index][0]


def handoffs(rules: Rules, state: State, place: Place) -> Iterator[Move]:
    """The rules say: "The first slot of each new chord, unless it falls inside the ending, holds a chord tone
    of the new chord"."""
    if complete(rules, state):
        for pitch in handoff_pitches(rules, state.chord_tone, place.chord):
            if pitch in rules.pitches:
                yield sound(rules, state, place, pitch, "handoff")


def stock_endings(rules: Rules, state: State) -> Iterator[Move]:
    """The rules say: "The ending's first pitch differs from the note before it and is at most `lead_in`
    semitones from it. All its notes must be in range"; "Where an ending begins inside a chord, that chord's
    count is complete at that moment"; "a chord that is then silent before the ending has no handoff, and
    counts of 0"."""
    if not rules.endings or not complete(rules, state):
        return
    progression = rules.progression
    starts = set(cuts(rules.rhythm, progression, state.clock, state.left))
    for ending in rules.endings:
        if ending.start not in starts:
            continue
        index = progression.index_at(ending.start)
        if index != state.chord and (rules.counts[index][0] or rules.fills[index][0]):
            continue
        pitches = ending.pitches(state.pitch, progression)
        led_in = 1 <= abs(pitches[0] - state.pitch) <= rules.lead_in
        if led_in and rules.pitches.issuperset(pitches):
            yield ending_note(state, tuple(zip(ending.notes, pitches, strict=True)))


def ending_note(state: State, tail: tuple[tuple[Note, int], ...]) -> Move:
    """The next note of a stock ending."""
    (note, pitch), *rest = tail
    after = State(note.onset + note.length, (), tail=tuple(rest), over=not rest)
    after = after._replace(notes=state.notes, rests=state.rests)
    return (note.onset, note.length, pitch), "ending", after


def tallied(rules: Rules, before: State | None, found: Iterator[Move]) -> Iterator[Move]:
    """The moves that the limits on the number of notes and of rests leave, with both numbers kept up.

    This only keeps big spaces countable: the limits are asked of the finished line as well.
    """
    notes, rests = bounds_of(rules, "notes"), bounds_of(rules, "rests")
    if notes == rests == WITHOUT:
        yield from found
        return
    for event, role, after in found:
        silence = before is not None and event[0] > before.clock
        number, silences = after.notes + 1, after.rests + silence
        enough = number >= notes[0] and silences >= rests[0]
        if number <= notes[1] and silences <= rests[1] and (enough or not after.over):
            yield (
                event,
                role,
                after._replace(
                    notes=0 if notes == WITHOUT else number, rests=0 if rests == WITHOUT else silences
                ),
            )


WITHOUT = (0, 10_000)  # where nothing is asked


@lru_cache(maxsize=4096)
def bounds_of(rules: Rules, kind: str) -> tuple[int, int]:
    asked = [limit for limit in rules.limits if limit["kind"] == kind]
    least = max((limit.get("least", 0) for limit in asked), default=0)
    return least, min((limit.get("most", WITHOUT[1]) for limit in asked), default=WITHOUT[1])
