"""A chorus plan solved: the diagram of every whole line, and which notes of one belong to which phrase."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from everyline.corpora.counted import plural
from everyline.rules.chorus_plan import ChorusPlan, Phrase
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.intersect import compact, intersect, lightest_first
from everyline.solver.joined import Joined, Piece, join


@dataclass(frozen=True)
class Solved:
    """A plan's lines, those of each phrase by itself, and, where there is no line, why there is none."""

    plan: ChorusPlan
    diagram: Diagram
    pieces: tuple[Piece, ...]
    why_none: str | None = None


def solve(plan: ChorusPlan) -> Solved:
    """Compile every phrase, join them, and ask the limits over the whole chorus."""
    known: dict[tuple[str, frozenset[int]], Diagram] = {}
    pieces = tuple(Piece(_compiled(each.rules, known), each.shift, each.join) for each in plan.phrases)
    joined = join(pieces)
    why = _no_line(plan, pieces, joined)
    diagram = joined.diagram
    for limit in () if why else lightest_first(plan.form.limits):
        before = diagram.count
        diagram = intersect(diagram, limit, plan.form)
        if not diagram.count:
            choruses = plural(before, "chorus", "choruses")
            why = f"none of {choruses} meets the limit over the whole plan that {limit.describe()}"
            break
    return Solved(plan, compact(diagram) if plan.form.limits else diagram, pieces, why)


def _compiled(rules: Rules, known: dict[tuple[str, frozenset[int]], Diagram]) -> Diagram:
    """The diagram of one phrase; phrases that are the same under the same rules share one."""
    key = (rules.source, rules.pitches)
    if key not in known:
        known[key] = compile_rules(rules)
    return known[key]


# -- why there is no line ------------------------------------------------------------------------------------


def _no_line(plan: ChorusPlan, pieces: Sequence[Piece], joined: Joined) -> str | None:
    for phrase, piece in zip(plan.phrases, pieces, strict=True):
        if not piece.diagram.count:
            return f'phrase "{phrase.name}" ({phrase.bars_text}) has no line: its own rules leave none'
    if joined.broken is None:
        return None
    before, after = plan.phrases[joined.broken], plan.phrases[joined.broken + 1]
    names = f'from "{before.name}" ({before.bars_text}) to "{after.name}" ({after.bars_text})'
    return f"no line leads {names}: {_apart(pieces[joined.broken].stops(), joined, after)}"


def _apart(stops: set[tuple[int, int]], joined: Joined, after: Phrase) -> str:
    """Why nothing leads from these stops to these entries, and what would do."""
    rule = after.join
    assert rule is not None
    rests = sorted({onset - end for end, _ in stops for onset, _ in joined.entries})
    able = [rest for rest in rests if rule.allows(rest)]
    if not able:
        longer = [rest for rest in rests if rest > rule.least_rest]
        if longer:
            return (
                f"the rest between them is {_beats(longer[0])} at least, and most_rest is "
                f"{_beats(rule.most_rest or 0)}; raise it, or enter earlier"
            )
        return (
            f"there is no room for {_beats(rule.least_rest)} of rest, only for {_beats(rests[-1])}; "
            f"lower least_rest, or move the entry or the ending"
        )
    needed = min(
        abs(first - pitch) for end, pitch in stops for onset, first in joined.entries if onset - end in able
    )
    return (
        f"where the first stops and the second starts they are {plural(needed, 'semitone')} apart at least, "
        f"and reach is {rule.reach}; reach = {needed} would do"
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
