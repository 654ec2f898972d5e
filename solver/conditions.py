"""The rules of a rule set, one by one: what each asks, how it is dropped, by what small steps it gives way.

A *condition* is one thing that a teacher could leave out: a limit, or a key that admits less than it might.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from everyline.corpora import Corpus
from everyline.corpora.counted import plural
from everyline.rules.analysis import PLAIN
from everyline.rules.endings import PlacedEnding
from everyline.rules.keys import MOST_COUNT
from everyline.rules.ladder import FREE, HANDOFF_RULES
from everyline.rules.limits.base import times
from everyline.rules.ruleset import Approach, Arpeggio, Rules
from everyline.rules.schema import listed
from everyline.rules.vocabulary import fitting_endings
from everyline.solver.condition import MOST_STEPS, UNBOUNDED, Condition, Loosening, OtherValue, longest_chord
from everyline.solver.count_conditions import count_conditions, passing_conditions
from everyline.solver.limit_conditions import limit_conditions
from everyline.solver.place_conditions import entry_conditions, or_listed, range_conditions

ANY_REACH = 127
LOOSEST_HANDOFF = "any"
"""What a rule file can say in place of a handoff rule; it still asks for another note, within reach."""
_SHOWN = 4


def conditions(rules: Rules, corpus: Corpus) -> tuple[Condition, ...]:
    """Every condition of the rules, in the order of the rule file; those that admit everything are left out.

    ``corpus`` has the figures and endings that come in where none are named.
    """
    return (
        *entry_conditions(rules),
        *range_conditions(rules),
        *_runs(rules),
        *_approach(rules, corpus),
        *passing_conditions(rules),
        *_handoff(rules),
        *_endings(rules, corpus),
        *limit_conditions(rules),
    )


# -- runs ----------------------------------------------------------------------------------------------------


def _runs(rules: Rules) -> Iterator[Condition]:
    arpeggio = rules.arpeggio
    longest = longest_chord(rules)

    if arpeggio.direction != "either":
        yield Condition(
            "arpeggio.direction",
            f"runs go {arpeggio.direction}",
            lambda changed: replace(changed, arpeggio=replace(changed.arpeggio, direction="either")),
            {"arpeggio.direction": None},
        )
    for name, what in (("turns", "changes direction"), ("skips", "passes over a rung")):
        most = getattr(arpeggio, name)
        if most < longest:
            yield Condition(
                f"arpeggio.{name}",
                f"a run {'never ' if not most else ''}{what}{'' if not most else f' {times(None, most)}'}",
                partial(_run, name=name, most=UNBOUNDED),
                {f"arpeggio.{name}": MOST_COUNT},
                default=most == getattr(Arpeggio(), name),
                moves=(_more_in_run(rules, name, longest),),
            )


def _run(rules: Rules, name: str, most: int) -> Rules:
    """The rules with another number of turns or skips."""
    run = replace(rules.arpeggio, turns=most) if name == "turns" else replace(rules.arpeggio, skips=most)
    return replace(rules, arpeggio=run)


def _more_in_run(rules: Rules, name: str, longest: int) -> Loosening:
    """One more change of direction, or skip, in a run."""
    most = getattr(rules.arpeggio, name)
    return Loosening(
        lambda n: f"{name} {most} -> {most + n}",
        lambda changed, n: _run(changed, name, most + n),
        min(longest, MOST_COUNT) - most,
        lambda n: {f"arpeggio.{name}": most + n},
    )


# -- approach figures ----------------------------------------------------------------------------------------


def _approached(rules: Rules, **values: Any) -> Rules:
    return replace(rules, approach=replace(rules.approach, **values))


def _figures(rules: Rules, corpus: Corpus) -> Iterator[Condition]:
    approach = rules.approach
    usual = tuple(figure for figure in corpus.figures.values() if figure.two_sided)
    every = {figure.steps: figure for figure in approach.figures}
    for figure in (
        *corpus.figures.values(),
        *(each for family in corpus.families.values() for each in family),
    ):
        every.setdefault(figure.steps, figure)
    if len(every) > len(approach.figures):
        names = [figure.name for figure in approach.figures]
        more = len(names) - _SHOWN
        shown = listed([*names[:_SHOWN], f"{more} more"] if more > 0 else names)
        yield Condition(
            "approach.figures",
            f"the approach figures are {shown}",
            partial(_approached, figures=tuple(every.values())),
            {"approach.figures": [*_own(rules, corpus), *corpus.figures, *corpus.families]},
            default=approach.figures == usual,
        )


def _approach(rules: Rules, corpus: Corpus) -> Iterator[Condition]:
    approach = rules.approach
    yield from _figures(rules, corpus)
    yield from count_conditions(rules, "approach", "figure")
    if approach.targets is not None:
        chords = rules.progression.chords
        degrees = {
            chord.degree_of(chord.root_class + tone)
            for chord in chords
            for tone in sorted(approach.targets & frozenset(chord.tones))
        }
        shown = or_listed(sorted(degrees)) if degrees else "a degree that no chord here has as a chord tone"
        yield Condition(
            "approach.targets",
            f"figures land on the {shown}",
            partial(_approached, targets=None),
            {"approach.targets": None},
        )
    if approach.reach < ANY_REACH:
        yield Condition(
            "approach.reach",
            f"a figure's first note is at most {plural(approach.reach, 'semitone')} from the note before",
            partial(_approached, reach=ANY_REACH),
            {"approach.reach": ANY_REACH},
            default=approach.reach == Approach().reach,
            moves=(
                Loosening(
                    lambda n: f"reach {approach.reach} -> {approach.reach + n}",
                    lambda changed, n: _approached(changed, reach=approach.reach + n),
                    min(MOST_STEPS, ANY_REACH - approach.reach),
                    lambda n: {"approach.reach": approach.reach + n},
                ),
            ),
        )
    if approach.after > 1:  # the last figure's target is one chord tone already
        yield Condition(
            "approach.after",
            f"at least {plural(approach.after, 'chord tone')} from one figure's target to the next figure",
            partial(_approached, after=1),
            {"approach.after": 1},
            moves=(
                Loosening(
                    lambda n: f"after {approach.after} -> {approach.after - n}",
                    lambda changed, n: _approached(changed, after=approach.after - n),
                    approach.after - 1,
                    lambda n: {"approach.after": approach.after - n},
                ),
            ),
        )


def _own(rules: Rules, corpus: Corpus) -> list[str]:
    """The file's own figures that are in use, by name."""
    stock = {figure.name for family in corpus.families.values() for figure in family} | set(corpus.figures)
    return [figure.name for figure in rules.approach.figures if figure.name not in stock]


# -- handoff, endings ----------------------------------------------------------------------------------------


def _handoff(rules: Rules) -> Iterator[Condition]:
    def handed(changed: Rules, rule: str) -> Rules:
        return replace(changed, handoff=rule)

    yield Condition(
        "handoff.rule",
        f"a new chord is entered on {HANDOFF_RULES[rules.handoff]}",
        partial(handed, rule=FREE),
        {"handoff.rule": LOOSEST_HANDOFF},
        default=rules.handoff == "nearest",
        choices=tuple(
            OtherValue(
                f"handoff {rules.handoff} -> {rule}", partial(handed, rule=rule), {"handoff.rule": rule}
            )
            for rule in HANDOFF_RULES
            if rule != rules.handoff
        ),
        loosest=partial(handed, rule=LOOSEST_HANDOFF),
    )


def _endings(rules: Rules, corpus: Corpus) -> Iterator[Condition]:
    usual = _fitting(rules, corpus)
    known = {ending.name for ending in rules.endings}
    every = (*rules.endings, *(ending for ending in usual if ending.name not in known))

    def ended(changed: Rules, endings: tuple[PlacedEnding, ...]) -> Rules:
        return replace(changed, endings=endings, plain=True)

    if not rules.plain or len(every) > len(rules.endings):
        names = [*(["plain"] if rules.plain else []), *(ending.name for ending in rules.endings)]
        more = len(names) - _SHOWN
        shown = or_listed([*names[:_SHOWN], f"{more} more"] if more > 0 else names)
        yield Condition(
            "ending.use",
            f"the line ends with {shown}",
            partial(ended, endings=every),
            {"ending.use": [PLAIN, *(ending.name for ending in every)]},
            choices=()
            if rules.plain
            else (
                OtherValue(
                    "also the plain ending",
                    partial(ended, endings=rules.endings),
                    {"ending.use": [PLAIN, *(ending.name for ending in rules.endings)]},
                ),
            ),
        )
    if rules.endings and rules.lead_in < ANY_REACH:
        yield Condition(
            "ending.lead_in",
            f"an ending's first note is at most {plural(rules.lead_in, 'semitone')} from the note before",
            lambda changed: replace(changed, lead_in=ANY_REACH),
            {"ending.lead_in": ANY_REACH},
            default=rules.lead_in == 4,
            moves=(
                Loosening(
                    lambda n: f"lead_in {rules.lead_in} -> {rules.lead_in + n}",
                    lambda changed, n: replace(changed, lead_in=rules.lead_in + n),
                    min(MOST_STEPS, ANY_REACH - rules.lead_in),
                    lambda n: {"ending.lead_in": rules.lead_in + n},
                ),
            ),
        )


def _fitting(rules: Rules, corpus: Corpus) -> list[PlacedEnding]:
    """The endings of the corpus that a file uses which names none."""
    found = fitting_endings(corpus, rules.progression, min(rules.entry.slots), rules.cells)
    return [placed for placed, _ in found]
