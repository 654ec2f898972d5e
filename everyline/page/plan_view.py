"""A chorus plan as the page shows it: the form bar by bar, its phrases and counts, and what is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import InputError
from everyline.rules.chorus_keys import TOP
from everyline.rules.progression import Progression
from everyline.rules.rule_text import to_toml
from everyline.rules.rulefile import parse_rules
from everyline.spaces.choruses import Chorus

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]


def plan(workspace: Workspace, tables: Tables) -> dict[str, Any]:
    """What there is to show of a plan. While its phrases are wrong, or none is there yet, the form is shown
    all the same, with the reason. Raises InputError where the form itself cannot be read."""
    with workspace.counting():
        top = {name: value for name, value in tables.items() if name in TOP}
        form = parse_rules(top, workspace.corpus, name="this plan")
    progression = form.progression
    found: dict[str, Any] = {
        "bars": [_bar(progression, bar) for bar in range(progression.bars)],
        "beats": [progression.beat_name(slot) for slot in range(progression.slots_per_bar)],
        "count": None,
        "phrases": [],
        "trouble": "",
        "toml": to_toml(tables),
    }
    if not tables.get("phrase"):
        return found
    try:
        chorus = workspace.space(tables)
    except InputError as error:
        return {**found, "trouble": str(error)}
    assert isinstance(chorus, Chorus)
    trouble = f"{chorus.why_none}." if not chorus.count and chorus.why_none else ""
    return {**found, "count": str(chorus.count), "phrases": _phrases(chorus), "trouble": trouble}


def _bar(progression: Progression, bar: int) -> list[dict[str, str]]:
    """The chords that begin in a bar (from 0), each with its beat."""
    per_bar = progression.slots_per_bar
    return [
        {"chord": chord.symbol, "beat": progression.beat_name(start)}
        for chord, start in zip(progression.chords, progression.starts, strict=True)
        if start // per_bar == bar
    ]


def _phrases(chorus: Chorus) -> list[dict[str, Any]]:
    return [
        {
            "name": phrase.name,
            "bars": list(phrase.bars),
            "count": str(count),
            "changes": phrase.rules.progression.text,
        }
        for phrase, count in zip(chorus.plan.phrases, chorus.counts, strict=True)
    ]
