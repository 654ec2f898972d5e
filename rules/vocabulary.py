"""Figures and endings of a rule file: its own, and those that it names out of the corpus."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

from everyline.corpora import PLAIN, Corpus, Ending, Figure, make_ending, parse_steps
from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.endings import EndingDoesNotFit, PlacedEnding, place, suits_third
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Cell
from everyline.rules.schema import Where, listed, sentence

Named = TypeVar("Named", Figure, Ending)


def own_figures(tables: list[dict[str, Any]], corpus: Corpus, where: Where) -> dict[str, Figure]:
    """The figures that a file writes itself, by name. Raises InputError."""
    figures = []
    for table in tables:
        try:
            figures.append(Figure(table["name"], parse_steps(table["steps"]), table["remark"]))
        except InputError as error:
            raise InputError(f'{where}, figure "{table["name"]}": {sentence(str(error))}') from None
    return _by_name(figures, "figure", {**corpus.figures, **corpus.families} if figures else {}, where)


def own_endings(tables: list[dict[str, Any]], corpus: Corpus, where: Where) -> dict[str, Ending]:
    """The endings that a file writes itself, by name. Raises InputError."""
    endings = []
    for table in tables:
        over = None if table["over"] is None else tuple(table["over"])
        try:
            endings.append(make_ending(**{**table, "over": over}))
        except InputError as error:
            raise InputError(f"{where}, [[endings]]: {sentence(str(error))}") from None
    return _by_name(endings, "ending", corpus.endings if endings else {}, where)


def _by_name(made: list[Named], what: str, known: Iterable[str], where: Where) -> dict[str, Named]:
    """The things by name; a name that is taken would make it doubtful which one is meant."""
    found: dict[str, Named] = {}
    for each in made:
        if each.name in found:
            raise where.complaint(f'two {what}s are called "{each.name}"; rename one of them')
        if each.name in known:
            raise where.complaint(
                f'{what} "{each.name}": the corpus has one of this name already; give yours another name'
            )
        found[each.name] = each
    return found


def read_figures(
    names: list[str] | None, own: Mapping[str, Figure], corpus: Corpus, where: Where
) -> tuple[Figure, ...]:
    """The figures in use, each sequence of steps once: figures and families by name.

    Where none are named: every figure of the catalogue that has notes on both sides of its target.
    """
    if names is None:
        return tuple(figure for figure in corpus.figures.values() if figure.two_sided)
    chosen: dict[tuple[str, ...], Figure] = {}
    for name in names:
        if name in corpus.families:
            figures = corpus.families[name]
        elif name in own or name in corpus.figures:
            figures = (own.get(name) or corpus.figures[name],)
        else:
            known = [*own, *corpus.figures, *corpus.families]
            raise where.error(
                "figures",
                names,
                f'there is no figure "{name}"; there are {listed(known)}.{did_you_mean(name, known)}',
            )
        for figure in figures:
            chosen.setdefault(figure.steps, figure)
    return tuple(chosen.values())


def read_endings(
    names: list[str] | None,
    own: Mapping[str, Ending],
    corpus: Corpus,
    progression: Progression,
    earliest: int,
    where: Where,
    cells: Sequence[Cell] = (),
    scale: Sequence[int] | None = None,
) -> tuple[bool, tuple[PlacedEnding, ...], tuple[Ending, ...]]:
    """Whether ``plain`` is in use, and the stock endings in use: as placed on the changes, and as written.

    Where none are named: plain, those of fitting_endings, and the file's own. ``scale`` is that of the last
    chord, where it is not the usual one. Raises InputError for an ending that does not exist, and for a
    named one or one of the file's own that can never fit.
    """
    if names is None:
        found = fitting_endings(corpus, progression, earliest, cells)
        needed = list(own.values())
    else:
        found = []
        needed = [_ending(name, names, own, corpus, where) for name in dict.fromkeys(names) if name != PLAIN]
    for ending in needed:
        try:
            found.append((place(ending, progression, earliest, cells, scale), ending))
        except EndingDoesNotFit as error:
            raise InputError(f"{where}, use: {sentence(str(error))}") from None
    plain = names is None or PLAIN in names
    return plain, tuple(placed for placed, _ in found), tuple(ending for _, ending in found)


def fitting_endings(
    corpus: Corpus, progression: Progression, earliest: int, cells: Sequence[Cell]
) -> list[tuple[PlacedEnding, Ending]]:
    """The endings of the corpus that are used where none are named: those that fit, suit the last chord's
    third and do not rest on a colour tone."""
    found: list[tuple[PlacedEnding, Ending]] = []
    for ending in () if progression.single else corpus.endings.values():
        if ending.colour:
            continue
        try:
            placed = place(ending, progression, earliest, cells)
        except EndingDoesNotFit:
            continue
        if suits_third(placed, progression):
            found.append((placed, ending))
    return found


def _ending(name: str, names: list[str], own: Mapping[str, Ending], corpus: Corpus, where: Where) -> Ending:
    if name in own:
        return own[name]
    if name in corpus.endings:
        return corpus.endings[name]
    known = [PLAIN, *own, *corpus.endings]
    raise where.error(
        "use", names, f'there is no ending "{name}"; there are {listed(known)}.{did_you_mean(name, known)}'
    )
