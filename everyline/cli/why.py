"""The command ``why``: what excludes every line and what would bring lines back, or what each rule costs."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from typing import IO, Any

from everyline.cli.main import NO
from everyline.cli.source import add_rules, bounded, corpus_of, rules_of
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.solver.condition import Condition
from everyline.solver.conflicts import MOST_SETS, Answer, Remedy, why


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``why``."""
    add_rules(parser)
    parser.add_argument(
        "--most",
        type=int,
        default=MOST_SETS,
        metavar="K",
        help="at most so many sets of rules are looked for",
    )
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how it is written")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Explain; answers the exit code, 1 where there is no line."""
    if arguments.most < 1:
        raise InputError(f"--most {arguments.most}: it must be 1 or more.")
    with bounded(arguments):
        answer = why(rules_of(arguments), corpus_of(arguments), arguments.most)
        if arguments.format == "jsonl":
            for row in rows(answer):
                sys.stdout.write(json.dumps(row, ensure_ascii=False) + "\n")
        else:
            write_text(answer, sys.stdout)
    return 0 if answer.count else NO


def rows(answer: Answer) -> Iterator[dict[str, Any]]:
    """The answer as rows of data, each with its kind under ``row``."""
    yield {"row": "lines", "count": answer.count, "complete": answer.complete}
    for exclusion in answer.exclusions:
        yield {"row": "exclusion", "rules": [_rule(each) for each in exclusion]}
    for remedy in answer.remedies:
        yield {
            "row": "remedy",
            "change": remedy.words,
            "written": dict(remedy.written),
            "dropped": remedy.dropped,
            "rules": [_rule(each) for each in remedy.conditions],
            "count": remedy.count,
        }
    for cost in answer.costs:
        written = dict(cost.condition.written)
        yield {"row": "cost", **_rule(cost.condition), "written": written, "without": cost.without}


def _rule(condition: Condition) -> dict[str, Any]:
    return {"key": condition.key, "asks": condition.words, "default": condition.default}


def write_text(answer: Answer, out: IO[str]) -> None:
    """The answer in words."""
    if answer.count:
        _write_costs(answer, out)
    elif not answer.exclusions:
        out.write("There is no line, whatever the rules: these changes leave no room for one.\n")
    else:
        _write_exclusions(answer, out)
        write_remedies(answer.remedies, out)


def _write_exclusions(answer: Answer, out: IO[str]) -> None:
    out.write(
        "There is no line.\n\nThese rules exclude each other; drop any one rule from a set and the rest"
    )
    out.write(" can be satisfied together:\n")
    for number, exclusion in enumerate(answer.exclusions, 1):
        out.write(f"\n{number}.\n")
        width = max(len(each.key) for each in exclusion)
        for each in exclusion:
            out.write(f"   {each.key:<{width}}  {each.words}\n")
    if not answer.complete:
        out.write("\nThe search stopped here: there may be further sets, and smaller ones to leave out ")
        out.write("together.\n")


def write_remedies(
    remedies: Sequence[Remedy],
    out: IO[str],
    together: str = "No single change is enough. Together",
    one: str = "line",
    many: str = "lines",
) -> None:
    """Changes that bring back lines, or what else is counted, in words; nothing where there are none.

    ``together`` goes before changes that do so only in sets.
    """
    if not remedies:
        return
    alone = all(len(each.conditions) == 1 for each in remedies)
    head = f"One change that brings {many} back" if alone else together
    out.write(f"\n{head}:\n\n")
    digits = max(len(_number(each.count)) for each in remedies)
    for remedy in remedies:
        words = "" if remedy.count is None else one if remedy.count == 1 else many
        said = f"{remedy.words}{_said(remedy.conditions)}"
        out.write(f"  {_number(remedy.count):>{digits}} {words:<{len(many)}}  {said}\n")


def _number(count: int | None) -> str:
    """A count; a whole-line rule may not have been allowed to look at so many lines."""
    return "not counted" if count is None else str(count)


def _said(conditions: tuple[Condition, ...]) -> str:
    """Where a rule that nobody wrote comes from."""
    return "  (by default)" if all(each.default for each in conditions) else ""


def _write_costs(answer: Answer, out: IO[str]) -> None:
    out.write(f"{plural(answer.count, 'line')}\n\nLines if this rule alone were dropped:\n\n")
    digits = max((len(_number(cost.without)) for cost in answer.costs), default=0)
    width = max((len(cost.condition.key) for cost in answer.costs), default=0)
    for cost in answer.costs:
        each = cost.condition
        out.write(f"  {_number(cost.without):>{digits}}  {each.key:<{width}}  {each.words}{_said((each,))}\n")
