"""The command ``limits``: what a teacher can add to the rules, each with its keys and an example."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from typing import IO, Any

from everyline.corpora import Corpus, load
from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.analysis import analyses
from everyline.rules.limits import LIMITS, Context, LimitKind, MustTarget, bind_limit
from everyline.rules.line_text import parse_line
from everyline.rules.progression import parse_progression
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.schema import FileKey, shown


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``limits``."""
    parser.add_argument("kind", metavar="KIND", nargs="?", help="one kind, with its keys and an example")
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how it is written")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Show all kinds in a line each, or one of them in full; answers the exit code."""
    kind = arguments.kind
    if kind is not None and kind not in LIMITS:
        raise InputError(
            f'there is no limit "{kind}"; there are {", ".join(LIMITS)}.{did_you_mean(kind, LIMITS)}'
        )
    chosen = LIMITS.values() if kind is None else (LIMITS[kind],)
    if arguments.format == "jsonl":
        corpus = load()
        for row in chosen:
            sys.stdout.write(json.dumps(as_row(row, corpus), ensure_ascii=False) + "\n")
    elif kind is None:
        width = max(map(len, LIMITS))
        for row in chosen:
            sys.stdout.write(f"{row.kind:<{width}}  {row.summary}\n")
        sys.stdout.write("\neveryline limits KIND shows one with its keys and an example.\n")
    else:
        write_kind(LIMITS[kind], load(), sys.stdout)
    return 0


def as_row(row: LimitKind, corpus: Corpus) -> dict[str, Any]:
    """A kind of limit as data."""
    example = row.example
    asks, why_not = explained(row, corpus)
    return {
        "kind": row.kind,
        "title": row.title,
        "summary": row.summary,
        "keys": [
            {
                "name": key.name,
                "takes": key.allowed,
                "required": key.required,
                "help": key.help,
                "default": _default(key),
            }
            for key in row.keys
        ],
        "one_of": list(row.one_of),
        "example": dict(example.rule),
        "asks": asks,
        "changes": example.changes,
        "meets": example.meets,
        "breaks": example.breaks,
        "why": list(why_not),
    }


def write_kind(row: LimitKind, corpus: Corpus, out: IO[str]) -> None:
    """A kind of limit with its keys, an example as a rule file has it, and lines that meet and break it."""
    out.write(f"{row.kind}: {row.title}\n{row.summary}\n")
    out.writelines(_keys(row))
    example = row.example
    asks, why_not = explained(row, corpus)
    out.write("\n[[limit]]\n")
    out.writelines(f"{name} = {shown(value)}\n" for name, value in example.rule.items())
    out.write(f"\nIt asks that {asks}.\nOver {example.changes}:\n\n")
    out.write(f"  meets it   {example.meets}\n  breaks it  {example.breaks}\n")
    out.writelines(f"             {message}\n" for message in why_not)


def _keys(row: LimitKind) -> Iterator[str]:
    if not row.keys:
        yield "\nIt has no keys.\n"
        return
    yield "\n"
    width = max(len(key.name) for key in row.keys)
    for key in row.keys:
        need = "required" if key.required else f"default: {_default(key) or 'none'}"
        yield f"  {key.name:<{width}}  {key.help} ({key.allowed}; {need})\n"
    if row.one_of:
        yield f"  At least one of {' and '.join(row.one_of)} is needed.\n"


def _default(key: FileKey) -> str:
    return key.default_text or ("" if key.default is None else shown(key.default))


def explained(row: LimitKind, corpus: Corpus) -> tuple[str, tuple[str, ...]]:
    """What the example's rule asks, in words, and why its second line breaks it."""
    example = row.example
    progression = parse_progression(example.changes)
    limit = bind_limit(example.rule, Context(progression, corpus))
    if isinstance(limit, MustTarget):
        return limit.describe(), (_targets(example.breaks, example.changes, limit, corpus),)
    rules = replace(_plain(example.changes, corpus), limits=(limit,))
    notes = rules.notes(parse_line(example.breaks, rules)[0])
    return limit.describe(), tuple(breach.message for breach in limit.explain(notes))


def _plain(changes: str, corpus: Corpus) -> Rules:
    return parse_rules({"changes": changes, "ending": {"use": ["plain"]}}, corpus)


def _targets(line: str, changes: str, limit: MustTarget, corpus: Corpus) -> str:
    """Where the figures of a line land, for the limit that asks about the analysis."""
    rules = _plain(changes, corpus)
    events = parse_line(line, rules)[0]
    notes = rules.notes(events)
    places = {
        f"the {rules.progression.chords[note.chord].degree_of(note.pitch)} over "
        f"{rules.progression.chords[note.chord].symbol} ({rules.progression.place(note.slot)})"
        for analysis in analyses(rules, events)
        for figure in analysis.figures
        for note in (notes[figure.target],)
    }
    landed = f"its figures land on {' and '.join(sorted(places))}" if places else "it has no figure"
    return f"{landed[0].upper()}{landed[1:]}; none lands on {limit.wanted}."
