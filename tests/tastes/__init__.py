"""Two tastes for tests, each learned from one half of the counts of solos (``benchmarks.derive_tastes``)."""

from __future__ import annotations

from pathlib import Path

from everyline.corpora.tastes import read_taste
from everyline.rules.taste import Taste

_FOLDER = Path(__file__).parent

LEARNED_FROM = Taste.of(read_taste(_FOLDER / "learned-from.json"))
KEPT_ASIDE = Taste.of(read_taste(_FOLDER / "kept-aside.json"))
