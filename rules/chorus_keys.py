"""Every key of a chorus plan that a rule file does not have, in one table."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from everyline.rules.keys import SECTIONS, WIDEST_REACH, Section
from everyline.rules.schema import FileKey, KeyType

LONGEST_REST = 1000
"""Beats of rest at most that a plan may ask for."""

SHARED = ("range", "entry", "arpeggio", "passing", "rhythm", "approach", "handoff", "ending")
"""Tables of a rule file that stand for every phrase, key by key, where a phrase does not say otherwise."""

OWN = ("figures", "endings")
"""Repeated tables of a rule file whose entries every phrase knows, beside its own."""

_PHRASE_TOP = {name: key for name, key in SECTIONS[""].keys.items() if name in ("subdivision", "own_rules")}


def _keys(*keys: FileKey) -> Mapping[str, FileKey]:
    return MappingProxyType({key.name: key for key in keys})


TOP: Mapping[str, FileKey] = MappingProxyType(
    {name: key for name, key in SECTIONS[""].keys.items() if name != "own_rules"}
)

JOIN = Section(
    "join",
    "how a phrase follows the one before it",
    _keys(
        FileKey(
            "reach",
            KeyType.NUMBER,
            "semitones from the last note of the phrase before to the first of this one, at most",
            default=7,
            least=0,
            most=WIDEST_REACH,
        ),
        FileKey(
            "least_rest",
            KeyType.NUMBER,
            "beats of rest between the two, at least",
            default=1,
            least=0,
            most=LONGEST_REST,
        ),
        FileKey(
            "most_rest",
            KeyType.NUMBER,
            "beats of rest between the two, at most",
            default_text="up to the phrase's entry",
            least=0,
            most=LONGEST_REST,
        ),
    ),
)

PHRASE = Section(
    "phrase",
    "a phrase: its bars, and everything in which it differs from the tables at the top",
    _keys(
        FileKey("name", KeyType.TEXT, "its name", default_text="its number"),
        FileKey("bars", KeyType.BARS, "its bars in the form, first to last", required=True),
        FileKey("from", KeyType.BEAT, "the beat of its first bar from which it counts", default="1"),
        FileKey(
            "until",
            KeyType.BEAT,
            "the beat of its last bar at which it is over; chords from there on are not its own",
            default_text="the end of the bar",
        ),
        FileKey(
            "subdivision",
            KeyType.NUMBER,
            _PHRASE_TOP["subdivision"].help,
            default_text="that of the plan",
            least=_PHRASE_TOP["subdivision"].least,
            most=_PHRASE_TOP["subdivision"].most,
        ),
        _PHRASE_TOP["own_rules"],
    ),
    many=True,
)

TOP_TABLES = ("scales", *SHARED, *OWN, "limit", "roughness", "join", "phrase")
PHRASE_TABLES = ("scales", *SHARED, *OWN, "limit", "join")
