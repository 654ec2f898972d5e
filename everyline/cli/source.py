"""Where a command's rules come from: a rule file, the corpora by name, or options alone; and the limits on
its work."""

from __future__ import annotations

import argparse
import os
import signal
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from everyline.cli.messages import say
from everyline.cli.progress import progress
from everyline.cli.slips import unquoted
from everyline.cli.typed import NUMBERS, items, read_changes
from everyline.corpora import Corpus, load, read_toml
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, Stopped, did_you_mean
from everyline.rules.own import MOST_LOOKED_AT, loader
from everyline.rules.rulefile import OPTIONS, OwnRules, parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.typed_changes import with_changes
from everyline.solver.budget import MOST_NODES, at_most
from everyline.solver.filtered import looking_with

if TYPE_CHECKING:
    from everyline.parallel.cluster import Cluster

LISTS = {
    "start": "first notes, such as D4 or F",
    "degrees": "first notes as degrees of the first chord",
    "beats": "entry beats, such as 1 or 2&",
    "pickup": "pickups before bar 1, in slots, or with --cells in halves of a beat",
    "passing": "kinds of passing notes: scale, chromatic",
    "passing_count": "filled moves per chord, such as 0-1 0",
    "cells": 'rhythm cells in note values, parted by commas, such as "8 8, 4, r8 8"',
    "figures": "approach figures or families",
    "count": "approach figures per chord, such as 1 0-1",
    "targets": "degrees that figures may land on",
    "strings": "strings, 1 the highest",
    "endings": "endings in use; plain is the one without a stock figure",
}
"""Options that take several values, and what they say."""

SINGLE = {
    "key": "the key, for roman numerals and spelling",
    "meter": "the meter (default: 4/4)",
    "beat": "the note value of a beat: 4. makes 12/8 four beats of a dotted quarter",
    "subdivision": "slots in a beat: 1 quarters, 2 eighths, 3 triplets, 4 sixteenths",
    "lowest": "lowest pitch",
    "highest": "highest pitch",
    "instrument": "an instrument of the corpora",
    "position": "fretboard position: its lowest fret",
    "span": "frets under the hand",
    "direction": "direction of runs: up, down or either",
    "turns": "changes of direction within a run",
    "skips": "moves within a run that pass over a chord tone",
    "passing_place": "where passing notes begin: off the beat, or any",
    "reach": "semitones to a figure's first note, at most",
    "after": "chord tones between figures, at least",
    "handoff": "how a new chord is entered",
    "lead_in": "semitones to an ending's first note, at most",
}
"""Options that take one value, and what they say."""

_BOUNDS = ("lowest", "highest")

LONGEST = 1_000_000
LEAST_MEMORY, MOST_MEMORY = 64, 1 << 24
"""Bounds of the limits that a user may set: seconds, and megabytes."""
RESERVE = 32
"""Megabytes beyond --memory-limit in which the work can be ended in good order."""
LOOK = 0.02
"""Seconds of processor time from one look at the memory to the next."""


def add_rules(parser: argparse.ArgumentParser) -> None:
    """The options that name the rules and bound the work."""
    parser.add_argument(
        "file", metavar="FILE", nargs="?", help="rule file, or the name of one in the corpora"
    )
    add_rule_options(parser)


def add_rule_options(parser: argparse.ArgumentParser) -> None:
    """The options that state or change rules, without the FILE itself."""
    group = parser.add_argument_group(
        "rules (each as the key of the same name in a rule file; they go before the file's own)"
    )
    group.add_argument(
        "--changes", metavar="TEXT", help='chords, such as "Dm7 | G7 | Cmaj7"; FILE may then be left out'
    )
    for name, words in LISTS.items():
        group.add_argument(
            f"--{name.replace('_', '-')}",
            action="append",
            metavar="LIST",
            dest=name,
            help=f"{words} (a list in one word or in quotes)",
        )
    for name, words in SINGLE.items():
        kind = int if name in NUMBERS else str
        group.add_argument(
            f"--{name.replace('_', '-')}", type=kind, metavar=name.upper(), dest=name, help=words
        )
    group.add_argument(
        "--own-rule", action="append", metavar="FILE.py:NAME", help="a rule in Python, beside the file's own"
    )
    add_work(parser)


def add_work(parser: argparse.ArgumentParser) -> None:
    """The options that name the corpora, allow rules in Python and bound the work."""
    own = parser.add_argument_group("rules of your own, in Python")
    own.add_argument(
        "--allow-python",
        action="store_true",
        help="run rules in Python; read them first, they can do anything",
    )
    own.add_argument(
        "--look-at", type=int, metavar="N", help="how many lines a whole-line rule may look at (2000000)"
    )
    add_bounds(parser)


def add_bounds(parser: argparse.ArgumentParser) -> None:
    """The options that bound the work, for ``bounded``, and the folder of corpora."""
    work = parser.add_argument_group("work")
    work.add_argument(
        "--corpora", metavar="FOLDER", type=Path, help="a folder of your own figures, endings and so on"
    )
    work.add_argument(
        "--time-limit", metavar="SECONDS", type=float, help="stop with exit code 3 after so long"
    )
    work.add_argument(
        "--memory-limit", metavar="MB", type=int, help="stop with exit code 3 beyond so much memory"
    )
    work.add_argument(
        "--most-nodes",
        metavar="N",
        type=int,
        help="how large the diagram of the rules may grow before the work stops with exit code 3 and names "
        f"the rule that does it (default: {MOST_NODES}; a million takes about 350 MB)",
    )
    many = parser.add_argument_group(
        "many processes (for Parquet files, drill sets, and lines that a whole-line rule looks at)"
    )
    many.add_argument("--workers", metavar="N", type=int, help="work with N processes of this machine")
    many.add_argument(
        "--scheduler", metavar="ADDRESS", help="work on a Dask cluster, such as tcp://machine:8786"
    )


def corpus_of(arguments: argparse.Namespace) -> Corpus:
    """The corpora, with the user's own folder where one is named."""
    return load(arguments.corpora)


def stated(arguments: argparse.Namespace) -> tuple[dict[str, Any], str, Path | None]:
    """The tables of the rule file that a command line states, what messages call it, and the path of the
    file that it begins with, if any. Raises InputError where no rules are given."""
    data: dict[str, Any] = {}
    name, path = "the options", None
    if arguments.file is not None:
        if arguments.changes is not None and (words := unquoted(arguments.changes, [arguments.file])):
            raise InputError(words)
        path = find_rule_file(arguments.file, corpus_of(arguments))
        data, name = dict(read_toml(path)), arguments.file
    elif arguments.changes is None:
        raise InputError('no rules are given: name a rule file, or give --changes "Dm7 | G7 | Cmaj7".')
    for option in sorted(("changes", *LISTS, *SINGLE), key=_BOUNDS.__contains__):
        value = getattr(arguments, option)
        if value is not None:
            _override(data, OPTIONS[option], items(option, value) if option in LISTS else value)
    read_changes(data)
    for rule in arguments.own_rule or ():
        file, colon, kind = rule.rpartition(":")
        _add_own_rule(data, f"{Path(file).absolute()}:{kind}" if colon else rule)
    return data, name, path


def rules_of(arguments: argparse.Namespace, shares_work: bool = False) -> Rules:
    """The rules that a command line states. ``shares_work`` says that the command itself can be cut up for
    many processes."""
    corpus = corpus_of(arguments)
    data, name, path = stated(arguments)
    base = Path() if path is None else path.parent
    rules = parse_rules(data, corpus, name=name, base=base, own_rules=own_rules_of(arguments))
    if getattr(arguments, "written", False):
        from everyline.spaces.written_pitch import interval, written_tables

        moved = written_tables(with_changes(data, corpus, name), rules)
        assert rules.instrument is not None
        say(
            f"chords and pitches are as written for the {rules.instrument.name}, "
            f"{interval(rules.instrument)}."
        )
        rules = parse_rules(moved, corpus, name=name, base=base, own_rules=own_rules_of(arguments))
    check_sharing(arguments, shares_work or bool(rules.filters))
    return rules


def check_sharing(arguments: argparse.Namespace, has_work: bool) -> None:
    """Raises InputError where other processes are asked for and there is nothing that they could do."""
    if has_work or (arguments.workers, arguments.scheduler) == (None, None):
        return
    option = "--workers" if arguments.workers is not None else "--scheduler"
    raise InputError(
        f"{option} shares out Parquet files, drill sets and lines for a whole-line rule, and here "
        "is none of them; leave it out."
    )


def refuse_rules(arguments: argparse.Namespace, why: str) -> None:
    """Raises InputError for an option that states rules or serves them, where none are asked for."""
    for option in ("changes", *LISTS, *SINGLE, "own_rule", "allow_python", "look_at", "workers", "scheduler"):
        value = getattr(arguments, option)
        if value is not None and value is not False:
            raise InputError(f"--{option.replace('_', '-')}: {why}; leave it out, or name a rule file.")


def _add_own_rule(data: dict[str, Any], rule: str) -> None:
    known = data.get("own_rules", [])
    data["own_rules"] = [*known, rule] if isinstance(known, list) else known


def own_rules_of(arguments: argparse.Namespace) -> OwnRules | None:
    """What runs rules in Python, where the user allows it."""
    if arguments.look_at is not None and arguments.look_at < 0:
        raise InputError(f"--look-at {arguments.look_at}: it must be 0 or more.")
    if not arguments.allow_python:
        return None
    look_at = MOST_LOOKED_AT if arguments.look_at is None else arguments.look_at
    return loader(look_at, say)


def _override(data: dict[str, Any], path: str, value: Any) -> None:
    section, _, key = path.rpartition(".")
    if not section:
        data[key] = value
        return
    table = data.get(section, {})
    if not isinstance(table, Mapping):
        raise InputError(f"[{section}] in the file is not a table.")
    if section == "range" and key not in _BOUNDS and "instrument" not in table:
        # Two pitches of the file give way to an instrument; those of the command line narrow it.
        table = {name: old for name, old in table.items() if name not in _BOUNDS}
    data[section] = {**table, key: value}


def find_rule_file(text: str, corpus: Corpus) -> Path:
    """The path of a rule file: one that exists, else one of the corpora by name. Raises InputError."""
    path = Path(text)
    if path.exists() or path.suffix or len(path.parts) > 1:
        return path
    entry = corpus.rulefiles.get(text)
    if entry is None:
        raise InputError(
            f'there is no file "{text}", and no rule file of that name in the corpora '
            f"(everyline corpus rulefiles lists them).{did_you_mean(text, corpus.rulefiles)}"
        )
    return entry.path


@contextmanager
def bounded(arguments: argparse.Namespace) -> Iterator[Cluster | None]:
    """Keeps the work inside --time-limit, --memory-limit and --most-nodes; raises Stopped beyond them.

    Gives the processes that --workers or --scheduler ask for. Whole-line rules use them by themselves.
    """
    most = MOST_NODES if arguments.most_nodes is None else arguments.most_nodes
    with (
        at_most(most),
        _bounded_memory(arguments.memory_limit),
        _bounded_time(arguments.time_limit),
        _on_processes(arguments) as cluster,
    ):
        yield cluster


@contextmanager
def _on_processes(arguments: argparse.Namespace) -> Iterator[Cluster | None]:
    if arguments.workers is None and arguments.scheduler is None:
        yield None
        return
    try:
        from everyline.parallel.cluster import Cluster
        from everyline.parallel.filtering import on_cluster
    except ModuleNotFoundError as error:
        raise without(error) from None
    cluster = Cluster(arguments.scheduler, arguments.workers, say)
    with cluster, looking_with(on_cluster(cluster, progress("lines looked at"))):
        yield cluster


def without(error: ModuleNotFoundError) -> InputError:
    """What is said where a package for big spaces is not installed."""
    return InputError(
        f"this needs the package {error.name}, which is not installed; run "
        'python -m pip install "everyline[big]".'
    )


@contextmanager
def _bounded_time(seconds: float | None) -> Iterator[None]:
    if seconds is None:
        yield
        return
    if not 0 < seconds <= LONGEST:
        raise InputError(f"--time-limit {seconds:g}: write seconds above 0, at most {LONGEST}.")

    def stop(number: int, frame: FrameType | None) -> None:
        raise Stopped(
            f"stopped: the time limit of {plural(seconds, 'second')} is over; raise --time-limit or "
            "narrow the rules."
        )

    before = signal.signal(signal.SIGALRM, stop)
    # Again after a while: an exception that happens to fall into a finalizer is swallowed there.
    signal.setitimer(signal.ITIMER_REAL, seconds, 2)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@contextmanager
def _bounded_memory(megabytes: int | None) -> Iterator[None]:
    """Raises MemoryError beyond so much memory. It bounds the work, and not what is said of it afterwards.

    The interpreter may go round in circles where it has no memory left to handle that very error. So it is
    raised while there is still a reserve; a leap beyond that too is refused by the system.
    """
    if megabytes is None:
        yield
        return
    if not LEAST_MEMORY <= megabytes <= MOST_MEMORY:
        raise InputError(f"--memory-limit {megabytes}: write megabytes from {LEAST_MEMORY} to {MOST_MEMORY}.")
    import resource

    def look(number: int, frame: FrameType | None) -> None:
        if _address_space() > megabytes << 20:
            # Later again: an exception that happens to fall into a finalizer is swallowed there.
            signal.setitimer(signal.ITIMER_VIRTUAL, 1, LOOK)
            raise MemoryError

    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    wanted = (megabytes + RESERVE) << 20
    resource.setrlimit(
        resource.RLIMIT_AS, (wanted if hard == resource.RLIM_INFINITY else min(wanted, hard), hard)
    )
    before = signal.signal(signal.SIGVTALRM, look)
    signal.setitimer(signal.ITIMER_VIRTUAL, LOOK, LOOK)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


def _address_space() -> int:
    """Bytes of this process's address space; 0 where the system does not tell."""
    try:
        with open("/proc/self/statm", encoding="ascii") as file:
            return int(file.read().split()[0]) * os.sysconf("SC_PAGESIZE")
    except OSError:
        return 0
