"""What a benchmark has to say: words, tables and plots, for the screen and for the docs."""

from __future__ import annotations

import os
import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from benchmarks import gecode

Cell = str | int

PACKAGES = (
    "everyline",
    "numpy",
    "python-constraint2",
    "ortools",
    "clingo",
    "pyarrow",
    "verovio",
    "typst",
    "midirenderer",
)


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def markdown(self) -> str:
        """As a Markdown table whose columns line up."""
        cells = [self.head, *[tuple(map(str, row)) for row in self.rows]]
        widths = [max(len(row[place]) for row in cells) for place in range(len(self.head))]
        lines = [
            "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + " |"
            for row in cells
        ]
        return "\n".join([lines[0], "|" + "|".join("-" * (width + 2) for width in widths) + "|", *lines[1:]])


@dataclass(frozen=True, slots=True)
class Plot:
    """Curves on two logarithmic scales; ``curves`` are (x, y) points by name, all above 0."""

    name: str
    title: str
    across: str
    up: str
    curves: Mapping[str, Sequence[tuple[float, float]]]

    def draw(self, folder: Path) -> Path:
        """Write the plot to a folder as SVG, the same bytes for the same points."""
        import matplotlib as mpl

        mpl.use("svg")
        mpl.rcParams["svg.hashsalt"] = self.name
        from matplotlib import pyplot

        picture, axes = pyplot.subplots(figsize=(6, 4))
        for mark, (name, points) in zip("osD^vPX*", self.curves.items(), strict=False):
            axes.loglog([x for x, _ in points], [y for _, y in points], marker=mark, label=name)
        axes.set(title=self.title, xlabel=self.across, ylabel=self.up)
        axes.grid(True, which="both", alpha=0.3)
        axes.legend()
        picture.tight_layout()
        path = folder / f"benchmarks-{self.name}.svg"
        picture.savefig(path, metadata={"Date": None})
        pyplot.close(picture)
        return path


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the report."""

    title: str
    words: str
    tables: tuple[Table, ...]
    plots: tuple[Plot, ...] = ()

    def markdown(self) -> str:
        """The part as Markdown, its plots by file name."""
        parts = [f"## {self.title}", self.words, *(table.markdown() for table in self.tables)]
        parts += [f"![{plot.title}](benchmarks-{plot.name}.svg)" for plot in self.plots]
        return "\n\n".join(parts)


def machine() -> Table:
    """What was measured on."""
    rows: list[tuple[Cell, ...]] = [
        ("processor", _processor()),
        (
            "cores that this run may use",
            len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else "?",
        ),
        ("memory", _memory()),
        ("system", f"{platform.system()} {platform.machine()}"),
        ("Python", platform.python_version()),
    ]
    for package in PACKAGES:
        try:
            rows.append((package, version(package)))
        except PackageNotFoundError:
            rows.append((package, "not installed"))
    rows.append(("MiniZinc", gecode.version()))
    return Table(("", ""), tuple(rows))


def _processor() -> str:
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
    except OSError:
        return platform.processor() or "unknown"
    for line in text.splitlines():
        if line.startswith("model name"):
            return line.partition(":")[2].strip()
    return platform.processor() or "unknown"


def _memory() -> str:
    try:
        return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"
    except (AttributeError, ValueError, OSError):
        return "unknown"
