"""A sound file of every format that the program reads, and the same with something wrong in it."""

from __future__ import annotations

import json
import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from everyline.drill.choose import choose
from everyline.drill.sources import sources_of
from everyline.drill.spec import Spec
from everyline.drill.write import DrillSet
from everyline.paper.musicxml import write as write_musicxml
from everyline.paper.score_options import ScoreOptions
from everyline.practice.kept import RuleFile
from everyline.practice.portable import folder_text
from everyline.practice.records import Grade, Kind, Practised
from everyline.practice.store import Store
from everyline.sound.midi_file import write as write_midi
from everyline.sound.sound_options import SoundOptions
from everyline.spaces.space import Space
from tests.hostile.takes import TAKES, spoiled_take, takes
from tests.hostile.values import Chance, spoiled, spoiled_bytes, spoiled_toml, zipped
from tests.spaces import CORPUS

RULES = """
title = "A rule file"
changes = "G7 | Cmaj7"
key = "C"
meter = "4/4"
subdivision = 2
[range]
lowest = "C4"
highest = "C5"
[entry]
start = ["D4"]
beats = ["1", "2"]
[arpeggio]
direction = "either"
turns = 0
[approach]
figures = ["above-below"]
count = ["0-1"]
targets = ["1", "3"]
reach = 7
[handoff]
rule = "nearest"
[ending]
use = ["plain", "mine"]
lead_in = 4
[[figures]]
name = "two-down"
steps = "+2 +1"
[[endings]]
name = "mine"
notes = "b9 1 | 3"
rhythm = "8 8 | 4"
[[limit]]
kind = "largest-leap"
semitones = 7
[[limit]]
kind = "require-degrees"
degrees = ["3"]
chord = "G7"
[scales]
G7 = "altered"
"""
PLAN = """
title = "A plan"
changes = "Dm7 | G7 | Cmaj7 | A7"
key = "C"
[range]
lowest = "C4"
highest = "C5"
[approach]
figures = ["above-below"]
[ending]
use = ["plain"]
[join]
reach = 4
least_rest = 1
[[phrase]]
name = "call"
bars = "1-2"
[[phrase]]
name = "answer"
bars = "3-4"
until = "3"
entry = { beats = ["2"] }
[[limit]]
kind = "single-peak"
"""
LESSON = """
title = "A lesson"
[[line]]
rules = "rules.toml"
number = 1
title = "One"
[[line]]
rules = "first-enclosure"
number = 2
key = "F"
"""
DRILL = """
rules = ["rules.toml"]
lines = 2
keys = ["home"]
kinds = ["play", "complete"]
order = "easiest"
formats = ["text"]
seed = 3
"""
FIGURES = """
[[figure]]
name = "f"
steps = "+2 +1"
[[family]]
name = "g"
size = 2
steps = ["+1", "-1"]
"""
ENDINGS = """
[[ending]]
name = "plain-of-mine"
notes = "b9 1 | 3"
rhythm = "8 8 | 4"
over = ["7"]
"""
PROGRESSIONS = """
[[progression]]
name = "p"
title = "P"
changes = "Dm7 | G7"
key = "C"
numerals = "iim7 | V7"
level = 1
"""
INSTRUMENTS = """
[[instrument]]
name = "up/../x"
title = "X"
family = "voice"
lowest = "E3"
highest = "E5"
comfortable = ["E3", "E5"]
program = 1
"""
CORPORA = {
    "own/figures.toml": FIGURES,
    "own/endings/mine.toml": ENDINGS,
    "own/progressions.toml": PROGRESSIONS,
    "own/instruments.toml": INSTRUMENTS,
    "own/rulefiles/mine.toml": RULES,
}
"""A folder of corpora."""


@cache
def _made() -> dict[str, bytes]:
    """What our own writers make: scores, MIDI and a manifest."""
    spec = Spec(("first-enclosure",), 2, formats=("text",))
    sources = sources_of(spec, CORPUS)
    line = sources[0].line(3)
    with TemporaryDirectory() as folder:
        DrillSet(spec, sources, choose(spec, sources)).write(Path(folder) / "set")
        manifest = (Path(folder) / "set" / "manifest.jsonl").read_bytes()
    return {
        **_practice(),
        "line.musicxml": write_musicxml([line], ScoreOptions()),
        "line.mid": write_midi([line], SoundOptions()),
        "set/manifest.jsonl": manifest,
        "line.txt": " ".join(note.name for note in line.notes).encode(),
        **takes(line),
    }


def _practice() -> dict[str, bytes]:
    """A students' file and a folder of one of them, with a line and a round."""
    source = RuleFile.of(tomllib.loads(RULES), "rules.toml", CORPUS, None)
    line = source.line(Space(source.rules).line(1), date(2026, 11, 26))
    played = Practised("1", line.id, line.given, "C", Kind.PLAY, 90, Grade.CLEAN)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "students.db"
        with Store(path, create=True) as store:
            store.begin("Ada", "guitar")
            store.give("Ada", [line])
            store.record("Ada", played)
            text = folder_text(store.folder("Ada"))
        return {"students.db": path.read_bytes(), "student.json": text.encode()}


TEXTS = {"rules.toml": RULES, "plan.toml": PLAN, "lesson.toml": LESSON, "drill.toml": DRILL, **CORPORA}
NAMES = (
    *TEXTS,
    "line.musicxml",
    "line.mxl",
    "line.mid",
    "line.txt",
    *TAKES,
    "students.db",
    "student.json",
    "set/manifest.jsonl",
    "own/instruments.toml",
)
"""Every file that a case may find in its folder."""


def sound(name: str, chance: Chance) -> bytes:
    """The bytes of a file with nothing wrong in it."""
    if name in TEXTS:
        return TEXTS[name].encode()
    if name == "line.mxl":
        return zipped(_made()["line.musicxml"], chance)
    return _made()[name]


def hostile(name: str, chance: Chance) -> bytes:
    """The bytes of a file with something wrong in it."""
    data = sound(name, chance)
    if name.endswith(".toml"):
        return spoiled_toml(data.decode(), chance)
    if name in TAKES:
        return spoiled_take(name, data, chance)
    if name == "line.mxl" and chance.random() < 0.5:
        return zipped(spoiled_bytes(_made()["line.musicxml"], chance), chance)
    if name.endswith(".json") and chance.random() < 0.7:
        return json.dumps(spoiled(json.loads(data), chance)).encode()
    if name.endswith(".jsonl") and chance.random() < 0.7:
        rows = [json.loads(row) for row in data.splitlines()]
        at = chance.randrange(len(rows))
        rows[at] = spoiled(rows[at], chance)
        return "".join(json.dumps(row) + "\n" for row in rows).encode()
    return spoiled_bytes(data, chance)
