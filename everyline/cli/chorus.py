"""The command ``chorus``: a form cut into phrases, solved together; shown, counted, drawn, taken away."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.cli.by_taste import add_taste, temperature_of, with_taste
from everyline.cli.export import add_sound, export_options
from everyline.cli.format_options import check_options
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.ordering import ORDERS
from everyline.cli.selection import DEFAULT_MOST, add_look, chosen, moved
from everyline.cli.source import add_work, bounded, check_sharing, corpus_of, own_rules_of
from everyline.corpora.counted import only, plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.files.formats import export, format_of
from everyline.rules.schema import listed
from everyline.text.rows import FORMATS, write_rows

if TYPE_CHECKING:
    from everyline.corpora import Corpus
    from everyline.rules.annotate import AnnotatedLine
    from everyline.spaces.choruses import Chorus


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("plan", metavar="PLAN", type=Path, help="the plan file")
    which = parser.add_argument_group("which choruses (without any of these, what the plan says is shown)")
    which.add_argument("--count", action="store_true", help="how many there are, digits alone")
    which.add_argument(
        "--numbers", action="append", metavar="N", help="choruses by number, such as 17 or 20-31"
    )
    which.add_argument(
        "--order",
        choices=ORDERS,
        help="choruses by number, the smoothest first, the least strange first, or unlike each other",
    )
    which.add_argument(
        "--most",
        type=int,
        metavar="K",
        help=f"at most so many choruses, in order (default: {DEFAULT_MOST})",
    )
    which.add_argument("--from", dest="first", type=int, metavar="N", help="place of the first in that order")
    which.add_argument(
        "--sample", type=int, metavar="K", help="so many at random: by --taste where it is given, else evenly"
    )
    which.add_argument(
        "--seed",
        type=int,
        metavar="S",
        help="the same seed gives the same choruses (default: 1)",
    )
    which.add_argument(
        "--find", metavar="LINE", help="the number of a chorus given as notes, a MusicXML or a MIDI file"
    )
    which.add_argument(
        "--why",
        metavar="PHRASE",
        help="for one phrase, by name: what excludes every line of it, or what each of its rules costs",
    )
    which.add_argument(
        "--facets",
        metavar="PHRASE",
        help="for one phrase, by name: how many choruses have each figure, target, ending and so on in it",
    )
    out = parser.add_argument_group("where to")
    out.add_argument("--format", choices=FORMATS, help="how choruses are written (text)")
    out.add_argument(
        "--to", type=Path, metavar="PATH", help="a file; its suffix says what kind, as for everyline export"
    )
    add_taste(parser, draws=True)
    add_look(parser)
    add_sound(parser)
    add_work(parser)


def run(name: str, arguments: argparse.Namespace) -> int:
    """Run the command; answers the exit code."""
    wanted = _wanted(arguments)
    with bounded(arguments):
        from everyline.rules.chorus_file import load_plan_file
        from everyline.spaces.choruses import Chorus

        corpus = corpus_of(arguments)
        plan = load_plan_file(arguments.plan, corpus, own_rules=own_rules_of(arguments))
        check_sharing(arguments, any(phrase.rules.filters for phrase in plan.phrases))
        chorus = Chorus(plan)
        if wanted == "why":
            return _why(chorus, arguments.why, corpus)
        if chorus.count:
            chorus = with_taste(chorus, arguments, corpus)
        if not chorus.count:
            return _none(chorus, wanted, corpus)
        if wanted == "count":
            print(chorus.count)
        elif wanted == "find":
            return _find(chorus, arguments.find)
        elif wanted == "facets":
            _facets(chorus, arguments.facets)
        elif wanted == "overview":
            print(_overview(chorus))
        else:
            _write(chorus, _lines(chorus, wanted, arguments), arguments)
    return 0


def _wanted(arguments: argparse.Namespace) -> str:
    """Which of the things that the command does is asked for. Raises InputError where it is several."""
    ordered = next(
        (name for name in ("order", "most", "first") if getattr(arguments, name) is not None), None
    )
    asked = {
        "count": arguments.count,
        "numbers": arguments.numbers is not None,
        "order": ordered is not None,
        "sample": arguments.sample is not None,
        "find": arguments.find is not None,
        "why": arguments.why is not None,
        "facets": arguments.facets is not None,
    }
    found = [name for name, is_asked in asked.items() if is_asked]
    if len(found) > 1:
        words = [{"order": f"--{ordered}", "first": "--from"}.get(name, f"--{name}") for name in found]
        raise InputError(
            f"{' and '.join(words).replace('--first', '--from')} do not go together; ask for one."
        )
    for option in ("most", "first", "sample"):
        value = getattr(arguments, option)
        if value is not None and value < 1:
            raise InputError(f"--{'from' if option == 'first' else option} {value}: it must be 1 or more.")
    if arguments.seed is not None and arguments.sample is None:
        raise InputError("--seed goes with --sample K, which says how many choruses to draw.")
    wanted = found[0] if found else "overview"
    if arguments.temperature is not None and (arguments.taste is None or wanted != "sample"):
        raise InputError("--temperature goes with --sample K and --taste NAME; add these, or leave it out.")
    temperature_of(arguments)
    _check_out(arguments, wanted in ("numbers", "order", "sample"))
    return wanted


def _check_out(arguments: argparse.Namespace, lines: bool) -> None:
    """Refuse what is said of choruses, or of files, where there are none."""
    for option in ("to", "format", "octave"):
        if getattr(arguments, option) is not None and not lines:
            raise InputError(f"--{option}: which choruses? Choose them with --numbers, --order or --sample.")
    if arguments.to is None:
        check_options(arguments, None, also=("--octave",))
        return
    format_of(arguments.to)
    if arguments.format is not None:
        raise InputError(f"--format {arguments.format}: the suffix of {arguments.to} says what kind it is.")
    check_options(arguments, arguments.to.suffix.lower())


def _lines(chorus: Chorus, wanted: str, arguments: argparse.Namespace) -> Iterable[AnnotatedLine]:
    if wanted == "numbers":
        return (chorus.line(number) for number in chosen(arguments.numbers, chorus.count))
    if wanted == "sample":
        if arguments.sample > chorus.count:
            say(f"{only(chorus.count, 'chorus', 'choruses')}; all follow.")
        seed = 1 if arguments.seed is None else arguments.seed
        if arguments.taste is None:
            return chorus.samples(arguments.sample, seed)
        drawn = islice(chorus.drawn(seed, temperature_of(arguments)), min(arguments.sample, chorus.count))
        return chorus.shown((line.number, line.events) for line in drawn)
    most, first = arguments.most or DEFAULT_MOST, arguments.first or 1
    if first > chorus.count:
        raise InputError(f"--from {first}: the choruses are numbered from 1 to {chorus.count}.")
    if arguments.order == "smooth":
        return _part(chorus.smoothest(), first, most)
    if arguments.order == "idiomatic":
        return _part(chorus.idiomatic(), first, most)
    if arguments.order == "varied":
        return _part(chorus.varied(min(first - 1 + most, chorus.count)), first, most)
    return iter(chorus[first - 1 : first - 1 + most])


def _part(lines: Iterator[AnnotatedLine], first: int, most: int) -> Iterator[AnnotatedLine]:
    if first + most > sys.maxsize:
        raise InputError(f"--from {first}: more choruses than anybody can wait for; ask for --numbers.")
    return islice(lines, first - 1, first - 1 + most)


def _write(chorus: Chorus, lines: Iterable[AnnotatedLine], arguments: argparse.Namespace) -> None:
    if arguments.octave or arguments.to is not None:
        from everyline.paper.sheet import SheetExercise

        lines = [moved(SheetExercise(line), arguments.octave).line for line in lines]
    if arguments.to is None:
        write_rows(lines, arguments.format or "text", sys.stdout, chorus.count)
        return
    title = arguments.title or chorus.rules.title or "Choruses"
    export(list(lines), arguments.to, export_options(title, arguments))


def _find(chorus: Chorus, text: str) -> int:
    """Print the number of a chorus, or say how far it can be followed."""
    from everyline.reading import read_line
    from everyline.rules.limits.base import named

    read = read_line(text, chorus.rules)
    for remark in read.remarks:
        say(remark)
    best, far = read.candidates[0], -1
    for events in read.candidates:
        number = chorus.diagram.number(events)
        if number is not None:
            print(number)
            return 0
        reached = chorus.diagram.reach(events)[0]
        if reached > far:
            best, far = events, reached
    rules = chorus.rules
    if far == len(best):
        why = "all its notes can be followed, but the plan goes on after the last one"
    else:
        note = named(rules.progression, rules.note(best[far]))
        why = f"no chorus that begins like it has {note} as its note {far + 1}"
    say(f"it is not a chorus of this plan: {why}.")
    return NO


def _why(chorus: Chorus, name: str, corpus: Corpus) -> int:
    """Explain one phrase as everyline why explains a rule file."""
    from everyline.cli.why import write_text
    from everyline.solver.conflicts import why

    answer = why(chorus.plan.phrases[_place(chorus, "why", name)].rules, corpus)
    write_text(answer, sys.stdout)
    return 0 if answer.count else NO


def _facets(chorus: Chorus, name: str) -> None:
    """Print what one phrase is made of over all choruses, as everyline facets does of lines."""
    from everyline.cli.facets import write_table

    found = chorus.facets(_place(chorus, "facets", name) + 1)
    write_table(found, chorus.count, sys.stdout, "chorus", "choruses")


def _place(chorus: Chorus, option: str, name: str) -> int:
    """The place of a phrase, from 0. Raises InputError where there is none of that name."""
    names = [each.name for each in chorus.plan.phrases]
    if name not in names:
        raise InputError(
            f'--{option} "{name}": there is no such phrase; there are {listed(names)}.'
            f"{did_you_mean(name, names)}"
        )
    return names.index(name)


def _none(chorus: Chorus, wanted: str, corpus: Corpus) -> int:
    """Say why there is no chorus and, where the plan as a whole is asked for, what would bring some back."""
    from everyline.cli.why import write_remedies

    say(f"{chorus.why_none}{_hint(chorus)}.")
    if wanted == "count":
        print(0)
    elif wanted == "overview":
        head = "Changes that bring choruses back together"
        write_remedies(chorus.remedies(corpus), sys.stdout, head, "chorus", "choruses")
    return NO


def _hint(chorus: Chorus) -> str:
    """How to learn more where a phrase has no line by itself."""
    for phrase, count in zip(chorus.plan.phrases, chorus.counts, strict=True):
        if not count:
            return f'; --why "{phrase.name}" tells which'
    return ""


def _overview(chorus: Chorus) -> str:
    """The phrases, each with its own count and changes, and the count of the whole."""
    plan = chorus.plan
    rows = [
        (
            each.name,
            each.bars_text,
            plural(count, "line"),
            _changes(each.rules.progression.text),
        )
        for each, count in zip(plan.phrases, chorus.counts, strict=True)
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    many = plural(len(rows), "phrase")
    title = f"{plan.form.title}: " if plan.form.title else ""
    return "\n".join(
        [
            f"{title}{plural(chorus.count, 'chorus', 'choruses')} of {many} over "
            f"{plural(plan.form.progression.bars, 'bar')}",
            "",
            *(
                f"  {row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]:>{widths[2]}}  {row[3]}"
                for row in rows
            ),
        ]
    )


def _changes(text: str) -> str:
    return " ".join(text.split())
