"""Writing a taste as the text of a file, a row for each context, which reads back as the same taste."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from everyline.corpora.tastes import (
    DEGREES,
    NONE,
    OFF,
    ON,
    OTHER,
    PLAINEST,
    START,
    UNITS,
    Melody,
    Places,
    Statistics,
    TasteEntry,
)


def taste_text(entry: TasteEntry) -> str:
    """A taste as the text of a file; its statistics are whole numbers."""
    head = {"title": entry.title, "source": entry.source, "licence": entry.licence, "units": UNITS}
    parts = [f"  {_json(name)}: {_json(text)}" for name, text in head.items()]
    if entry.offset:
        parts.append(f'  "offset": {entry.offset}')
    melody = {_word(on): row for on, row in entry.plain_melody.items()}
    melody |= {_melody_key(context): row for context, row in entry.melody.items()}
    parts.append(_block("melody", melody))
    parts.append(_block("harmony", {f"{_word(on)} {name}": row for (on, name), row in entry.harmony.items()}))
    if entry.rhythm is not None:
        rows: dict[str, dict[str, int]] = {
            _places_text(before): {_places_text(p): cost for p, cost in row.items()}
            for before, row in entry.rhythm.rows.items()
        }
        rows[PLAINEST] = {_places_text(p): cost for p, cost in entry.rhythm.plainest.items()}
        rows[PLAINEST][OTHER] = entry.rhythm.other
        parts.append(_block("rhythm", rows))
    if entry.statistics is not None:
        parts.append(_statistics_text(entry.statistics))
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _statistics_text(found: Statistics) -> str:
    pairs: dict[str, dict[str, float]] = {}
    for (a, b), count in sorted(found.pairs.items()):
        pairs.setdefault(_interval_text(a), {})[_interval_text(b)] = count
    degrees: dict[str, list[float]] = {}
    for (on, family, degree), count in found.degrees.items():
        degrees.setdefault(f"{_word(on)} {family}", [0] * len(DEGREES))[degree] = count
    beats: dict[str, dict[str, float]] = {}
    for (before, places), count in found.beats.items():
        beats.setdefault(_places_text(before), {})[_places_text(places)] = count
    first = _json({_interval_text(each): count for each, count in sorted(found.first.items())})
    parts = [
        _block("pairs", pairs, 4),
        f'    "first": {first}',
        _block("degrees", degrees, 4),
        _block("beats", beats, 4),
    ]
    return '  "statistics": {\n' + ",\n".join(parts) + "\n  }"


def _block(name: str, rows: Mapping[str, Any], indent: int = 2) -> str:
    inside = ",\n".join(f"{' ' * (indent + 2)}{_json(key)}: {_json(row)}" for key, row in rows.items())
    inside = f"\n{inside}\n{' ' * indent}" if inside else ""
    return f"{' ' * indent}{_json(name)}: {{{inside}}}"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _word(on: bool) -> str:
    return ON if on else OFF


def _interval_text(interval: int | None) -> str:
    return NONE if interval is None else f"{interval:+d}" if interval else "0"


def _melody_key(context: Melody) -> str:
    words = [_interval_text(context.before), _word(context.on)]
    if context.family is not None:
        words += [context.family, str(context.degree)]
    return " ".join(words)


def _places_text(places: Places | None) -> str:
    return START if places is None else " ".join(map(str, places))
