"""The benchmarks: what they compare is comparable, what they print is what they measured. No test times."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from benchmarks import __main__ as bench
from benchmarks import gecode
from benchmarks.asp import build
from benchmarks.forms import BIG, growing
from benchmarks.measure import Spread, duration, figure, in_a_process, in_turns, ratio
from benchmarks.one_engine import MODULES, measure
from benchmarks.page import FORMS, SEVENTHS, changed, varied
from benchmarks.ranking import NONILLION, TRILLION, covered
from benchmarks.report import Plot, Section, Table, machine
from benchmarks.spaces import COVERED, EIGHT_RULES, SIDE_BY_SIDE, form, rules
from everyline.solver.compiler import compile_rules
from everyline.solver.contract import ENGINES, Allowance, compare
from everyline.solver.cover import Cover
from everyline.solver.varied import BEST_FOUND, OPTIMAL
from tests.spaces import TRIPLETS, TWO_FIVE_ONE
from tests.spaces import rules as small


@pytest.mark.parametrize("tables", [TWO_FIVE_ONE, TRIPLETS], ids=["two-five-one", "triplets"])
def test_clingo_lists_the_lines_of_the_diagram(tables: dict) -> None:
    assert compare(small(tables), "diagram", build(Allowance())).describe().startswith("The engines")
    assert compare(small(tables), "diagram", build(Allowance())).agree


@pytest.mark.skipif(not gecode.is_installed(), reason="MiniZinc is not installed")
@pytest.mark.parametrize("tables", [TWO_FIVE_ONE, TRIPLETS], ids=["two-five-one", "triplets"])
def test_gecode_lists_the_lines_of_the_diagram(tables: dict) -> None:
    assert compare(small(tables), "diagram", gecode.build(Allowance())).agree
    assert "gecode" in MODULES
    assert "Gecode" in gecode.version()


def test_clingo_refuses_what_its_program_does_not_state() -> None:
    limited = small({**TWO_FIVE_ONE, "limit": [{"kind": "single-peak"}]})
    with pytest.raises(ValueError, match="no limits"):
        build(Allowance()).count(limited)


def test_every_engine_of_the_program_is_compared() -> None:
    assert set(ENGINES) < set(MODULES)


def test_what_is_compared_has_lines_and_not_too_many_for_a_general_solver() -> None:
    for tables in SIDE_BY_SIDE.values():
        assert 100 < compile_rules(rules(tables)).count < 10_000


def test_the_form_has_more_lines_than_promised() -> None:
    assert compile_rules(rules(form(32))).count > BIG


def test_whole_spaces_are_as_large_as_the_report_says() -> None:
    assert compile_rules(rules(form(6))).count > TRILLION
    assert compile_rules(rules(form(14))).count > NONILLION
    assert 35_000 < compile_rules(rules(COVERED)).count < 45_000


def test_eight_limits_leave_no_line() -> None:
    wanted = rules(EIGHT_RULES)
    assert len(wanted.limits) == 8
    assert compile_rules(wanted).count == 0


def test_a_cover_tells_its_proof_or_its_gap() -> None:
    line = (0, ())
    assert covered(Cover((line,) * 3, 7, (4, 6, 7), 3, OPTIMAL)).endswith("all 7 pairs; proved the fewest")
    assert covered(Cover((line,) * 3, 7, (4, 6, 7), 1, BEST_FOUND)).endswith(
        "at least 1 are needed, so a gap of 2"
    )


@pytest.mark.parametrize("form_name", FORMS)
def test_every_change_on_the_page_is_new_and_has_lines(form_name: str) -> None:
    tables = FORMS[form_name]
    sets = changed(tables, 9)
    assert len({json.dumps(each) for each in sets}) == 9
    assert all(compile_rules(rules(each)).count for each in sets)
    with pytest.raises(ValueError, match="20 ranges, not 21"):
        changed(tables, 21)
    counts = [
        compile_rules(rules({**tables, "changes": varied(tables["changes"], number)})).count
        for number in range(len(SEVENTHS))
    ]
    # The count on the screen tells that the change has come, so it must be another one.
    assert all(one != other for one, other in pairwise(counts))


def test_what_grows_grows() -> None:
    for sizes in growing(True).values():
        assert [size for size, _ in sizes] == sorted({size for size, _ in sizes})


def test_one_engine_answers_every_question() -> None:
    found = measure("diagram", next(iter(SIDE_BY_SIDE)), 2)
    assert all(len(found[question]) == 2 for question in ("count", "first", "all"))
    assert found["lines"] == compile_rules(rules(next(iter(SIDE_BY_SIDE.values())))).count
    assert json.loads(json.dumps(found)) == found


def test_a_spread_is_of_what_was_measured() -> None:
    assert Spread.of([3.0, 1.0, 2.0]) == Spread(2.0, 1.0, 3.0, 3)
    assert ratio([2.0, 9.0], [1.0, 3.0]) == Spread(2.5, 2.0, 3.0, 2)
    with pytest.raises(ValueError, match="nothing"):
        Spread.of([])


def test_works_take_turns() -> None:
    calls: list[str] = []
    in_turns([lambda: calls.append("a"), lambda: calls.append("b")], 2)
    assert "".join(calls) == "ab" * 3


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(2.5, "2.5 s"), (0.0125, "12.5 ms"), (1e-3, "1 ms"), (2.5e-5, "25 µs"), (1234.0, "1 234 s")],
)
def test_times_in_the_unit_that_suits_them(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_figures() -> None:
    shown = [figure(n) for n in (0, 0.5, 99.94, 100, 98765, 3e33)]
    assert shown == ["0", "0.5", "99.9", "100", "98 765", "3e+33"]


def test_a_process_that_fails_is_an_error() -> None:
    import sys

    with pytest.raises(RuntimeError, match="failed: no"):
        in_a_process([sys.executable, "-c", "raise SystemExit('no')"])
    spent, text = in_a_process([sys.executable, "-c", "print(1)"])
    assert spent > 0
    assert text == "1\n"


def test_the_report_holds_every_part_and_its_plots(tmp_path: Path) -> None:
    plot = Plot("x", "A curve", "n", "s", {"ours": [(1, 1.0), (10, 2.0)]})
    bench.write([Section("Part", "Words.", (Table(("a", "b"), ((1, "22"),)),), (plot,))], tmp_path)
    text = (tmp_path / "benchmarks.md").read_text()
    assert "| a | b  |\n|---|----|\n| 1 | 22 |" in text
    assert "![A curve](benchmarks-x.svg)" in text
    first = (tmp_path / "benchmarks-x.svg").read_bytes()
    assert plot.draw(tmp_path).read_bytes() == first
    assert machine().markdown() in text


def test_a_part_is_printed_and_nothing_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert bench.main(["--quick", "--only", "startup", "--folder", str(tmp_path)]) == 0
    assert "everyline count" in capsys.readouterr().out
    assert not list(tmp_path.iterdir())
