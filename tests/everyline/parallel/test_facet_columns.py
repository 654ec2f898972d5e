"""Facets as columns of Parquet: over a whole space they count the same lines as ``solver.facets``."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import duckdb
import polars
import pyarrow as pa
import pyarrow.dataset
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.parallel.facet_columns import NOTE_FACETS, READING_FACETS
from everyline.parallel.table_columns import Schema
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.columns import Columns
from everyline.solver.compiler import compile_rules
from everyline.solver.facets import KINDS, facets
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules
from tests.sweeps import sweep

POSITIONED = {
    **TWO_FIVE_ONE,
    "range": {"instrument": "guitar", "position": 7, "strings": [1, 2, 3, 4], "span": 4},
}


def _table(space: Rules, roles: bool = False, size: int = 400) -> pa.Table:
    """All lines, in several batches."""
    schema = Schema(space, Columns(compile_rules(space)), roles)
    return pa.concat_tables(map(schema.table, schema.columns.batches(size=size)), promote_options="default")


def _exact(space: Rules) -> dict[str, dict[str, int]]:
    """Counts by kind of facet, each handoff with the change it belongs to."""
    found: dict[str, dict[str, int]] = {kind: {} for kind in KINDS}
    for facet in facets(space):
        for value in facet.values:
            label = value.label
            if facet.kind == "handoff":
                label += " into " + facet.title.removeprefix("note that enters ")
            if value.count:
                found[facet.kind][label] = value.count
    return found


def _spelled(space: Rules, pitches: Counter[int], chord: int) -> dict[str, int]:
    progression = space.progression
    return {
        spell(pitch, progression.chords[chord], space.scales[chord], space.key): count
        for pitch, count in pitches.items()
    }


def _check_notes(space: Rules, table: pa.Table) -> None:
    columns: dict[str, list[Any]] = {each.name: table[each.name].to_pylist() for each in NOTE_FACETS}
    exact = _exact(space)
    assert _spelled(space, Counter(columns["start_pitch"]), 0) == exact["start-note"]
    assert Counter(columns["start_degree"]) == exact["start-degree"]
    assert Counter(columns["entry_beat"]) == exact["entry-beat"]
    assert _spelled(space, Counter(columns["highest_pitch"]), -1) == exact["highest-note"]
    assert {str(number): count for number, count in Counter(columns["outside_notes"]).items()} == exact[
        "outside-notes"
    ]
    positions: Counter[str] = Counter()
    for bits in columns["positions"]:
        if not bits:
            positions["no position"] += 1
        positions.update(str(fret) for fret in range(64) if bits >> fret & 1)
    assert positions == {
        "no position" if label == "no position" else label.split()[1]: count
        for label, count in exact["position"].items()
    }


def _check_lines(space: Rules, table: pa.Table) -> None:
    rows = table.select([each.name for each in NOTE_FACETS]).to_pylist()
    for row, line in zip(rows, compile_rules(space).walk(), strict=True):
        pitches = [event.pitch for event in line]
        steps = [after - before for before, after in pairwise(pitches)]
        ways = [step > 0 for step in steps if step]
        chord = space.progression.chords[space.note(line[-1]).chord]
        assert row["notes"] == len(line)
        assert (row["start_pitch"], row["end_pitch"]) == (pitches[0], pitches[-1])
        assert row["end_degree"] == chord.degree_of(pitches[-1])
        assert (row["lowest_pitch"], row["highest_pitch"]) == (min(pitches), max(pitches))
        assert row["range_semitones"] == max(pitches) - min(pitches)
        assert row["largest_leap"] == max(map(abs, steps), default=0)
        assert row["direction_changes"] == sum(a != b for a, b in pairwise(ways))


def _check_readings(space: Rules, table: pa.Table) -> None:
    exact = _exact(space)
    for kind, name in (
        ("figure", "figures"),
        ("target", "targets"),
        ("passing", "passing"),
        ("handoff", "handoffs"),
        ("ending", "endings"),
    ):
        counts = Counter(word for words in table[name].to_pylist() for word in words)
        if kind == "target":
            assert table[name].null_count == 0
            no_figure = exact[kind].pop("no target", 0)
            assert no_figure == exact["figure"].get("no figure", 0)
        if kind == "passing":
            exact[kind].pop("none", 0)
        assert counts == exact[kind], kind


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, TRIPLETS, VAMP, POSITIONED])
def test_what_the_notes_decide(data: dict) -> None:
    space = rules(data)
    table = _table(space)
    assert table.num_rows > 0
    _check_notes(space, table)
    _check_lines(space, table)


FILLED = {
    **TWO_FIVE_ONE,
    "range": {"lowest": "A3", "highest": "C5"},
    "entry": {"start": ["D4"]},
    "passing": {"kinds": ["scale", "chromatic"]},
}


@pytest.mark.parametrize("data", [TRIPLETS, {**TWO_FIVE_ONE, "entry": {"start": ["D4", "F4"]}}, FILLED])
def test_what_the_analyses_decide(data: dict) -> None:
    space = rules(data)
    table = _table(space, roles=True)
    assert table.num_rows > 0
    _check_readings(space, table)


@pytest.mark.slow
@settings(max_examples=sweep(10, 60), deadline=None)
@given(seed=st.integers(0, 100_000))
def test_random_rules(seed: int) -> None:
    space = parse_rules(random_rules(seed, most=300), CORPUS)
    if compile_rules(space).count:
        table = _table(space, roles=True)
        _check_notes(space, table)
        _check_lines(space, table)
        _check_readings(space, table)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from everyline.parallel.parquet import export

    folder = tmp_path_factory.mktemp("facets") / "all.parquet"
    export(rules(TRIPLETS), folder, part_lines=1000, roles=True)
    return folder


def test_other_readers_see_the_same_facets(folder: Path) -> None:
    """pyarrow, DuckDB and polars, each on its own reader of Parquet."""
    exact = _exact(rules(TRIPLETS))
    table = pa.dataset.dataset(folder, format="parquet").to_table()
    frame = polars.scan_parquet(folder / "*.parquet").collect()
    degrees = duckdb.sql(
        f"SELECT start_degree, count(*) FROM '{folder}/*.parquet' GROUP BY start_degree"
    ).fetchall()
    assert dict(degrees) == Counter(table["start_degree"].to_pylist()) == exact["start-degree"]
    assert dict(frame["start_degree"].cast(polars.String).value_counts().iter_rows()) == exact["start-degree"]
    unnested = f"SELECT unnest(figures) AS figure FROM '{folder}/*.parquet'"
    figures = duckdb.sql(f"SELECT figure, count(*) FROM ({unnested}) GROUP BY figure").fetchall()
    assert dict(figures) == exact["figure"]
    assert dict(frame["figures"].explode().value_counts().iter_rows()) == exact["figure"]
    (fifth,) = duckdb.sql(
        f"SELECT count(*) FROM '{folder}/*.parquet' WHERE positions & (1::UBIGINT << 5) != 0"
    ).fetchall()
    assert fifth[0] == exact["position"].get("frets 5 to 9", 0)


def test_every_facet_is_said_in_the_manifest(folder: Path) -> None:
    import json

    said = json.loads((folder / "_manifest.json").read_text())["columns"]
    for facet in (*NOTE_FACETS, *READING_FACETS):
        assert said[facet.name] == facet.says
