"""Costs learned from counts: by hand, against the counts, and leaning on another taste."""

from __future__ import annotations

from collections import Counter
from math import log2

import pytest

from everyline.corpora import load
from everyline.corpora.tastes import read_taste
from everyline.rules.plain_taste import plain_taste
from everyline.rules.taste import FAMILIES, HeardMove, Melody, Taste, load_taste
from everyline.rules.taste_learning import learned, statistics
from everyline.rules.taste_statistics import distances
from tests.tastes import KEPT_ASIDE, LEARNED_FROM

CORPUS = load()
SOLOS = load_taste("solos", CORPUS)


def test_plain_is_roughness_as_a_file() -> None:
    from_file, made = read_taste(CORPUS.tastes["plain"]), plain_taste().entry
    assert (from_file.melody, from_file.plain_melody) == (made.melody, made.plain_melody)
    assert from_file.harmony == made.harmony


def test_costs_by_hand() -> None:
    step = HeardMove(None, 2, True, "minor", 0, "minor", 2)
    again = HeardMove(2, 2, True, "minor", 2, "minor", 4)
    taste, evidence = learned("two", {step: 3, again: 1}, {})
    # Four moves on the beat, all of +2, and five more spread over the 25 intervals: the likeliest is free.
    assert taste.plain_melody[True][14] == 0
    assert taste.plain_melody[True][0] == round(16 * log2((4 + 5 / 25) / (5 / 25)))
    # Off the beat nothing was seen: every interval is as likely.
    assert set(taste.plain_melody[False]) == {0}
    # One pair, with sixty moves of the plainer context beside it.
    likeliest, other = 1 + 60 * (4.2 / 9), 60 * (0.2 / 9)
    assert taste.melody[Melody(2, True)][0] == round(16 * log2(likeliest / other))
    # Nothing was seen four times over one degree, so no such row is listed.
    assert all(context.family is None for context in taste.melody)
    # Three ninths, one third, and one more of each degree; half of the bits are charged.
    assert taste.harmony[True, "minor"][2] == 0
    assert taste.harmony[True, "minor"][4] == round(16 * log2(4 / 2) / 2)
    assert taste.harmony[True, "minor"][0] == round(16 * log2(4 / 1) / 2)
    assert evidence.moves == 4 and evidence.plainest == pytest.approx(4 / 9)
    assert taste.rhythm is None


def test_what_was_seen_more_often_costs_less() -> None:
    assert SOLOS.statistics is not None
    counts = SOLOS.statistics.intervals
    for small, large in ((2, 5), (-1, -6), (3, 11)):
        assert counts[small] > counts[large]
        assert SOLOS.plain_melody[False][small + 12] < SOLOS.plain_melody[False][large + 12]


def test_the_likeliest_costs_nothing_and_rhythm_costs_its_bits() -> None:
    rows = [*SOLOS.plain_melody.values(), *SOLOS.melody.values(), *SOLOS.harmony.values()]
    assert {min(row) for row in rows} == {0}
    assert SOLOS.rhythm is not None
    for row in SOLOS.rhythm.rows.values():
        assert sum(2 ** (-cost / 16) for cost in row.values()) == pytest.approx(1, abs=0.03)


def test_the_halves_hold_all_counts_together() -> None:
    assert SOLOS.statistics and LEARNED_FROM.statistics and KEPT_ASIDE.statistics
    for kind in ("pairs", "first", "degrees", "beats"):
        both = Counter(getattr(LEARNED_FROM.statistics, kind))
        both.update(getattr(KEPT_ASIDE.statistics, kind))
        assert both == +Counter(getattr(SOLOS.statistics, kind))


def test_the_halves_are_near_each_other() -> None:
    assert LEARNED_FROM.statistics and KEPT_ASIDE.statistics
    found = distances(LEARNED_FROM.statistics, KEPT_ASIDE.statistics)
    assert found.intervals < 0.001 and found.pairs < 0.015 and found.degrees < 0.005


def foretold(taste: Taste, moves: Counter[HeardMove]) -> float:
    """Bits a move, by melody alone, each row as shares."""
    bits = 0.0
    for move, count in moves.items():
        row = taste.melody_row(move.before, move.on, move.family_before, move.degree_before)
        bits += count * (row[move.interval + 12] / 16 + log2(sum(2 ** (-cost / 16) for cost in row)))
    return bits / moves.total()


def leaper() -> Counter[HeardMove]:
    """Somebody who leaps in fourths up and steps down, over minor chords alone."""
    found: Counter[HeardMove] = Counter()
    for degree in (0, 3, 7):
        found[HeardMove(-2, 5, True, "minor", degree, "minor", (degree + 5) % 12)] = 30
        found[HeardMove(5, -2, False, "minor", (degree + 5) % 12, "minor", (degree + 3) % 12)] = 30
    return found


def test_leaning_on_another_taste() -> None:
    own = leaper()
    taste, evidence = learned("mine", own, {}, SOLOS)
    alone, _ = learned("mine", own, {})
    assert foretold(taste, own) < foretold(SOLOS, own)
    # What was never played is told by the other taste: seconds are likelier than octaves over a major chord.
    unseen = taste.melody_row(-1, True, "major", 4)
    assert unseen[-1 + 12] < unseen[12 + 12] - 50
    # One's own habit carries over to contexts that were not seen.
    assert unseen[5 + 12] < SOLOS.melody_row(-1, True, "major", 4)[5 + 12]
    assert alone.melody_row(-1, True, "major", 4) == alone.plain_melody[True]
    assert 0 < evidence.chord < evidence.interval_before <= evidence.plainest < 1
    assert set(SOLOS.melody) <= set(taste.melody)
    assert set(taste.harmony) == {(on, family) for on in (False, True) for family in FAMILIES}


def test_a_single_move_changes_little() -> None:
    move = HeardMove(None, 1, True, "major", 0, "major", 1)
    taste, evidence = learned("mine", {move: 1}, {}, SOLOS)
    for context, row in SOLOS.melody.items():
        assert all(abs(a - b) < 90 for a, b in zip(row, taste.melody[context], strict=True))
    assert evidence.plainest < 0.02


def test_statistics_of_moves() -> None:
    found = statistics(
        {
            HeardMove(None, 2, True, "minor", 0, "minor", 2): 2,
            HeardMove(2, 1, False, "minor", 2, "minor", 3): 1,
        }
    )
    assert found.pairs == {(2, 1): 1} and found.first == {2: 2}
    assert found.intervals == {2: 2, 1: 1}
    assert found.degrees == {(True, "minor", 2): 2, (False, "minor", 3): 1}


def test_nothing_to_learn_from() -> None:
    with pytest.raises(ValueError, match="no move"):
        learned("mine", {}, {})
