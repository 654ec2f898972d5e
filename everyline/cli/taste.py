"""The command ``taste``: what tastes there are, what is in one, how far two are apart, and making one."""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path
from textwrap import wrap
from typing import Any

from everyline.cli.by_taste import keep, kept_at
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.source import add_rules, bounded, corpus_of, rules_of
from everyline.corpora import Corpus, load
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.corpora.taste_text import taste_text
from everyline.corpora.tastes import DEGREES, INTERVALS, MOST_COST, SUFFIX, WIDEST, read_taste
from everyline.files.writing import writing
from everyline.rules.taste import (
    DEFAULT,
    FAMILIES,
    UNIT,
    HeardMove,
    Places,
    Statistics,
    Taste,
    beats,
    load_taste,
    moves,
)
from everyline.rules.taste_learning import Evidence, learned
from everyline.rules.taste_statistics import Distances, distances, implied
from everyline.spaces.space import Space

WIDTH = 100

DISTANCES = ("intervals", "pairs of intervals", "degrees over their chords")
"""What distances are between, in words."""

NO_OTHER = "nothing"
"""How a command line says that a new taste leans on no other."""


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``taste``."""
    parts = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    for action, (words, add, _) in ACTIONS.items():
        part = parts.add_parser(action, help=words, description=words.capitalize() + ".")
        add(part)
        if action != "fit":
            part.add_argument("--corpora", metavar="FOLDER", type=Path, help="a folder of your own to add")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Run the action asked for; answers the exit code."""
    return ACTIONS[arguments.action][2](arguments)


def _list(arguments: argparse.Namespace) -> int:
    corpus = load(arguments.corpora)
    widest = max(map(len, corpus.tastes))
    for taste, path in corpus.tastes.items():
        print(f"{taste:<{widest}}  {read_taste(path).title}")
    return 0


def _add_show(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("taste", metavar="NAME", help="a taste of the corpora, or a taste file")
    parser.add_argument(
        "--format", choices=("text", "json"), default="text", help="json is the taste file itself"
    )


def _show(arguments: argparse.Namespace) -> int:
    taste = load_taste(arguments.taste, load(arguments.corpora))
    if arguments.format == "json":
        sys.stdout.write(taste_text(taste.entry))
    else:
        print("\n".join(described(taste)))
    return 0


def described(taste: Taste) -> list[str]:
    """A taste in words and tables: where it comes from, its contexts, its plainest costs in bits."""
    special = sum(context.family is not None for context in taste.melody)
    rows = [f"{taste.name}: {taste.title}"]
    if taste.statistics is not None:
        found = taste.statistics
        rows.append(
            f"  learned from  {plural(_total(found.degrees), 'move')}, "
            f"{plural(_total(found.pairs), 'pair')} of intervals, {plural(_total(found.beats), 'beat')}"
        )
    for key, text in (("source", taste.source), ("licence", taste.licence)):
        rows += wrap(text, WIDTH, initial_indent=f"  {key:<14}", subsequent_indent=" " * 16)
    rows += [
        f"  contexts      {special} of the interval before, the beat, the chord's family and the degree;",
        f"                {len(taste.melody) - special} of the interval before and the beat; 2 of the beat",
    ]
    if taste.rhythm is not None:
        rows.append(f"  rhythm        {plural(len(taste.rhythm.rows), 'beat')}, and what may follow each")
    rows += ["", "intervals: bits that each costs, where nothing more special is known", "       off    on"]
    rows += [
        f"  {f'{interval:+d}' if interval else '0':>4}{_bits(taste.plain_melody[False][interval + WIDEST])}"
        f"{_bits(taste.plain_melody[True][interval + WIDEST])}"
        for interval in INTERVALS
    ]
    rows += ["", "degrees: bits that each costs over a family of chords, off the beat and on it"]
    rows.append("       " + "  ".join(f"{family:>14}" for family in FAMILIES))
    for degree in DEGREES:
        cells = [
            f"{_bits(taste.harmony[False, family][degree])} {_bits(taste.harmony[True, family][degree])}"
            for family in FAMILIES
        ]
        rows.append(f"  {_DEGREE_WORDS[degree]:<5}" + "  ".join(f"{cell:>14}" for cell in cells))
    return rows


_DEGREE_WORDS = ("1", "b9", "9", "b3", "3", "11", "#11", "5", "b13", "13", "b7", "7")
"""The twelve semitones above a root as a reader knows them, whatever the chord."""


def _bits(cost: int) -> str:
    return f"{cost / UNIT:6.1f}" if cost < MOST_COST else "     -"


def _total(counts: Mapping[Any, float]) -> int:
    return round(sum(counts.values()))


def _add_compare(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("one", metavar="NAME", help="a taste of the corpora, or a taste file")
    parser.add_argument("other", metavar="NAME", help="another")


def _compare(arguments: argparse.Namespace) -> int:
    corpus = load(arguments.corpora)
    tastes = [load_taste(arguments.one, corpus), load_taste(arguments.other, corpus)]
    found = distances(*(_statistics_of(taste) for taste in tastes))
    for taste in tastes:
        if taste.statistics is None:
            say(f"{taste.name} was not learned from counts; its costs were taken as shares.")
    print(f"{tastes[0].name} and {tastes[1].name} (Jensen-Shannon divergence in bits, 0 to 1)")
    print("\n".join(in_rows(found)))
    return 0


def in_rows(found: Distances) -> list[str]:
    """The three distances, a row each."""
    return [f"  {name:<26} {value:.3f}" for name, value in zip(DISTANCES, found, strict=True)]


def _statistics_of(taste: Taste) -> Statistics:
    return implied(taste) if taste.statistics is None else taste.statistics


def _add_learn(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "files",
        metavar="FILE",
        nargs="+",
        type=Path,
        help="text with a line in each row (.txt), a MusicXML or MIDI file, or a lesson file (.toml)",
    )
    parser.add_argument("--name", required=True, help="the new taste's name")
    parser.add_argument(
        "--changes", metavar="TEXT", help='the chords of the lines, such as "Dm7 | G7 | Cmaj7"'
    )
    parser.add_argument("--key", help="the key, for roman numerals")
    parser.add_argument("--meter", help="the meter (default: 4/4)")
    parser.add_argument("--beat", help="the note value of a beat: 8, or 4. in 6/8, 9/8 and 12/8")
    parser.add_argument("--subdivision", type=int, help="slots in a beat: 2, 3 or 4")
    parser.add_argument(
        "--toward",
        metavar="NAME",
        default=DEFAULT,
        help=f"the taste to lean on where your lines are few (default: {DEFAULT}), or {NO_OTHER}",
    )
    parser.add_argument("--title", type=str, default="", help="what it is, in a few words")
    parser.add_argument(
        "--to",
        type=Path,
        metavar=f"PATH{SUFFIX}",
        help=f"the file to write (default: NAME{SUFFIX})",
    )


def _learn(arguments: argparse.Namespace) -> int:
    corpus = load(arguments.corpora)
    path = _target(arguments, corpus)
    toward = None if arguments.toward == NO_OTHER else load_taste(arguments.toward, corpus)
    heard, rhythms, count = _heard(arguments, corpus)
    texts = {
        "title": arguments.title or f"Learned from {plural(count, 'line')}",
        "source": f"{plural(count, 'line')} in {', '.join(each.name for each in arguments.files)}"
        + ("" if toward is None else f"; leaning on {toward.name}: {toward.source}"),
        "licence": "that of the lines" + ("" if toward is None else f"; {toward.licence}"),
    }
    taste, evidence = learned(arguments.name, heard, rhythms, toward, texts)
    with writing(path) as out:
        out.write(taste_text(taste.entry))
    for row in _on_what(taste, evidence, count, toward):
        say(row)
    say(f"{path} written; --taste {path} uses it.")
    return 0


def _target(arguments: argparse.Namespace, corpus: Corpus) -> Path:
    name = arguments.name
    if not name or name != " ".join(name.split()) or not name.isprintable() or "/" in name:
        raise InputError(f'--name "{name}": a name has no spaces around it, is printable and without "/".')
    if arguments.to is not None:
        if arguments.to.suffix != SUFFIX or arguments.to.stem != name:
            raise InputError(f"--to {arguments.to}: a taste is called what its file is: {name}{SUFFIX}.")
        return Path(arguments.to)
    if name in corpus.tastes:
        raise InputError(f'there is a taste "{name}" in the corpora already; give another name with --name.')
    return Path(f"{name}{SUFFIX}")


def _heard(
    arguments: argparse.Namespace, corpus: Corpus
) -> tuple[Counter[HeardMove], Counter[tuple[Places | None, Places]], int]:
    """The moves and beats of all lines, and how many lines there are."""
    from everyline.reading.collected import over, read_lines

    said = {name: getattr(arguments, name) for name in ("key", "meter", "beat", "subdivision")}
    if arguments.changes is None and any(value is not None for value in said.values()):
        raise InputError(
            "--key, --meter, --beat and --subdivision go with --changes; add that, or leave them out."
        )
    rules = None if arguments.changes is None else over(arguments.changes, corpus, **said)
    heard: Counter[HeardMove] = Counter()
    rhythms: Counter[tuple[Places | None, Places]] = Counter()
    count = 0
    for path in arguments.files:
        for over_these, events in read_lines(path, rules, corpus):
            heard.update(moves(over_these, events))
            rhythms.update(beats(over_these, [event.onset for event in events]))
            count += 1
    if not heard:
        raise InputError("there is nothing to learn from: no line of two notes or more was read.")
    return heard, rhythms, count


def _on_what(taste: Taste, evidence: Evidence, count: int, toward: Taste | None) -> list[str]:
    """What a taste had to go on, in words."""
    assert taste.statistics is not None
    rest = "evenness" if toward is None else toward.name
    return [
        f"learned from {plural(count, 'line')} with {plural(evidence.moves, 'move')} and "
        f"{len(taste.statistics.pairs)} different pairs of intervals.",
        f"your lines decide {evidence.plainest:.0%} of how often each interval comes, "
        f"{evidence.interval_before:.0%} of what follows an interval, and {evidence.chord:.0%} of what "
        f"follows it over a degree of a chord; {rest} decides the rest.",
    ]


def _add_fit(parser: argparse.ArgumentParser) -> None:
    add_rules(parser)
    parser.add_argument(
        "--taste", metavar="NAME", help=f"the taste to fit (default: {DEFAULT}), or a taste file"
    )
    parser.add_argument(
        "--to", type=Path, metavar=f"PATH{SUFFIX}", help="write the fitted taste to a file of your own too"
    )


def _fit(arguments: argparse.Namespace) -> int:
    if arguments.to is not None and arguments.to.suffix != SUFFIX:
        raise InputError(f"--to {arguments.to}: a taste file ends in {SUFFIX}.")
    with bounded(arguments):
        space = Space(rules_of(arguments))
        if arguments.taste is not None:
            space = space.by(load_taste(arguments.taste, corpus_of(arguments)))
        if not space.count:
            say("no line satisfies these rules.")
            return NO
        found = space.fit()
    path = kept_at(space)
    if path is not None:
        keep(found.taste, path)
    if arguments.to is not None:
        with writing(arguments.to) as out:
            out.write(taste_text(found.taste.entry))
    print(f"{space.taste.name}, fitted to {plural(space.count, 'line')} in {plural(found.rounds, 'round')}")
    print("how far all lines together are from the style (Jensen-Shannon divergence in bits, 0 to 1)")
    print(f"  {'':<26} before  after")
    for name, before, after in zip(DISTANCES, found.before, found.after, strict=True):
        print(f"  {name:<26} {before:>6.3f} {after:>6.3f}")
    return 0


Action = tuple[str, Callable[[argparse.ArgumentParser], None], Callable[[argparse.Namespace], int]]

ACTIONS: dict[str, Action] = {
    "list": ("what tastes there are", lambda parser: None, _list),
    "show": ("what is in a taste", _add_show, _show),
    "compare": ("how far two tastes are apart", _add_compare, _compare),
    "learn": ("a taste out of your own lines", _add_learn, _learn),
    "fit": (
        "costs fitted to one rule file, so that all its lines together are in style",
        _add_fit,
        _fit,
    ),
}
"""Every action: what it gives, its options, and what runs it."""
