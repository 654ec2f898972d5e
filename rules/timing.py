"""What a rule file says of time: meter, beat, subdivision or cells, and the changes laid out on them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from everyline.corpora.errors import InputError
from everyline.rules.cells import check_beats, grid, read_rhythm
from everyline.rules.keys import SECTIONS
from everyline.rules.meter import Meter, check_subdivision, felt_in, parse_meter
from everyline.rules.progression import Progression, parse_progression
from everyline.rules.ruleset import Cell
from everyline.rules.schema import Where, sentence
from everyline.rules.spelling import parse_key


def read_time(
    data: Mapping[str, Any], top: Mapping[str, Any], where: Where
) -> tuple[tuple[Cell, ...], Progression]:
    """The rhythm cells, none where the line has a note on every slot, and the progression.

    ``data`` are the tables of the file, ``top`` its checked keys at the top. Raises InputError.
    """
    meter = _meter(top, where)
    cells = read_rhythm(data.get("rhythm", {}), meter, where.within(SECTIONS["rhythm"].title))
    if cells and "subdivision" in data:
        raise where.error(
            "subdivision",
            top["subdivision"],
            "with [rhythm] the cells divide the beat; leave subdivision out",
        )
    if top["key"] is not None:
        try:
            parse_key(top["key"])
        except InputError as error:
            raise where.error("key", top["key"], str(error)) from None
    subdivision = grid(cells, meter) if cells else _subdivision(top["subdivision"], meter, where)
    try:
        progression = parse_progression(top["changes"], meter, subdivision, top["key"])
        if cells:
            check_beats(progression)
    except InputError as error:
        raise InputError(f"{where}, changes: {sentence(str(error))}") from None
    return cells, progression


def _meter(top: Mapping[str, Any], where: Where) -> Meter:
    key = "meter"
    try:
        meter, key = parse_meter(top["meter"]), "beat"
        return felt_in(meter, top["beat"])
    except InputError as error:
        raise where.error(key, top[key], str(error)) from None


def _subdivision(stated: int | None, meter: Meter, where: Where) -> int:
    if stated is None:
        return meter.parts
    try:
        check_subdivision(stated, meter)
    except InputError as error:
        raise where.error("subdivision", stated, str(error)) from None
    return stated
