"""Why a line is not valid: every rule that it breaks, and where."""

from __future__ import annotations

from rules.acceptor import Breach
from rules.analysis import Parser
from rules.line import Events
from rules.ruleset import Rules


def breaches(rules: Rules, events: Events) -> tuple[Breach, ...]:
    """Every breach of a line under these rules, in the order of the line; empty when it is valid."""
    found = [breach for limit in rules.limits for breach in limit.explain(rules.notes(events))]
    parser = Parser(rules, events)
    if parser.best() is None:
        found += parser.stuck or [
            Breach("anatomy", "The notes cannot be explained as a line under these rules.")
        ]
    return tuple(sorted(found, key=lambda breach: -1 if breach.index is None else breach.index))
