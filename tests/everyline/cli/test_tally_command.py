"""The command ``tally``: its table, its files, its picture."""

import csv
import io
import json
import re
import shlex
import subprocess
import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import pytest

from everyline.paper.tally_chart import DARK, LIGHT, chart, decimal, in_words
from everyline.solver.tally import KINDS, LINES, Count, Tally
from tests.everyline.cli.test_lines_commands import HEAVY
from tests.sweeps import sweep

README = Path(__file__).resolve().parents[3] / "README.md"
SVG = "{http://www.w3.org/2000/svg}"


def test_the_table_says_what_counting_over_the_listing_gives(run, rule_file) -> None:
    listed = list(csv.DictReader(io.StringIO(run("list", rule_file, "--format", "csv").out)))
    lines = {row["number"]: int(row["roughness"]) for row in listed}
    rows = list(csv.DictReader(io.StringIO(run("tally", rule_file, "--format", "csv").out)))
    assert {row["tally"] for row in rows} == set(KINDS)

    def counted(kind: str) -> dict[int, int]:
        return {int(row["number"]): int(row["count"]) for row in rows if row["tally"] == kind}

    assert counted("pitch") == Counter(int(row["pitch"]) for row in listed)
    assert counted("roughness") == Counter(lines.values())
    assert counted("notes") == Counter(Counter(row["number"] for row in listed).values())
    assert {row["total"] for row in rows if row["tally"] == "degree"} == {str(len(listed))}


def test_text_and_json_say_the_same(run, rule_file) -> None:
    text = run("tally", rule_file, "--only", "notes").out
    said = json.loads(run("tally", rule_file, "--only", "notes", "--format", "json").out)
    assert said["lines"] == "1758"
    (tally,) = said["tallies"]
    assert f"1758 lines, mean {tally['mean']:.2f}" in text
    for value in tally["values"]:
        assert any(row.split()[:2] == [value["value"], value["count"]] for row in text.splitlines())
    assert sum(value["share"] for value in tally["values"]) == pytest.approx(1)


def test_counts_of_any_size_are_exact(run) -> None:
    changes = ["Dm7", "G7", "Cmaj7", "A7"] * sweep(small=4, full=8)
    words = ["--changes", " | ".join(changes), "--endings", "plain"]
    said = json.loads(run("tally", *words, "--format", "json").out)
    count = run("count", *words).out.strip()
    assert len(count) > 30
    for tally in said["tallies"]:
        assert tally["total"] == str(sum(int(value["count"]) for value in tally["values"]))
        if tally["of"] == LINES:
            assert tally["total"] == count


def test_files_by_their_suffix(run, rule_file, tmp_path, refused) -> None:
    for form in ("json", "csv"):
        assert run("tally", rule_file, "--to", tmp_path / f"all.{form}") == (0, "", "")
        assert (tmp_path / f"all.{form}").read_text() == run("tally", rule_file, "--format", form).out
    run("tally", rule_file, "--to", tmp_path / "all.txt")
    assert (tmp_path / "all.txt").read_text() == run("tally", rule_file).out
    assert 'suffix is one of .svg, .txt, .json, .csv, and not ".pdf"' in refused(
        "tally", rule_file, "--to", tmp_path / "all.pdf"
    )
    assert "Use one" in refused("tally", rule_file, "--to", tmp_path / "x.svg", "--format", "csv")
    assert 'did you mean "interval"' in refused("tally", rule_file, "--only", "intervals").lower()


def test_no_line_no_tally(run, rule_file) -> None:
    rule_file.write_text(rule_file.read_text() + '[[limit]]\nkind = "largest-leap"\nsemitones = 2\n')
    answer = run("tally", rule_file)
    assert (answer.code, answer.out) == (1, "")


def test_nothing_heavy_is_imported(rule_file) -> None:
    code = (
        "import sys; from everyline.cli.main import main; "
        f"main(['tally', {str(rule_file)!r}]); print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_picture_has_a_bar_for_each_value_as_tall_as_its_share(run, rule_file, tmp_path) -> None:
    run("tally", rule_file, "--to", tmp_path / "all.svg")
    root = ElementTree.parse(tmp_path / "all.svg").getroot()
    said = json.loads(run("tally", rule_file, "--format", "json").out)
    panels = root.findall(f"{SVG}g")
    assert len(panels) == len(KINDS)
    for panel, tally in zip(panels, said["tallies"], strict=True):
        bars = panel.findall(f"{SVG}rect")
        titles = [bar.findtext(f"{SVG}title") or "" for bar in bars]
        assert [title.split(":")[0] for title in titles] == [value["value"] for value in tally["values"]]
        shares = [value["share"] for value in tally["values"]]
        tallest = max(zip(shares, bars, strict=True), key=lambda pair: pair[0])
        for share, bar in zip(shares, bars, strict=True):
            tall = float(tallest[1].attrib["height"]) * share / tallest[0]
            assert float(bar.attrib["height"]) == pytest.approx(max(tall, 0.5), abs=0.02)
            assert float(bar.attrib["height"]) <= 125


def test_the_picture_in_the_docs_is_what_the_readme_says_draws_it(run, tmp_path) -> None:
    (command,) = re.findall(r"^\$ everyline (tally .*) --to tally.svg$", README.read_text(), re.MULTILINE)
    run(*shlex.split(command), "--to", tmp_path / "tally.svg")
    assert (README.parent / "docs/pictures/tally.svg").read_text() == (tmp_path / "tally.svg").read_text()


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, glossary)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", [LIGHT, DARK])
@pytest.mark.parametrize(("use", "least"), [("text", 4.5), ("quiet", 4.5), ("bar", 3.0)])
def test_contrast(theme: dict[str, str], use: str, least: float) -> None:
    """WCAG 2.2: 4.5 to 1 for text (1.4.3), 3 to 1 for what one must see to understand (1.4.11)."""
    lighter, darker = sorted((_luminance(theme[use]), _luminance(theme["ground"])), reverse=True)
    assert (lighter + 0.05) / (darker + 0.05) >= least


def test_many_values_share_bars() -> None:
    entries = tuple(Count(str(cost), cost, 10**70 + cost) for cost in range(33, 900, 2))
    tally = Tally("roughness", "a < b", LINES, entries)
    root = ElementTree.fromstring(chart([tally], "R & D"))
    bars = root.findall(f".//{SVG}g/{SVG}rect")
    assert 40 < len(bars) <= 90
    assert bars[0].findtext(f"{SVG}title", "").startswith("30 to 39: 4.00 × 10^70 (")
    assert "a bar for each 10 values" in "".join(root.itertext())


@pytest.mark.parametrize(
    ("value", "words"),
    [("0", "0.00"), ("-1/300", "0.00"), ("-1/3", "-0.33"), ("1/8", "0.13"), ("5/2", "2.50"), ("-7", "-7.00")],
)
def test_two_places(value: str, words: str) -> None:
    assert decimal(Fraction(value)) == words


def test_counts_as_they_are_read() -> None:
    assert in_words(1234567) == "1 234 567"
    assert in_words(6 * 10**76) == "6.00 × 10^76"
