"""Which lines a drill set has, and in which order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import islice, zip_longest

from everyline.corpora.counted import only, plural
from everyline.drill.batches import Batch, Item, Mapper, Sources, cut, here
from everyline.drill.difficulty import difficulty
from everyline.drill.sources import Source
from everyline.drill.spec import SOURCE_TRAITS, Spec
from everyline.files.progress import Progress
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import Events
from everyline.rules.taste import default_taste
from everyline.solver.classes import Classes, Signature, check_traits, classify
from everyline.solver.cover import pair_cover
from everyline.solver.hearing import Hearing
from everyline.solver.properties.table import PROPERTIES
from everyline.solver.sample import sample_numbers
from everyline.solver.smooth import smoothest
from everyline.solver.strange import drawn_by_taste
from everyline.solver.stratify import stratified, sub_seed
from everyline.solver.varied import OPTIMAL, POOL, varied


@dataclass(frozen=True, slots=True)
class Chosen:
    """The lines in order, and what is to be said about the choice."""

    items: tuple[Item, ...]
    remarks: tuple[str, ...]


def choose(
    spec: Spec, sources: Sequence[Source], progress: Progress | None = None, mapper: Mapper = here
) -> Chosen:
    """The lines of a drill set. The same description and seed give the same lines everywhere.

    ``mapper`` is what looks at the lines where they are put in an order of difficulty.
    """
    chosen = _BY_SAMPLING[spec.sampling](spec, sources)
    without = [f"{source.name} in {source.key}" for source in sources if not source.diagram.count]
    remarks = (f"no line can be had of {', '.join(without)}.",) if without else ()
    return Chosen(tuple(_ordered(spec, sources, chosen.items, progress, mapper)), (*chosen.remarks, *remarks))


# -- which lines ---------------------------------------------------------------------------------------------


def spread(most: int, counts: Sequence[int]) -> list[int]:
    """``most`` shared among sources that have so many lines: even to within one as far as they last."""
    shares = [0] * len(counts)
    left = min(most, sum(counts))
    while left:
        able = [place for place, count in enumerate(counts) if shares[place] < count]
        each = left // len(able)
        if each == 0:
            for place in able[:left]:
                shares[place] += 1
            break
        for place in able:
            more = min(each, counts[place] - shares[place])
            shares[place] += more
            left -= more
    return shares


def _per_source(
    spec: Spec, sources: Sequence[Source], draw: Callable[[int, Source, int], Iterable[int]]
) -> Chosen:
    most = spec.lines or 0
    counts = [source.diagram.count for source in sources]
    items = [
        (place, number)
        for place, (source, share) in enumerate(zip(sources, spread(most, counts), strict=True))
        for number in draw(place, source, share)
    ]
    return Chosen(tuple(items), _all(most, sum(counts)))


def _all(most: int, count: int) -> tuple[str, ...]:
    if most <= count:
        return ()
    return (f"{plural(most, 'line')} were asked for; {only(count, 'line')}, and all are here.",)


def _uniform(spec: Spec, sources: Sequence[Source]) -> Chosen:
    def draw(place: int, source: Source, most: int) -> Iterable[int]:
        return sample_numbers(source.diagram.count, most, sub_seed(spec.seed, "lines", place))

    return _per_source(spec, sources, draw)


def _smoothest(spec: Spec, sources: Sequence[Source]) -> Chosen:
    def draw(place: int, source: Source, most: int) -> Iterable[int]:
        found = islice(smoothest(source.diagram, source.rules.weights), most)
        return (line.number for line in found)

    return _per_source(spec, sources, draw)


def _varied(spec: Spec, sources: Sequence[Source]) -> Chosen:
    def draw(place: int, source: Source, most: int) -> Iterable[int]:
        pool = list(islice(smoothest(source.diagram, source.rules.weights), max(POOL, most)))
        return (line.number for line in islice(varied(pool), most))

    return _per_source(spec, sources, draw)


def _by_taste(spec: Spec, sources: Sequence[Source]) -> Chosen:
    def draw(place: int, source: Source, most: int) -> Iterable[int]:
        seed = sub_seed(spec.seed, "lines", place)
        drawn = drawn_by_taste(Hearing.of(source.rules, source.diagram), default_taste(), seed)
        return (line.number for line in islice(drawn, most))

    return _per_source(spec, sources, draw)


def _classes(spec: Spec, sources: Sequence[Source]) -> tuple[list[Classes], list[Signature], list[str]]:
    """The classes of each source, the values of whole sources, and the traits: those of sources first."""
    whole = list(dict.fromkeys(name for name in spec.traits if name in SOURCE_TRAITS))
    if spec.sampling == "balanced":
        several = [name for name in SOURCE_TRAITS if len({source.value(name) for source in sources}) > 1]
        whole = list(dict.fromkeys([*whole, *several]))
    single = check_traits(name for name in spec.traits if name not in SOURCE_TRAITS)
    constants = [tuple(frozenset({source.value(name)}) for name in whole) for source in sources]
    return [classify(s.rules, s.diagram, single) for s in sources], constants, [*whole, *single]


def _numbered(sources: Sequence[Source], lines: Iterable[tuple[int, Events]]) -> tuple[Item, ...]:
    found = []
    for place, line in lines:
        number = sources[place].diagram.number(line)
        assert number is not None  # the line was read off this diagram
        found.append((place, number))
    return tuple(found)


def _balanced(spec: Spec, sources: Sequence[Source]) -> Chosen:
    classes, constants, traits = _classes(spec, sources)
    found = stratified(classes, traits, spec.lines or 1, spec.seed, constants)
    return Chosen(_numbered(sources, found.lines), found.remarks)


def _pairs(spec: Spec, sources: Sequence[Source]) -> Chosen:
    classes, constants, traits = _classes(spec, sources)
    found = pair_cover(classes, traits, spec.seed, constants)
    lines = found.lines[: spec.lines]
    proof = "no smaller set has them" if found.status == OPTIMAL else f"no fewer than {found.bound} could do"
    remarks = [
        f"all {plural(found.pairs, 'pair')} of values that can occur are in "
        f"{plural(len(found.lines), 'line')}; {proof}."
    ]
    if len(lines) < len(found.lines):
        had = found.covered[len(lines) - 1]
        remarks.append(f"only {len(lines)} were asked for, and they have {had} of the pairs.")
    elif spec.lines is not None and spec.lines > len(lines):
        remarks.append(f"{spec.lines} lines were asked for; the set needs no more than {len(lines)}.")
    return Chosen(_numbered(sources, lines), tuple(remarks))


_BY_SAMPLING: dict[str, Callable[[Spec, Sequence[Source]], Chosen]] = {
    "uniform": _uniform,
    "balanced": _balanced,
    "pairs": _pairs,
    "smoothest": _smoothest,
    "varied": _varied,
    "taste": _by_taste,
}

# -- in which order ------------------------------------------------------------------------------------------

_EVERY = 500


def _ordered(
    spec: Spec, sources: Sequence[Source], items: Sequence[Item], progress: Progress | None, mapper: Mapper
) -> list[Item]:
    if spec.order == "drawn":
        return list(items)
    ranked: list[Rank] = []
    for ranks in mapper(ranks_of, spec, sources, cut(items, _EVERY)):
        ranked += ranks
        if progress is not None:
            progress(len(ranked), len(items))
    ranked.sort()
    if spec.order == "easiest":
        return [item for _, _, item in ranked]
    groups: dict[str, list[Item]] = {}
    for _, label, item in ranked:
        groups.setdefault(label, []).append(item)
    if spec.order == "one-thing":
        return [item for group in groups.values() for item in group]
    return [item for turn in zip_longest(*groups.values()) for item in turn if item is not None]


Rank = tuple[tuple[int, int, int], str, Item]
"""((difficulty, roughness, place), what the line has for the trait that the order goes by, the line)."""


def ranks_of(spec: Spec, sources: Sources, batch: Batch) -> list[Rank]:
    """Each line of a batch with what decides its place in the order."""
    ranks: list[Rank] = []
    for place, (source, number) in enumerate(batch[1], batch[0]):
        line = sources[source].line(number)
        label = "" if spec.order == "easiest" else label_of(sources[source], line, spec.by)
        ranks.append(((difficulty(line), line.roughness, place), label, (source, number)))
    return ranks


def label_of(source: Source, line: AnnotatedLine, trait: str) -> str:
    """What a line has for a trait, in the analysis shown; several values are joined."""
    if trait in SOURCE_TRAITS:
        return source.value(trait)
    read = PROPERTIES[trait].notes
    if read is not None:
        reader = read(source.rules)
        state = reader.start
        for event in line.events:
            state = reader.step(state, source.rules.note(event))
        return reader.words(state)
    if trait == "ending":
        return line.ending
    if trait == "figure":
        return " + ".join(figure.name for figure in line.figures) or "no figure"
    if trait == "handoff":
        return " ".join(note.name for note in line.notes if note.role == "handoff") or "no handoff"
    targets = [line.notes[figure.target] for figure in line.figures]
    if trait == "target-degree":
        return " + ".join(note.degree for note in targets) or "no target"
    beat = source.rules.progression.beat_name
    slots = [beat(note.onset // source.rules.slot_ticks) for note in targets]
    return " + ".join(f"{n.degree} on beat {at}" for n, at in zip(targets, slots, strict=True)) or "no target"
