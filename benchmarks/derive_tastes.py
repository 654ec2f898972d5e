"""Makes the tastes of the corpora and of the tests: ``python -m benchmarks.derive_tastes FOLDER``.

FOLDER holds ``solo-steps.csv`` and ``solo-beats.csv``, counts of what follows what in transcribed solos. They
are not part of the project; what is learned from them is. The two halves for the tests share the counts out
by throwing a coin with a fixed seed for each move and each beat (binomial thinning), so that one can be held
against what it has not learned from.
"""

from __future__ import annotations

import argparse
import csv
import random
from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from benchmarks.measure import ROOT
from everyline.corpora.taste_text import taste_text
from everyline.files.writing import writing
from everyline.rules.plain_taste import plain_taste
from everyline.rules.taste import HeardMove, Places, Taste
from everyline.rules.taste_learning import learned

TITLE = "Transcribed jazz solos"
SOURCE = (
    "Learned from counts over 233 of the 456 solos of the Weimar Jazz Database (Pfleiderer, Frieler, Abeßer, "
    "Zaddach, Burkhart (eds.), Inside the Jazzomat, Schott Campus 2017), read from its release in the R "
    "package jazzodata"
)
LICENCE = (
    "Open Database License 1.0 (the Weimar Jazz Database, and with it this table of counts and costs derived "
    "from it); MIT (jazzodata)"
)
SEED = 1

T = TypeVar("T", bound=Hashable)


def main() -> None:
    """Read the counts and write the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    moves, beats = read_moves(folder / "solo-steps.csv"), read_beats(folder / "solo-beats.csv")
    texts = {"title": TITLE, "source": SOURCE, "licence": LICENCE}
    tastes = ROOT / "corpora" / "tastes"
    write(learned("solos", moves, beats, texts=texts)[0], tastes)
    write(replace(plain_taste(), licence="MIT"), tastes)
    halves = zip(halved(moves, SEED), halved(beats, SEED), strict=True)
    for name, (some_moves, some_beats) in zip(("learned-from", "kept-aside"), halves, strict=True):
        texts["title"] = f"{TITLE}, one half of the counts ({name})"
        write(learned(name, some_moves, some_beats, texts=texts)[0], ROOT / "tests" / "tastes")


def write(taste: Taste, folder: Path) -> None:
    """Write a taste into a folder."""
    folder.mkdir(exist_ok=True)
    with writing(folder / f"{taste.name}.json") as out:
        out.write(taste_text(taste.entry))


def halved(counts: Mapping[T, int], seed: int) -> tuple[Counter[T], Counter[T]]:
    """The counts shared out, each single one by a coin."""
    coin = random.Random(seed)
    here: Counter[T] = Counter()
    there: Counter[T] = Counter()
    for each, count in counts.items():
        heads = coin.getrandbits(count).bit_count()
        here[each], there[each] = heads, count - heads
    return +here, +there


def read_moves(path: Path) -> Counter[HeardMove]:
    """The moves, with the note's chord and the chord of the note before."""
    found: Counter[HeardMove] = Counter()
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            before = row["interval_before"]
            move = HeardMove(
                int(before) if before else None,
                int(row["interval"]),
                row["on_beat"] == "1",
                row["family_before"],
                int(row["degree_before"]),
                row["family"],
                int(row["degree"]),
            )
            found[move] += int(row["count"])
    return found


def read_beats(path: Path) -> Counter[tuple[Places | None, Places]]:
    """Places of onset in a beat after those of the beat before; None for ``start``."""
    found: Counter[tuple[Places | None, Places]] = Counter()
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            before = row["onsets_before_in_48ths_of_a_beat"]
            here = _places(row["onsets_in_48ths_of_a_beat"])
            found[None if before == "start" else _places(before), here] += int(row["count"])
    return found


def _places(text: str) -> Places:
    return tuple(map(int, text.split()))


if __name__ == "__main__":
    main()
