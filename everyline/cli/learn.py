"""The command ``learn``: a fragment in notes, written as an ending or a figure of the corpora."""

from __future__ import annotations

import argparse
import re
import sys
from dataclasses import replace
from pathlib import Path

from everyline.cli.messages import say
from everyline.corpora import Corpus, load, read_toml
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.files.writing import changing, writing
from everyline.reading import read_line
from everyline.reading.fitted import is_file
from everyline.rules.learn import (
    EndingReading,
    FigureReading,
    ending_toml,
    figure_toml,
    learn_endings,
    learn_figures,
)
from everyline.rules.line import Events
from everyline.rules.line_text import without_octaves
from everyline.rules.rulefile import rules_from_options
from everyline.rules.ruleset import Rules
from everyline.rules.schema import FileKey, KeyType, Where, check_table
from everyline.rules.spelling import spell

ENDING, FIGURE = "ending", "figure"
HEADINGS = {ENDING: {"ending"}, FIGURE: {"figure", "family"}}
"""What a file of the corpora may hold beside the entry."""
MOST_LISTED = 8
Entries = list[tuple[list[str], str]]
"""The readings: facts, one a line, and the entry as the corpora write it."""


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``learn``."""
    parser.add_argument(
        "line",
        metavar="LINE",
        nargs="+",
        help="the fragment, such as Ab4 G4 F4 D4 '|' E4:4 (the bar line, where you know it, is where the "
        "last chord begins), or a MusicXML or MIDI file",
    )
    parser.add_argument("--changes", required=True, metavar="TEXT", help='the chords, such as "G7 | Cmaj7"')
    parser.add_argument("--as", dest="kind", choices=(ENDING, FIGURE), default=ENDING, help="what it becomes")
    parser.add_argument("--name", help="its name in the corpora")
    parser.add_argument("--remark", type=str, default="", help="a remark for whoever browses the corpora")
    parser.add_argument(
        "--reading", type=int, default=1, metavar="N", help="which reading, where there are several"
    )
    parser.add_argument("--key", help="the key, for roman numerals")
    parser.add_argument("--meter", help="the meter (default: 4/4)")
    parser.add_argument("--beat", help="the note value of a beat: 8, or 4. in 6/8, 9/8 and 12/8")
    parser.add_argument("--subdivision", type=int, help="slots in a beat: 1 to 4")
    parser.add_argument(
        "--output",
        type=Path,
        metavar="PATH",
        help="add it to this file of your own corpora, in a folder that exists",
    )
    parser.add_argument(
        "--corpora", metavar="FOLDER", type=Path, help="a folder of your own figures, endings and so on"
    )


def run(name: str, arguments: argparse.Namespace) -> int:
    """Learn the fragment and write it; answers the exit code."""
    corpus = load(arguments.corpora)
    title = f"learned-{arguments.kind}" if arguments.name is None else arguments.name
    _check_name(title, arguments.kind, corpus)
    rules = rules_from_options(
        corpus,
        changes=arguments.changes,
        key=arguments.key,
        meter=arguments.meter,
        beat=arguments.beat,
        subdivision=arguments.subdivision,
        lowest="C-1",
        highest="G9",
        endings=["plain"],
    )
    text = " ".join(arguments.line)
    read = read_line(text, rules)
    for remark in read.remarks:
        say(remark)
    # Without octaves there is a candidate for each: one in the middle is as good as any, and easy to read.
    fragment = read.candidates[len(read.candidates) // 2 if without_octaves(text) else -1]
    if arguments.kind == ENDING:
        entries = _endings(text, fragment, rules, title, arguments.remark)
    else:
        entries = _figures(fragment, rules, title, arguments.remark)
    if not 1 <= arguments.reading <= len(entries):
        raise InputError(f"--reading {arguments.reading}: there are readings 1 to {len(entries)}.")
    written = _document(entries, arguments.reading)
    if arguments.output is None:
        sys.stdout.write(written)
    else:
        _add(arguments.output, entries[arguments.reading - 1][1], title, arguments.kind)
        say(f"{arguments.kind} {title} added to {arguments.output}.")
    return 0


def _check_name(name: str, kind: str, corpus: Corpus) -> None:
    taken = corpus.endings if kind == ENDING else {**corpus.figures, **corpus.families}
    if name in taken:
        raise InputError(f'there is {kind} "{name}" in the corpora already; give another name with --name.')
    if name != " ".join(name.split()) or not name.isprintable() or not name:
        raise InputError(f'--name "{name}": a name has no spaces around it and is printable.')


def _endings(
    text: str, fragment: Events, rules: Rules, name: str, remark: str
) -> list[tuple[list[str], str]]:
    """(facts, entry) of each reading as an ending."""
    placed = is_file(text) or text.lstrip().startswith("@")
    readings = learn_endings(fragment, rules.progression, name, _split(text), placed)
    if placed:
        # The place within the bar is known: readings that keep it come first.
        bar = rules.progression.slots_per_bar * rules.slot_ticks
        moved = {id(each): (each.events[0].onset - fragment[0].onset) % bar != 0 for each in readings}
        readings = tuple(sorted(readings, key=lambda each: moved[id(each)]))
    return [
        (ending_facts(reading, rules), ending_toml(replace(reading.ending, remark=remark)))
        for reading in readings
    ]


def _split(text: str) -> int | None:
    """How many notes stand before the bar line that was typed; None where none was."""
    if is_file(text) or "|" not in text:
        return None
    head = text.replace("|", " | ").split(" | ")[0].split()
    return sum(not re.match(r"@|r\d", token) for token in head)


def ending_facts(reading: EndingReading, rules: Rules) -> list[str]:
    """What is worth knowing before an ending is used, one fact a line."""
    low, high = (
        spell(pitch, rules.progression.chords[-2], rules.scales[-2], rules.key) for pitch in reading.compass
    )
    size = len(reading.events)
    held = ", the last of them held over it" if reading.ending.held else ""
    return [
        f"starts on the {reading.starts}; ends on the {reading.resolves}",
        f"{plural(size, 'note')} over {plural(reading.beats, 'beat')}, from {low} to {high}",
        f"{plural(reading.split, 'note')} before the bar line{held}, {size - reading.split} from it on",
        f"fits over {', '.join(quality or 'a major triad' for quality in reading.fits)}",
    ]


def _figures(fragment: Events, rules: Rules, name: str, remark: str) -> Entries:
    """(facts, entry) of each reading as a figure, over every chord of the changes that the target is a tone
    of."""
    progression = rules.progression
    found: dict[tuple[str, ...], FigureReading] = {}
    over: dict[tuple[str, ...], list[str]] = {}
    complaint: InputError | None = None
    for chord, scale in zip(progression.chords, rules.scales, strict=True):
        try:
            readings = learn_figures(fragment, chord, scale, name)
        except InputError as error:
            complaint = complaint or error
            continue
        for reading in readings:
            steps = reading.figure.steps
            found.setdefault(steps, reading)
            where = f"the {reading.degree} of {chord.symbol}"
            if where not in over.setdefault(steps, []):
                over[steps].append(where)
    if not found:
        assert complaint is not None
        raise complaint
    return [
        (
            [
                f"lands on {' or '.join(over[steps])}",
                f"{plural(len(steps), 'note')}: begins "
                f"{'on a beat' if len(steps) % 2 == 0 else 'on an upbeat'} "
                "in eighths, so that it lands on one",
            ],
            figure_toml(replace(reading.figure, remark=remark)),
        )
        for steps, reading in found.items()
    ]


def _document(entries: Entries, chosen: int) -> str:
    """TOML: the facts as comments, the chosen entry, and the other readings as comments."""
    facts, entry = entries[chosen - 1]
    lines = [f"# reading {chosen} of {len(entries)}", *(f"# {fact}" for fact in facts), entry.rstrip()]
    others = [(number, each) for number, each in enumerate(entries, 1) if number != chosen]
    for number, (other, text) in others[:MOST_LISTED]:
        notes = " ".join(line for line in text.splitlines() if line.startswith(("notes", "rhythm", "steps")))
        lines += ["", f"# --reading {number}: {notes}", f"#   {other[0]}"]
    if len(others) > MOST_LISTED:
        lines += ["", f"# and {len(others) - MOST_LISTED} readings more"]
    return "\n".join(lines) + "\n"


def _add(path: Path, entry: str, name: str, kind: str) -> None:
    """Add an entry to a file of the corpora, or begin the file."""
    with changing(path):
        before = _before(path, name, kind)
        with writing(path) as out:
            out.write(before.lstrip("\n") + entry)


def _before(path: Path, name: str, kind: str) -> str:
    """The text of the file so far. Raises InputError where such an entry has no place in it."""
    if not path.exists():
        return ""
    tables = read_toml(path)
    strangers = set(tables) - HEADINGS[kind]
    if strangers:
        raise InputError(
            f"{path}: it holds {', '.join(sorted(strangers))}, not only {kind}s; name another file."
        )
    keys = {
        heading: FileKey(heading, KeyType.TABLES, "the entries", default=()) for heading in HEADINGS[kind]
    }
    entries = check_table(tables, keys, Where(str(path)))
    if any(each.get("name") == name for heading in entries.values() for each in heading):
        raise InputError(f'{path}: there is an entry "{name}" in it already; give another name with --name.')
    return path.read_text(encoding="utf-8-sig").rstrip() + "\n\n"
