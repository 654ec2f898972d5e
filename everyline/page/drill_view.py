"""Drill sets from the page's rules: lines chosen over keys, put in order, made into exercises."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from corpora.errors import InputError
from everyline.drill.difficulty import difficulty
from everyline.drill.exercises import Exercise, Wishes, make
from everyline.page.choices import changed
from everyline.page.lines_view import facts
from everyline.space import Space
from rules.annotate import AnnotatedLine
from rules.breaches import judge
from rules.transpose import CHROMATIC, CYCLE, home_key, keys_in_order, keys_of_level, transpose_tables
from solver.classes import check_traits, classify
from solver.cover import pair_cover
from solver.sample import sample_numbers
from solver.stratify import shuffle, stratified, sub_seed

if TYPE_CHECKING:
    from everyline.page.operations import Desk

Tables = dict[str, Any]
TRAITS = ("figure", "ending")
"""What is balanced, and what pairs are made of, unless said otherwise."""
PICTURE_WIDTH = 160.0


@dataclass(frozen=True)
class _Source:
    """The rules in one key."""

    key: str
    tables: Tables
    space: Space


@dataclass(frozen=True)
class _Chosen:
    """A line of a set, with where it comes from."""

    source: _Source
    line: AnnotatedLine


def drill(desk: Desk, tables: Tables, wish: dict[str, Any]) -> dict[str, Any]:
    """A drill set as data: exercises, each with rules and number, and what is to be said of the choice."""
    chosen, remarks = _choose(desk, tables, wish)
    return {
        "exercises": [_told(each, exercise) for each, exercise in _exercises(chosen, wish)],
        "remarks": remarks,
    }


def drill_sheet(desk: Desk, tables: Tables, wish: dict[str, Any], answers: bool, paper: str) -> bytes:
    """The same set as a PDF sheet, or its answers. The same wish gives the same set."""
    from everyline.paper.sheet import Exercise as Printed
    from everyline.paper.sheet import Sheet, SheetOptions, key_pdf, sheet_pdf

    chosen, _ = _choose(desk, tables, wish)
    printed = []
    for each, exercise in _exercises(chosen, wish):
        shown, blanks = _shown(each, exercise)
        plain = exercise.kind == "play"
        printed.append(
            Printed(
                shown,
                title=f"in {each.source.key}" if len({one.source.key for one in chosen}) > 1 else "",
                task=exercise.task,
                blanks=blanks,
                solution=None if plain else each.line,
                answer=" ".join(exercise.answer),
                labels=plain,
            )
        )
    sheet = Sheet(chosen[0].line.rules.title or "Drill set", printed)
    options = SheetOptions(paper=paper)
    made = key_pdf(sheet, options) if answers else sheet_pdf(sheet, options)
    if made is None:
        raise InputError("this set has no answers to print: its lines are there to be played.")
    return made


# -- which lines ---------------------------------------------------------------------------------------------


def _sources(desk: Desk, tables: Tables, wish: dict[str, Any]) -> list[_Source]:
    home = home_key(tables)
    order = wish.get("keys", "home")
    minor = home.endswith("m")
    if order == "home":
        return [_Source(home, tables, desk.space(tables))]
    if order.startswith("level-"):
        keys = list(keys_of_level(int(order[6:]), minor))
    else:
        keys = list(keys_in_order(CHROMATIC if order == "chromatic" else CYCLE, minor))
        if order == "random":
            shuffle(keys, sub_seed(wish.get("seed", 1), "keys"))
    found = []
    for key in keys:
        moved = transpose_tables(tables, key)
        found.append(_Source(key, moved, desk.space(moved)))
    return found


def _choose(desk: Desk, tables: Tables, wish: dict[str, Any]) -> tuple[list[_Chosen], list[str]]:
    sources = _sources(desk, tables, wish)
    most, seed = wish["how_many"], wish.get("seed", 1)
    sampling = wish.get("sampling", "uniform")
    if sampling in ("balanced", "pairs"):
        chosen, remarks = _by_traits(sources, wish, most, seed)
    else:
        chosen, remarks = _by_share(sources, sampling, most, seed), []
    if not chosen:
        raise InputError("there is no line to make a drill set from; loosen a rule first.")
    if len(chosen) < most and sampling != "pairs" and not remarks:
        remarks = [f"{most} lines were asked for; there are only {len(chosen)}, and all of them are here."]
    return _ordered(chosen, sources, wish.get("order", "drawn")), remarks


def _by_share(sources: Sequence[_Source], sampling: str, most: int, seed: int) -> list[_Chosen]:
    """Lines key by key in turn, so that every key has its share as far as it has lines."""
    streams = [_stream(source, sampling, most, sub_seed(seed, source.key)) for source in sources]
    found: list[_Chosen] = []
    while streams and len(found) < most:
        left = []
        for stream in streams:
            line = next(stream, None) if len(found) < most else None
            if line is not None:
                found.append(line)
                left.append(stream)
        streams = left
    return found


def _stream(source: _Source, sampling: str, most: int, seed: int) -> Iterator[_Chosen]:
    space = source.space
    if sampling == "smoothest":
        lines = space.smoothest(most)
    elif sampling == "varied":
        lines = space.varied(most)
    else:
        lines = (space.line(number) for number in sample_numbers(space.count, most, seed))
    return (_Chosen(source, line) for line in lines)


def _by_traits(
    sources: Sequence[_Source], wish: dict[str, Any], most: int, seed: int
) -> tuple[list[_Chosen], list[str]]:
    traits = check_traits(wish.get("traits") or TRAITS)
    classes = [classify(each.space.rules, each.space.diagram, traits) for each in sources]
    several = len(sources) > 1
    constants = [(frozenset({each.key}),) for each in sources] if several else None
    names = ("key", *traits) if several else traits
    if wish["sampling"] == "balanced":
        found = stratified(classes, names, most, seed, constants)
        lines, remarks = found.lines, list(found.remarks)
    else:
        cover = pair_cover(classes, names, seed, constants)
        lines = cover.lines[:most]
        size = len(cover.lines)
        remarks = [
            f"{cover.pairs} pairs can occur; {size} lines have them all, and no set smaller than "
            f"{cover.bound} does."
        ]
        if size > most:
            remarks.append(
                f"The first {most} of the {size} are here, with {cover.covered[most - 1]} of the pairs."
            )
    chosen = []
    for place, events in lines:
        space = sources[place].space
        number = space.diagram.number(events)
        assert number is not None  # a class holds lines of its own diagram
        chosen.append(_Chosen(sources[place], space.line(number)))
    return chosen, remarks


def _ordered(chosen: list[_Chosen], sources: Sequence[_Source], order: str) -> list[_Chosen]:
    if order == "drawn":
        return chosen
    easiest = sorted(chosen, key=lambda each: difficulty(each.line))
    if order == "easiest":
        return easiest
    piles = [[each for each in easiest if each.source is source] for source in sources]
    if order == "one-thing":
        return [each for pile in piles for each in pile]
    longest = max(map(len, piles))
    return [pile[place] for place in range(longest) for pile in piles if place < len(pile)]


# -- what is asked of them -----------------------------------------------------------------------------------


def _exercises(chosen: Sequence[_Chosen], wish: dict[str, Any]) -> Iterator[tuple[_Chosen, Exercise]]:
    kinds = wish.get("kinds") or ["play"]
    wishes = Wishes(wish.get("blanks", 3), wish.get("completions", 8))
    for place, each in enumerate(chosen):
        seed = sub_seed(wish.get("seed", 1), "exercise", place)
        yield each, make(kinds[place % len(kinds)], each.line, each.source.space.diagram, seed, wishes)


def _shown(each: _Chosen, exercise: Exercise) -> tuple[AnnotatedLine, frozenset[int]]:
    """The line as the student sees it, and which of its notes are left out."""
    if exercise.kind == "slip":
        from everyline.check import as_read

        space = each.source.space
        line = as_read(space, exercise.shown, judge(space.rules, exercise.shown), None)
        assert line is not None  # it has notes
        return line, frozenset()
    if exercise.kind == "continue":
        return each.line, frozenset(range(len(exercise.shown), len(each.line.notes)))
    return each.line, frozenset(exercise.blanks)


def _told(each: _Chosen, exercise: Exercise) -> dict[str, Any]:
    picture = None
    if exercise.kind != "play":
        from everyline.paper.options import ScoreOptions
        from everyline.paper.picture import PictureOptions, svg

        shown, blanks = _shown(each, exercise)
        score = ScoreOptions(roles=False, degrees=False, numbers=False)
        picture = svg([shown], score, PictureOptions(width=PICTURE_WIDTH, legend=False), blanks=[blanks])
    return {
        **facts(each.line),
        "notes": " ".join(note.name for note in each.line.notes),
        "rules": changed(each.source.tables, {}),
        "key": each.source.key,
        "kind": exercise.kind,
        "task": exercise.task,
        "shown": exercise.text(each.line),
        "answer": list(exercise.answer),
        "difficulty": difficulty(each.line),
        "picture": picture,
    }
