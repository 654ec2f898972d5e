"""A chorus plan solved: the diagram of every whole line, and which notes of one belong to which phrase."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto

from everyline.corpora.counted import plural
from everyline.rules.chorus_plan import ChorusPlan, Phrase
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.intersect import compact, intersect, lightest_first
from everyline.solver.joined import Joined, Piece, join


class Cause(Enum):
    """What leaves no chorus: a phrase without a line of its own, a join with no room for its rest or with
    none within reach, a limit over the whole."""

    PHRASE = auto()
    REST = auto()
    REACH = auto()
    LIMIT = auto()


@dataclass(frozen=True, slots=True)
class Fault:
    """Why there is no chorus: the first cause that is met, as a sentence without its full stop.

    ``place`` is the index of the phrase, or of the second of the two that do not join; a limit over the whole
    has none. ``left`` says how much is to be asked yet: phrases, then joins from the last one back, then
    limits. A change that makes it smaller has mended this fault, whatever comes next.
    """

    cause: Cause
    words: str
    left: int
    place: int = 0


@dataclass(frozen=True)
class Solved:
    """A plan's lines, those of each phrase by itself, and, where there is no line, why there is none."""

    plan: ChorusPlan
    diagram: Diagram
    pieces: tuple[Piece, ...]
    fault: Fault | None = None


Known = dict[tuple[str, frozenset[int]], Diagram]
"""Diagrams of phrases that are compiled already."""


def solve(plan: ChorusPlan, known: Known | None = None) -> Solved:
    """Compile every phrase, join them, and ask the limits over the whole chorus.

    Phrases are looked up in ``known``, and put there, by whoever solves many plans that are much the same.
    """
    known = {} if known is None else known
    pieces = tuple(Piece(_compiled(each.rules, known), each.shift, each.join) for each in plan.phrases)
    joined = join(pieces)
    fault = _fault(plan, pieces, joined)
    diagram = joined.diagram
    limits = () if fault else lightest_first(plan.form.limits)
    for asked, limit in enumerate(limits):
        before = diagram.count
        diagram = intersect(diagram, limit, plan.form)
        if not diagram.count:
            choruses = plural(before, "chorus", "choruses")
            words = f"none of {choruses} meets the limit over the whole plan that {limit.describe()}"
            fault = Fault(Cause.LIMIT, words, len(limits) - asked)
            break
    return Solved(plan, compact(diagram) if plan.form.limits else diagram, pieces, fault)


def known_of(solved: Solved) -> Known:
    """The diagrams of a plan's phrases, for plans in which most of these are found again."""
    both = zip(solved.plan.phrases, solved.pieces, strict=True)
    return {_key(phrase.rules): piece.diagram for phrase, piece in both}


def _key(rules: Rules) -> tuple[str, frozenset[int]]:
    return rules.source, rules.pitches


def _compiled(rules: Rules, known: Known) -> Diagram:
    """The diagram of one phrase; phrases that are the same under the same rules share one."""
    key = _key(rules)
    if key not in known:
        known[key] = compile_rules(rules)
    return known[key]


# -- why there is no line ------------------------------------------------------------------------------------


def _fault(plan: ChorusPlan, pieces: Sequence[Piece], joined: Joined) -> Fault | None:
    limits, joins = len(plan.form.limits), 2 * len(pieces)
    for place, (phrase, piece) in enumerate(zip(plan.phrases, pieces, strict=True)):
        if not piece.diagram.count:
            words = f'phrase "{phrase.name}" ({phrase.bars_text}) has no line: its own rules leave none'
            return Fault(Cause.PHRASE, words, limits + joins + len(pieces) - place, place)
    if joined.broken is None:
        return None
    place = joined.broken + 1
    before, after = plan.phrases[place - 1 : place + 1]
    names = f'from "{before.name}" ({before.bars_text}) to "{after.name}" ({after.bars_text})'
    cause, words = _apart(pieces[joined.broken].stops(), joined, after)
    left = limits + 2 * place + (cause is Cause.REST)
    return Fault(cause, f"no line leads {names}: {words}", left, place)


def _apart(stops: set[tuple[int, int]], joined: Joined, after: Phrase) -> tuple[Cause, str]:
    """Why nothing leads from these stops to these entries."""
    rule = after.join
    assert rule is not None
    rests = sorted({onset - end for end, _ in stops for onset, _ in joined.entries})
    able = [rest for rest in rests if rule.allows(rest)]
    if not able:
        longer = [rest for rest in rests if rest > rule.least_rest]
        if longer:
            return Cause.REST, (
                f"the rest between them is {_beats(longer[0])} at least, and most_rest is "
                f"{_beats(rule.most_rest or 0)}"
            )
        return Cause.REST, (
            f"there is no room for {_beats(rule.least_rest)} of rest, only for {_beats(rests[-1])}"
        )
    needed = min(
        abs(first - pitch) for end, pitch in stops for onset, first in joined.entries if onset - end in able
    )
    return Cause.REACH, (
        f"where the first stops and the second starts they are {plural(needed, 'semitone')} apart at least, "
        f"and reach is {rule.reach}"
    )


def _beats(ticks: int) -> str:
    if ticks < 0:
        return "no beat"
    return plural(ticks / TICKS_PER_BEAT, "beat")


# -- which notes belong to which phrase ----------------------------------------------------------------------


def cuts(pieces: Sequence[Piece], events: Events) -> tuple[int, ...] | None:
    """For each piece the index in ``events`` behind its last note; None where the line is none of theirs.

    Where the line can be cut in several ways, each phrase begins as early as it can, the last one first.
    """
    ways: list[dict[int, int]] = [{} for _ in pieces]
    """For each piece: where it may end, and where it then began."""
    starts = {0}
    for index, piece in enumerate(pieces):
        for start in sorted(starts):
            if index and not _leads(pieces[index], events, start):
                continue
            for stop in _stops(piece, events, start):
                ways[index].setdefault(stop, start)
        starts = {stop for stop in ways[index] if stop < len(events)}
    return _earliest(ways, len(events))


def _earliest(ways: Sequence[Mapping[int, int]], end: int) -> tuple[int, ...] | None:
    if end not in ways[-1]:
        return None
    found = [end]
    for way in reversed(ways[1:]):
        found.append(way[found[-1]])
    return tuple(reversed(found))


def _leads(piece: Piece, events: Events, start: int) -> bool:
    last, first = events[start - 1], events[start]
    return piece.join is None or piece.join.leads(last.end, last.pitch, first.onset, first.pitch)


def _stops(piece: Piece, events: Events, start: int) -> list[int]:
    """Every index behind which the piece's line that begins at ``start`` may be over."""
    moved = [event._replace(onset=event.onset - piece.shift) for event in events[start:]]
    diagram, node, found = piece.diagram, piece.diagram.root, []
    for place, event in enumerate(moved):
        edges = zip(diagram.labels[node], diagram.children[node], strict=True)
        node = next((child for label, child in edges if diagram.events[label] == event), -1)
        if node < 0:
            break
        if diagram.accepts[node]:
            found.append(start + place + 1)
    return found
