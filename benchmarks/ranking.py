"""The work on a whole space: the smoothest lines, a uniform sample, a pair cover, facets, explanations."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import islice
from typing import Any

from benchmarks.measure import Spread, in_turns, once, ratio
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import COVERED, EIGHT_RULES, II_V_I, Tables, form, rules
from everyline.corpora import load
from everyline.corpora.counted import plural
from everyline.rules.ruleset import Rules
from everyline.solver.classes import classify
from everyline.solver.compiler import compile_rules
from everyline.solver.conflicts import why
from everyline.solver.cover import Cover, pair_cover
from everyline.solver.diagram import Diagram
from everyline.solver.facets import facets
from everyline.solver.sample import sample_numbers
from everyline.solver.smooth import smoothest
from everyline.solver.varied import OPTIMAL

TRILLION, NONILLION = 10**12, 10**30
COVER_TRAITS = ("start-degree", "direction", "figure", "ending")
WORDS = """
Questions about whole spaces, none of which lists the space, beside compiling the space they are about,
measured in turns. The uniform lines are notes alone, without analysis. The cover is the fewest lines in
which every two values of these traits that can occur together do: start degree, direction, figure, ending;
it and the explanation are worked out once.
""".strip()


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of a space, how often, and what is to be said about the answer."""

    name: str
    tables: Tables
    ask: Callable[[Rules, Diagram], Any]
    turns: int
    say: Callable[[Any], str] = lambda answer: ""


def section(quick: bool) -> Section:
    """Measure. ``quick`` takes fewer turns and lines, and leaves out the cover."""
    turns, lines = (1, 1000) if quick else (3, 10_000)
    questions = [
        Question("100 smoothest lines", form(6), _smoothest, turns),
        Question(f"{lines} uniform lines, notes alone", form(14), _uniform(lines), turns),
        Question("all facets", II_V_I, lambda wanted, diagram: facets(wanted, diagram), turns),
    ]
    if not quick:
        questions.append(Question("pair cover", COVERED, _cover, 1, covered))
    questions.append(
        Question("why there is no line, eight limits", EIGHT_RULES, lambda wanted, _: _why(wanted), 1, _said)
    )
    head = ("", "lines", "processor time", "compiling", "ratio", "answer")
    return Section("Whole spaces", WORDS, (Table(head, tuple(_row(each) for each in questions)),))


def _row(question: Question) -> tuple[Cell, ...]:
    wanted = rules(question.tables)
    diagram = compile_rules(wanted)
    answers: list[Any] = []

    def ask() -> None:
        answers[:] = [question.ask(wanted, diagram)]

    def compiling() -> int:
        return compile_rules(wanted).count

    if question.turns > 1:
        asked, compiled = in_turns([ask, compiling], question.turns)
    else:
        asked, compiled = [once(ask)], [once(compiling)]
    times = ratio(asked, compiled)
    count = diagram.count
    return (
        question.name,
        count if count < TRILLION else f"{count:.3e}",
        Spread.of(asked).seconds(),
        Spread.of(compiled).seconds(),
        times.times(),
        question.say(answers[0]),
    )


def _smoothest(wanted: Rules, diagram: Diagram) -> list[Any]:
    return list(islice(smoothest(diagram, wanted.weights), 100))


def _uniform(lines: int) -> Callable[[Rules, Diagram], Any]:
    def ask(wanted: Rules, diagram: Diagram) -> int:
        return sum(len(diagram.line(number)) for number in sample_numbers(diagram.count, lines, 1))

    return ask


def _cover(wanted: Rules, diagram: Diagram) -> Cover:
    return pair_cover([classify(wanted, diagram, COVER_TRAITS)], COVER_TRAITS)


def covered(cover: Cover) -> str:
    """The size of a cover with its proof or its gap."""
    if cover.status == OPTIMAL:
        proof = "proved the fewest"
    else:
        proof = f"at least {cover.bound} are needed, so a gap of {cover.gap}"
    return f"{len(cover.lines)} lines have all {cover.pairs} pairs; {proof}"


def _why(wanted: Rules) -> Any:
    return why(wanted, load())


def _said(answer: Any) -> str:
    sets = plural(len(answer.exclusions), "smallest exclusion")
    return (
        f"{plural(len(answer.conditions), 'rule')} with the defaults; {sets}"
        f"{'' if answer.complete else ', perhaps more'}; "
        f"{plural(len(answer.remedies), 'change')} that would bring lines back"
    )
