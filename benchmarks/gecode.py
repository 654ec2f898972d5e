"""One more general solver to compare with: Gecode, which is given a model in MiniZinc.

It has the same table of readings as the CP-SAT engine, so the two solve one and the same
problem. The program is run as it is installed (Debian: the package minizinc), and left out where it is not.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterable, Iterator, Sequence

from benchmarks.spaces import refuse
from everyline.solver.contract import Allowance, Clock
from everyline.solver.engines.general import GeneralEngine
from everyline.solver.engines.skeleton import Row, Skeleton

PROGRAM = "minizinc"
COMMAND = (
    PROGRAM,
    "--solver",
    "gecode",
    "--all-solutions",
    "--soln-sep",
    "",
    "--search-complete-msg",
    "",
    "-",
)
"""The model comes in by its standard input; each solution is one line of pitches."""


def version() -> str:
    """The versions of MiniZinc and Gecode, as they tell them."""
    if not is_installed():
        return "not installed"
    own = subprocess.run((PROGRAM, "--version"), capture_output=True, text=True, check=True).stdout
    solvers = subprocess.run((PROGRAM, "--solvers"), capture_output=True, text=True, check=True).stdout
    return " with ".join(
        found[0]
        for found in (re.search(r"(?<=version )[\d.]+", own), re.search(r"Gecode [\d.]+", solvers))
        if found
    )


def is_installed() -> bool:
    """Whether MiniZinc is there."""
    return shutil.which(PROGRAM) is not None


class GecodeEngine(GeneralEngine):
    """States each skeleton as a model with tables and lists its solutions, each line of pitches once."""

    name = "gecode"

    def pitches(self, skeleton: Skeleton, clock: Clock) -> Iterator[tuple[int, ...]]:
        """The pitches of every line of a skeleton; see ``GeneralEngine.pitches``."""
        refuse(skeleton.rules)
        layers = skeleton.rows()
        if not layers:
            return
        with subprocess.Popen(
            COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        ) as process:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(model(layers))
            process.stdin.close()
            found: set[tuple[int, ...]] = set()
            for line in process.stdout:
                clock.left()
                # A line with several analyses is a solution for each of them.
                body = tuple(int(word) for word in line.split()) if line[:1].isdigit() else ()
                if body and body not in found:
                    found.add(body)
                    yield body + (skeleton.tail(body[-1]) or ())
        if process.returncode:
            raise RuntimeError(f"{PROGRAM} ended with {process.returncode}")


def model(layers: list[list[Row]]) -> str:
    """The model, its data included."""
    last = len(layers) - 1
    every = [row for rows in layers for row in rows]
    lines = ['include "table.mzn";']
    for name, values in (("pitch", [row[1] for row in every]), ("reading", [row[2] for row in every])):
        lines.append(f"array[0..{last}] of var {min(values)}..{max(values)}: {name};")
    lines.append(_table("[pitch[0], reading[0]]", (row[1:] for row in layers[0]), 2))
    for place, rows in enumerate(layers[1:], 1):
        lines.append(_table(f"[reading[{place - 1}], pitch[{place}], reading[{place}]]", rows, 3))
    lines.append('solve satisfy; output [show(pitch[i]) ++ " " | i in index_set(pitch)];')
    return "\n".join(lines) + "\n"


def _table(variables: str, rows: Iterable[Sequence[int]], width: int) -> str:
    listed = sorted(tuple(int(value) for value in row) for row in rows)
    if not listed:
        return "constraint false;"
    flat = ", ".join(str(value) for row in listed for value in row)
    return f"constraint table({variables}, array2d(1..{len(listed)}, 1..{width}, [{flat}]));"


def build(allowance: Allowance) -> GecodeEngine:
    """The engine, held to an allowance."""
    return GecodeEngine(allowance)
