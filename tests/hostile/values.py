"""Values that nobody should write, and files with something wrong in them."""

from __future__ import annotations

import io
import json
import random
import tomllib
import zipfile
from collections.abc import Callable
from typing import Any

from everyline.rules.rule_text import to_toml

Chance = random.Random

TEXTS = (
    *("", " ", "\t", "-", "--", "-1", "0", "1", "2&", "00", "1e400", "nan", "-inf", "9" * 30, "9" * 2000),
    *("\0", "\x1b[31m", "\x9b2J", "\x7f", "é", "𝄪", "\u202e", "\ud83d", "\udce9", "a\nb", "a\r\nb", "'", '"'),
    *("../x", "/", "~", "a/../../b", "x" * 300, "x" * 5000, "C#", "Hm7", "D4", "Z9", "Dm7 | G7", "|", "%"),
    *("plain", "above-below", "enclosure-2", "guitar", "up", "nearest", "first-enclosure", "%s", "{}", "[1]"),
    *(
        "[[line]]",
        "null",
        "true",
        "D4 F4 A4",
        "D4:1 r1",
        "@-99999",
        "1-99999999",
        "3-1",
        "1,2,,3",
        "#5 b9' | 3",
        *("swing", "walking", "left", "easiest", "mon,wed", "2026-02-30", "9999-12-31", "24:00", "60-70/3"),
    ),
)
NUMBERS = (0, -1, 1, 2, 3, 127, 128, 2**31, 2**63, -(2**63), 10**30)
OTHERS: tuple[Any, ...] = (
    True,
    False,
    1.5,
    1e300,
    [],
    {},
    [1],
    ["a"],
    [[]],
    [{}],
    {"a": 1},
    {"": {}},
    [0, "x"],
)


def value(chance: Chance) -> Any:
    """A value of any kind, for a key of a file or of a request."""
    kind = chance.random()
    if kind < 0.4:
        return chance.choice(TEXTS)
    return chance.choice(NUMBERS if kind < 0.7 else OTHERS)


def spoiled(data: Any, chance: Chance) -> Any:
    """Data with a few values, keys or entries replaced, taken out or doubled, anywhere in it."""
    made = json.loads(json.dumps(data))
    for _ in range(chance.choice((1, 1, 2, 4))):
        made = _spoil(made, chance)
    return made


def _spoil(data: Any, chance: Chance) -> Any:
    if not isinstance(data, dict | list) or not data or chance.random() < 0.1:
        return value(chance)
    made: Any = dict(data) if isinstance(data, dict) else list(data)
    place = chance.choice(list(made) if isinstance(made, dict) else range(len(made)))
    act = chance.random()
    if act < 0.6:
        made[place] = _spoil(made[place], chance)
    elif act < 0.75:
        del made[place]
    elif isinstance(made, dict):
        made[str(chance.choice(TEXTS))] = value(chance)
    else:
        made.append(made[place])
    return made


def spoiled_toml(text: str, chance: Chance) -> bytes:
    """A TOML file with something wrong in its tables, its text or its bytes."""
    if chance.random() < 0.6:
        try:
            tables = spoiled(tomllib.loads(text), chance)
            return to_toml(tables).encode("utf-8", "surrogatepass")
        except Exception:  # what TOML cannot write is spoiled as text
            pass
    return spoiled_bytes(text.encode(), chance)


def spoiled_bytes(data: bytes, chance: Chance) -> bytes:
    """Bytes with some of them changed, cut off, doubled or made into others."""
    made = bytearray(data)
    for _ in range(chance.choice((1, 1, 3, 8))):
        at, act = chance.randrange(len(made) + 1), chance.randrange(5)
        if act == 0 and made:
            made[min(at, len(made) - 1)] ^= 1 << chance.randrange(8)
        elif act == 1:
            del made[at : at + chance.choice((1, 5, 50))]
        elif act == 2:
            made[at:at] = str(chance.choice(TEXTS)).encode("utf-8", "surrogatepass")
        elif act == 3:
            made[at:at] = made[at : at + 40]
        else:
            made[at:at] = chance.randbytes(chance.choice((1, 4)))
    return bytes(made) if chance.random() < 0.95 else b""


def zipped(data: bytes, chance: Chance) -> bytes:
    """A compressed MusicXML file, in any compression."""
    made = io.BytesIO()
    kind = chance.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA))
    with zipfile.ZipFile(made, "w", kind) as file:
        file.writestr("META-INF/container.xml", '<container><rootfile full-path="s.xml"/></container>')
        file.writestr("s.xml", data)
    return made.getvalue()


Spoil = Callable[[Chance], bytes]
