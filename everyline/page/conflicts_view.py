"""Why there is no line, and changes to the rule file that bring lines back, each ready to be made."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError
from everyline.page.choices import changed
from everyline.rules.ruleset import Rules
from everyline.solver.conditions import ANY_REACH, Condition, wide_range
from everyline.solver.conflicts import Remedy, why

if TYPE_CHECKING:
    from everyline.page.operations import Desk

Tables = dict[str, Any]
Change = dict[str, Any]
_MOVE = re.compile(r"(\S+) -> (\S+)$")
_LIMIT = re.compile(r"limit (\d+), ")
_COUNT = re.compile(r"approach\.count, entry (\d+)")
_RANGE = re.compile(r"to ([A-G][#b]*-?\d+)$")
_STEPS = re.compile(r"(\d+) semitones? (lower|higher)")


def conflicts(desk: Desk, tables: Tables, seconds: float) -> dict[str, Any]:
    """Smallest sets of rules that exclude each other, and remedies: words, the change, the count it gives."""
    space = desk.space(tables)
    with desk.counting():
        answer = why(space.rules, desk.corpus)
    remedies = [made for each in answer.remedies if (made := _remedy(desk, tables, space.rules, each))]
    return {
        "count": str(answer.count),
        "exclusions": [
            [{"key": each.key, "words": each.words, "default": each.default} for each in found]
            for found in answer.exclusions
        ],
        "complete": answer.complete,
        "remedies": remedies,
        "costs": [
            {"key": cost.condition.key, "words": cost.condition.words, "without": str(cost.without)}
            for cost in answer.costs
        ],
    }


def _remedy(desk: Desk, tables: Tables, rules: Rules, remedy: Remedy) -> dict[str, Any] | None:
    """A remedy as a change of the tables, with the count that this very change gives; None where the rule
    file cannot say it."""
    change: Change = {}
    for condition in remedy.conditions:
        step = (
            _dropped(desk, tables, rules, condition)
            if remedy.dropped
            else _moved(tables, rules, condition, remedy)
        )
        if step is None:
            return None
        if "limit" in change and "limit" in step:
            step = {"limit": [each for each in change["limit"] if each in step["limit"]]}
        change |= step
    try:
        count = desk.space(changed(tables, change)).count
    except EverylineError:
        return None
    return {"words": _said(remedy), "change": change, "count": str(count)} if count else None


def _said(remedy: Remedy) -> str:
    """A remedy with the part of the rules that it changes; the words of a limit name it themselves."""
    part, dot, _ = remedy.conditions[0].key.partition(".")
    return f"{part}: {remedy.words}" if dot and not remedy.dropped else remedy.words


def _dropped(desk: Desk, tables: Tables, rules: Rules, condition: Condition) -> Change | None:
    key = condition.key
    if match := _LIMIT.match(key):
        place = _place(tables, int(match[1]))
        return {"limit": [each for at, each in enumerate(tables["limit"]) if at != place]}
    if match := _COUNT.fullmatch(key):
        return {"approach.count": _with_count(tables, int(match[1]) - 1, "0-99")}
    progression = rules.progression
    if key == "entry.beats":
        first = range(min(progression.starts[1], progression.slots_per_bar))
        return {"entry.beats": [progression.beat_name(slot) for slot in first]}
    if key == "range":
        lowest, highest = wide_range(rules)
        return {"range": {"lowest": _pitch(lowest), "highest": _pitch(highest)}}
    longest = progression.slots
    values: dict[str, Any] = {
        "entry.start": None,
        "entry.degrees": None,
        "arpeggio.direction": None,
        "arpeggio.turns": min(99, longest),
        "approach.figures": [*desk.corpus.figures, *desk.corpus.families],
        "approach.targets": None,
        "approach.reach": ANY_REACH,
        "approach.after": 1,
        "handoff.rule": "any",
        "ending.use": None,
        "ending.lead_in": ANY_REACH,
    }
    return {key: values[key]} if key in values else None


def _moved(tables: Tables, rules: Rules, condition: Condition, remedy: Remedy) -> Change | None:
    key, words = condition.key, remedy.words
    match = _MOVE.search(words)
    if limit := _LIMIT.match(key):
        return _moved_limit(tables, _place(tables, int(limit[1])), words)
    if count := _COUNT.fullmatch(key):
        return {"approach.count": _with_count(tables, int(count[1]) - 1, match[2])} if match else None
    if key == "range":
        return _moved_range(rules, words)
    if key == "entry.beats":
        slot_words = words.removeprefix("also start on beat ")
        beats = tables.get("entry", {}).get("beats", ["1"])
        return {"entry.beats": [*beats, slot_words]} if slot_words != words else None
    if key == "ending.use":
        return {"ending.use": ["plain", *tables.get("ending", {}).get("use", [])]}
    if match is None:
        return None
    return {key: match[2] if key == "handoff.rule" else int(match[2])}


def _place(tables: Tables, number: int) -> int:
    """Where in the file a limit stands: the conditions name must-target after all other kinds."""
    limits = list(enumerate(tables.get("limit", [])))
    order = [at for at, each in limits if each.get("kind") != "must-target"]
    order += [at for at, each in limits if each.get("kind") == "must-target"]
    return order[number - 1]


def _moved_limit(tables: Tables, place: int, words: str) -> Change | None:
    limits = [dict(each) for each in tables["limit"]]
    if words == "playable in any position":
        limits[place].pop("fret", None)
    else:
        found = re.fullmatch(r"\S+ (\S+) -?\d+ -> (-?\d+)", words)
        if found is None:
            return None
        limits[place][found[1]] = int(found[2])
        if found[1] == "least" and int(found[2]) <= 0:
            limits[place].pop("least")
            limits[place].setdefault("most", 99)
    return {"limit": limits}


def _with_count(tables: Tables, entry: int, text: str) -> list[Any]:
    counts = list(tables.get("approach", {}).get("count", ["0-1"]))
    counts[entry] = text
    return counts


def _moved_range(rules: Rules, words: str) -> Change | None:
    steps = _STEPS.search(words)
    if steps is None:
        return None
    low, high = min(rules.pitches), max(rules.pitches)
    if steps[2] == "lower":
        low -= int(steps[1])
    else:
        high += int(steps[1])
    return {"range": {"lowest": _pitch(low), "highest": _pitch(high)}}


def _pitch(midi: int) -> str:
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    return f"{names[midi % 12]}{midi // 12 - 1}"
