"""Browses the corpora: what there is to choose from, and everything known about one entry."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus, Ending, Figure, Instrument, ProgressionEntry, RuleFileEntry, load
from everyline.corpora.counted import form
from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.ending_facts import ending_level, rests_on
from everyline.rules.endings import thirds
from everyline.rules.line import TICKS_PER_BEAT

Facts = dict[str, Any]


def _figures(corpus: Corpus) -> Mapping[str, Facts]:
    found = {name: _figure(figure) for name, figure in corpus.figures.items()}
    for name, members in corpus.families.items():
        found[name] = {
            "steps": f"family of {len(members)}",
            "notes": len(members[0]),
            "members": [member.text for member in members],
        }
    return found


def _figure(figure: Figure) -> Facts:
    return {
        "steps": figure.text,
        "notes": len(figure),
        "both sides": figure.two_sided,
        "remark": figure.remark,
    }


def _ending(ending: Ending) -> Facts:
    return {
        "notes": ending.notes,
        "rhythm": ending.rhythm_text,
        "starts on": ending.start_degree,
        "beat": ending.start_beat,
        "resolves to": rests_on(ending),
        "suits": thirds(ending),
        "level": ending_level(ending),
        "colour": ending.colour or None,
        "beats": f"{ending.length / TICKS_PER_BEAT:g}",
        "over": list(ending.over),
        "remark": ending.remark,
    }


def _progression(entry: ProgressionEntry) -> Facts:
    return {
        "title": entry.title,
        "key": entry.key,
        "bars": entry.bars,
        "changes": entry.changes,
        "numerals": entry.numerals,
        "meter": entry.meter,
        "level": entry.level,
        "remark": entry.remark,
    }


def _written(semitones: int) -> str:
    return f"{semitones:+d} {form(abs(semitones), 'semitone')}" if semitones else "as it sounds"


def _instrument(entry: Instrument) -> Facts:
    return {
        "title": entry.title,
        "lowest": entry.lowest,
        "highest": entry.highest,
        "comfortable": " to ".join(entry.comfortable),
        "written": _written(entry.transposition),
        "clef": entry.clef,
        "strings": " ".join(entry.strings),
        "frets": entry.frets or "",
        "family": entry.family,
        "remark": entry.remark,
    }


def _rulefile(entry: RuleFileEntry) -> Facts:
    return {"level": entry.level, "title": entry.title, "remark": entry.remark}


KINDS: dict[str, tuple[Callable[[Corpus], Mapping[str, Facts]], tuple[str, ...]]] = {
    "figures": (_figures, ("steps", "notes")),
    "endings": (
        lambda corpus: {name: _ending(ending) for name, ending in corpus.endings.items()},
        ("level", "starts on", "beat", "resolves to", "suits", "notes", "rhythm"),
    ),
    "progressions": (
        lambda corpus: {name: _progression(entry) for name, entry in corpus.progressions.items()},
        ("key", "bars", "level", "changes"),
    ),
    "instruments": (
        lambda corpus: {name: _instrument(entry) for name, entry in corpus.instruments.items()},
        ("lowest", "highest", "written", "strings", "frets"),
    ),
    "rulefiles": (
        lambda corpus: {name: _rulefile(entry) for name, entry in corpus.rulefiles.items()},
        ("level", "title"),
    ),
}
"""For each kind of entry: its facts by name, and which of them the overview shows."""


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("kind", metavar="KIND", nargs="?", help=", ".join(KINDS))
    parser.add_argument("name", metavar="NAME", nargs="?", help="one entry, in full")
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how entries are written")
    parser.add_argument("--corpora", metavar="FOLDER", type=Path, help="a folder of your own to add")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Show the kinds there are, all entries of one kind, or one entry."""
    corpus = load(arguments.corpora)
    if arguments.kind is None:
        for kind, (facts, _) in KINDS.items():
            print(f"{kind:<13} {len(facts(corpus))}")
        return 0
    if arguments.kind not in KINDS:
        raise InputError(
            f'the corpora hold no "{arguments.kind}"; they hold {", ".join(KINDS)}.'
            f"{did_you_mean(arguments.kind, KINDS)}"
        )
    read, shown = KINDS[arguments.kind]
    entries = read(corpus)
    if arguments.name is not None:
        if arguments.name not in entries:
            raise InputError(
                f'there is no entry "{arguments.name}" among the {arguments.kind}; '
                f'"everyline corpus {arguments.kind}" lists them.{did_you_mean(arguments.name, entries)}'
            )
        if arguments.kind == "rulefiles" and arguments.format == "text":
            sys.stdout.write(corpus.rulefiles[arguments.name].text())
            return 0
        entries = {arguments.name: entries[arguments.name]}
    if arguments.format == "jsonl":
        for entry, facts_of in entries.items():
            print(json.dumps({"name": entry, **facts_of}, ensure_ascii=False))
    elif arguments.name is not None:
        _one(arguments.name, entries[arguments.name])
    else:
        _table(entries, shown)
    return 0


def _one(name: str, facts: Facts) -> None:
    print(name)
    for fact, value in facts.items():
        text = _text(value)
        if text:
            print(f"  {fact:<12} {text}")


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)


def _table(entries: Mapping[str, Facts], shown: tuple[str, ...]) -> None:
    rows = [("name", *shown)] + [(name, *(_text(f.get(s, "")) for s in shown)) for name, f in entries.items()]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
