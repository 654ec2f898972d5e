"""What a teacher can add to the rules of a line: one table, from which everything else is derived.

``LIMITS`` gives, for every kind, its keys, one line of help, an example with a line that meets it and one
that breaks it, and ``bind``, which makes the limit for given changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from everyline.corpora.errors import did_you_mean
from everyline.rules.acceptor import Limit
from everyline.rules.limits.base import ChordSet, Context, DegreeSet, Example, LimitKind
from everyline.rules.limits.table import ROWS
from everyline.rules.limits.target import MustTarget
from everyline.rules.schema import listed, shown

LIMITS: Mapping[str, LimitKind] = MappingProxyType({row.kind: row for row in ROWS})

__all__ = [
    "LIMITS",
    "ChordSet",
    "Context",
    "DegreeSet",
    "Example",
    "Limit",
    "LimitKind",
    "MustTarget",
    "bind_limit",
]


def bind_limit(table: Mapping[str, Any], context: Context) -> Limit | MustTarget:
    """The limit that a ``[[limit]]`` table states, for the changes of the context.

    Raises InputError for a kind that does not exist (with the nearest one) and for anything wrong with its
    keys.
    """
    if "kind" not in table:
        raise context.where.complaint(f"the key kind is missing; it takes one of {listed(LIMITS)}")
    kind = table["kind"]
    if not isinstance(kind, str) or kind not in LIMITS:
        raise context.where.complaint(
            f"kind = {shown(kind)} is no kind of limit; it must be one of {listed(LIMITS)}."
            f"{did_you_mean(str(kind), LIMITS)}"
        )
    where = context.where.within(f"{context.where.table} ({kind})".strip())
    return LIMITS[kind].bind(table, replace(context, where=where))
