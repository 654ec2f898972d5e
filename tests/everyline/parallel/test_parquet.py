"""Sets of lines as Parquet: what is in the files, how other readers see it, and what is left after a kill."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import duckdb
import polars
import pyarrow as pa
import pyarrow.compute
import pyarrow.dataset
import pyarrow.parquet as pq
import pytest

from everyline.corpora.errors import InputError, Stopped
from everyline.parallel.parquet import export, write_part
from everyline.parallel.parts import ExportPart, ExportPlan, make_plan
from everyline.parallel.parts_folder import MANIFEST, PLAN
from everyline.rules.line import Event
from everyline.rules.roughness import roughness
from everyline.rules.ruleset import Rules, Weights
from everyline.solver.column_roughness import ColumnRoughness
from everyline.solver.columns import Columns
from everyline.spaces.space import Space
from tests.everyline.parallel.folders import files
from tests.spaces import PICKUPS, RESTS, TRIPLETS, TWO_FIVE_ONE, rules

SMALL = rules(TWO_FIVE_ONE)


def _lines(folder: Path, space: Rules) -> list[tuple[Event, ...]]:
    """The lines as a reader puts them together, from the columns and the schema's metadata alone."""
    table = pa.dataset.dataset(folder, format="parquet").to_table()
    said = json.loads(table.schema.metadata[b"everyline"])
    found = []
    for row in table.to_pylist():
        line = []
        for tick in said["onsets"]:
            if row[f"pitch_{tick}"] is not None:
                length = said["lengths"].get(str(tick)) or row[f"length_{tick}"]
                line.append(Event(tick, row[f"pitch_{tick}"], length))
        found.append(tuple(line))
    return found


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, TRIPLETS, RESTS])
def test_the_columns_hold_every_line(data: dict, tmp_path: Path) -> None:
    space = Space(rules(data))
    export(space.rules, tmp_path / "all", part_lines=500)
    assert _lines(tmp_path / "all", space.rules) == list(space.diagram.walk())


def test_a_part_of_a_space_whose_lines_begin_and_end_at_many_places(tmp_path: Path) -> None:
    space = Space(rules(PICKUPS))
    export(space.rules, tmp_path / "some", first=3_000_000, last=3_000_999, part_lines=300)
    assert _lines(tmp_path / "some", space.rules) == list(islice(space.diagram.walk(3_000_000), 1000))


def test_number_and_roughness_are_those_of_the_lines(tmp_path: Path) -> None:
    space = Space(SMALL)
    export(SMALL, tmp_path / "all")
    table = pq.read_table(tmp_path / "all" / "part-000001.parquet", columns=["number", "roughness"])
    expected = [
        (number, roughness([event.pitch for event in line], SMALL.weights))
        for number, line in enumerate(space.diagram.walk(), 1)
    ]
    assert list(zip(*(table[name].to_pylist() for name in ("number", "roughness")), strict=True)) == expected


@pytest.mark.parametrize("weights", [Weights(), Weights(((0, 1), (3, 5)), 7, leap=1, unfilled=11, fill=2)])
def test_roughness_of_columns_with_gaps(weights: Weights) -> None:
    columns = Columns(Space(rules(PICKUPS)).diagram)
    (batch,) = columns.batches(2_500_000, 2_501_999)
    expected = [roughness([e.pitch for e in batch.line(place)], weights) for place in range(len(batch))]
    assert ColumnRoughness(weights)(batch).tolist() == expected


def test_roles_are_those_of_the_analysis_that_is_shown(tmp_path: Path) -> None:
    export(SMALL, tmp_path / "roles", first=100, last=140, roles=True)
    rows = pq.read_table(tmp_path / "roles" / "part-000001.parquet").to_pylist()
    for row, line in zip(rows, Space(SMALL)[99:140], strict=True):
        assert row["ending"] == line.ending
        roles = {name: role for name, role in row.items() if name.startswith("role_") and role}
        assert roles == {f"role_{note.onset}": note.role for note in line.notes}


def test_other_readers_see_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "all"
    export(SMALL, folder, part_lines=700)
    query = "select count(*), sum(roughness), max(number), count(pitch_0) from {}"
    (duck,) = duckdb.sql(query.format(f"'{folder}/*.parquet'")).fetchall()
    frame = polars.scan_parquet(folder / "*.parquet").collect()
    table = pa.dataset.dataset(folder, format="parquet").to_table()
    assert duck == (
        frame.height,
        frame["roughness"].sum(),
        frame["number"].max(),
        frame["pitch_0"].count(),
    )
    assert duck == (
        table.num_rows,
        pa.compute.sum(table["roughness"]).as_py(),
        1758,
        table.num_rows - table["pitch_0"].null_count,
    )


def test_numbers_beyond_a_machine_word_are_digits(tmp_path: Path) -> None:
    changes = " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 4)
    form = rules({"changes": changes, "ending": {"use": ["plain"]}})
    first = 10**30
    export(form, tmp_path / "far", first=first, last=first + 9)
    table = pq.read_table(tmp_path / "far" / "part-000001.parquet")
    assert table["number"].to_pylist() == [str(first + place) for place in range(10)]


def test_the_manifest_says_what_is_there(tmp_path: Path) -> None:
    export(SMALL, tmp_path / "all", part_lines=500)
    said = json.loads((tmp_path / "all" / MANIFEST).read_text())
    there = files(tmp_path / "all")
    assert {part["file"]: part["sha256"] for part in said["parts"]} == {
        name: digest for name, digest in there.items() if name.endswith(".parquet")
    }
    assert [(part["first"], part["last"]) for part in said["parts"]][-1] == ("1501", "1758")
    assert list(said["columns"]) == pq.read_schema(tmp_path / "all" / "part-000001.parquet").names


def test_a_broken_or_missing_part_is_done_again(tmp_path: Path) -> None:
    folder = tmp_path / "all"
    export(SMALL, folder, part_lines=500)
    whole = files(folder)
    (folder / "part-000002.parquet").write_bytes(b"PAR1")
    (folder / "part-000003.parquet").unlink()
    (folder / ".part-000003.parquet.x.part").write_bytes(b"half")
    counts: list[int] = []
    export(SMALL, folder, part_lines=500, progress=lambda done, every: counts.append(done))
    assert files(folder) == whole
    assert counts == [758, 1258, 1758]


def test_a_part_with_other_bytes_is_noticed_said_and_done_again(tmp_path: Path) -> None:
    folder = tmp_path / "all"
    export(SMALL, folder, part_lines=500)
    whole = files(folder)
    changed = folder / "part-000002.parquet"
    content = bytearray(changed.read_bytes())
    content[len(content) // 3] ^= 1  # the same length, the same footer
    changed.write_bytes(bytes(content))
    said: list[str] = []
    export(SMALL, folder, part_lines=500, remark=said.append)
    assert files(folder) == whole
    assert said == [f"{changed} has changed since it was written; rewriting it."]


def test_parts_without_a_sum_are_not_trusted(tmp_path: Path) -> None:
    folder = tmp_path / "all"
    export(SMALL, folder, part_lines=500)
    whole = files(folder)
    (folder / MANIFEST).write_bytes(b"\xff{")
    counts: list[int] = []
    export(SMALL, folder, part_lines=500, progress=lambda done, every: counts.append(done))
    assert files(folder) == whole
    assert counts == [0, 500, 1000, 1500, 1758]


def test_a_plan_that_is_no_text_is_refused(tmp_path: Path) -> None:
    export(SMALL, tmp_path / "all")
    (tmp_path / "all" / PLAN).write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="holds an export of an unreadable plan"):
        export(SMALL, tmp_path / "all")


@pytest.mark.skipif(sys.platform == "win32", reason="no locks on folders there")
def test_two_exports_do_not_write_to_one_folder(tmp_path: Path) -> None:
    refused: list[str] = []

    def meanwhile(done: int, every: int) -> None:
        with pytest.raises(InputError) as error:
            export(SMALL, tmp_path / "all", part_lines=500)
        refused.append(str(error.value))

    export(SMALL, tmp_path / "all", part_lines=500, progress=meanwhile)
    assert len(refused) == 5
    assert all("another export is writing to" in sentence for sentence in refused)
    export(SMALL, tmp_path / "all", part_lines=500)


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of Unix")
@pytest.mark.parametrize("kind", ["link", "pipe"])
def test_a_link_or_a_pipe_in_the_place_of_a_part_is_neither_followed_nor_waited_for(
    kind: str, tmp_path: Path
) -> None:
    folder = tmp_path / "all"
    export(SMALL, folder, part_lines=500)
    whole = files(folder)
    part, outside = folder / "part-000002.parquet", tmp_path / "outside"
    part.rename(outside)
    before = outside.read_bytes()
    if kind == "link":
        outside.write_bytes(before[:100])
        part.symlink_to(outside)
    else:
        os.mkfifo(part)
    export(SMALL, folder, part_lines=500)
    assert files(folder) == whole
    assert not part.is_symlink()
    assert len(outside.read_bytes()) == (100 if kind == "link" else len(before))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name")
@pytest.mark.parametrize("name", [MANIFEST, "_plan.json"])
def test_a_pipe_in_the_place_of_what_is_read_first_is_not_waited_for(name: str, tmp_path: Path) -> None:
    export(SMALL, tmp_path / "all", part_lines=500)
    (tmp_path / "all" / name).unlink()
    os.mkfifo(tmp_path / "all" / name)
    with pytest.raises(InputError, match=f"{name} is no file of its own"):
        export(SMALL, tmp_path / "all", part_lines=500)


def test_a_part_of_something_else_is_not_left_where_it_would_be_read(tmp_path: Path) -> None:
    export(SMALL, tmp_path / "all", part_lines=500)
    (tmp_path / "all" / "part-999999.parquet").write_bytes(b"PAR1")
    with pytest.raises(InputError, match=r"holds part-999999.parquet, .*; move it away"):
        export(SMALL, tmp_path / "all", part_lines=500)


def test_what_has_no_room_is_stopped_with_the_room_it_needs(tmp_path: Path) -> None:
    changes = " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 8)
    form = rules({"changes": changes, "ending": {"use": ["plain"]}})
    with pytest.raises(InputError, match="parts of 2097152, and 999999 are the most"):
        export(form, tmp_path / "far")
    assert not (tmp_path / "far").exists()
    with pytest.raises(InputError, match="a part of 100000000000 lines cannot be written"):
        export(form, tmp_path / "far", last=10, part_lines=10**11)
    # A thousand lines are written; what is asked for would need some hundred thousand times the largest disk.
    with pytest.raises(Stopped, match=r"would need about \d+ PB more and there are .* free"):
        export(form, tmp_path / "wide", last=999 * 10**11, part_lines=10**8, runner=_a_few_lines)
    assert not (tmp_path / "wide" / MANIFEST).exists()


def _a_few_lines(
    space: Rules, plan: ExportPlan, folder: Path, parts: list[ExportPart]
) -> Iterator[ExportPart]:
    """Writes the first thousand lines only, as the first part, and says that it had this many."""
    few = ExportPart(parts[0].name, 1, 1000)
    yield write_part(space, plan, folder, few)


KILLED = """
import sys
from everyline.parallel.parquet import export
from tests.everyline.parallel.folders import files
from tests.spaces import PICKUPS, rules
export(rules(PICKUPS), sys.argv[1], first=1_000_000, last=1_300_000, part_lines=20_000)
"""


def test_killed_three_times_and_taken_up_again(tmp_path: Path) -> None:
    folder, whole = tmp_path / "killed", tmp_path / "whole"
    for parts in (1, 4, 8):
        process = subprocess.Popen([sys.executable, "-c", KILLED, str(folder)])
        while len(list(folder.glob("part-*"))) < parts and process.poll() is None:
            time.sleep(0.01)
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert not (folder / MANIFEST).exists()
    for each in (folder, whole):
        export(rules(PICKUPS), each, first=1_000_000, last=1_300_000, part_lines=20_000)
    assert files(folder) == files(whole)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"part_lines": 100}, "parts of another size"),
        ({"last": 1700}, "other lines"),
        ({"roles": True}, "other columns"),
    ],
)
def test_a_folder_keeps_to_its_plan(changed: dict, words: str, tmp_path: Path) -> None:
    export(SMALL, tmp_path / "all", part_lines=500)
    before = files(tmp_path / "all")
    with pytest.raises(InputError, match=words):
        export(SMALL, tmp_path / "all", **{"part_lines": 500, **changed})
    with pytest.raises(InputError, match="other rules"):
        export(rules(TRIPLETS), tmp_path / "all", part_lines=500, last=1758)
    assert files(tmp_path / "all") == before


def test_nothing_else_is_touched(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(InputError, match="not an export"):
        export(SMALL, tmp_path)
    with pytest.raises(InputError, match="is a file"):
        export(SMALL, tmp_path / "notes.txt")
    with pytest.raises(InputError, match="cannot be made"):
        export(SMALL, tmp_path / "no" / "such")
    assert list(tmp_path.iterdir()) == [tmp_path / "notes.txt"]


@pytest.mark.parametrize(("first", "last", "lines"), [(0, 5, 9), (5, 4, 9), (1, 1759, 9), (1, 5, 0)])
def test_no_plan_without_lines(first: int, last: int, lines: int) -> None:
    with pytest.raises(InputError, match="cannot be"):
        make_plan(SMALL, 1758, first, last, lines, False)


def test_parts_of_two_spaces_in_turns(tmp_path: Path) -> None:
    """A process may be given parts of one space after those of another."""
    for each in (SMALL, rules(TRIPLETS)) * 2:
        plan = make_plan(each, 1758, 1, 10, 10, False)
        write_part(each, plan, tmp_path, next(plan.parts()))
        table = pq.read_table(tmp_path / "part-000001.parquet")
        assert json.loads(table.schema.metadata[b"everyline"])["changes"] == each.progression.text


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from everyline.cli.main import main

    words = ["export", "--changes", "Dm7 | G7 | Cmaj7", "--start", "D4", "--endings", "plain"]
    assert main([*words, "--numbers", "5-40", "--to", str(tmp_path / "out.parquet")]) == 0
    assert pq.read_table(tmp_path / "out.parquet" / "part-000001.parquet").num_rows == 36
    assert (tmp_path / "out.parquet" / PLAN).exists()
    assert main([*words, "--numbers", "7", "--to", str(tmp_path / "one"), "--format", "parquet"]) == 0
    for more, words_said in (
        (["--numbers", "1 3", "--to", str(tmp_path / "x.parquet")], "one range"),
        (["--workers", "2", "--to", str(tmp_path / "x.mid")], "--workers shares out Parquet files"),
        (["--to", str(tmp_path / "x.parquet"), "--part-lines", "0"], "a part of 0 lines"),
        (["--to", str(tmp_path / "x.parquet"), "--workers", "0"], "0 processes"),
    ):
        assert main([*words, *more]) == 2
        assert words_said in capsys.readouterr().err
