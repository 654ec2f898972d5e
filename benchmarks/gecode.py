"""One more general solver to compare with: Gecode, which is given a model in MiniZinc.

It has the same tables of what each note may be as the CP-SAT engine, so the two solve one and the same
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
from everyline.solver.engines.skeleton import Skeleton
from everyline.solver.engines.tables import APPROACHES, BEGINS, Kind, Tables

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
        tables = Tables(skeleton)
        if not all(tables.choices):
            return
        with subprocess.Popen(
            COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        ) as process:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(model(skeleton, tables))
            process.stdin.close()
            found: set[tuple[int, ...]] = set()
            for line in process.stdout:
                clock.left()
                # A line with several analyses is a solution for each of them.
                body = tuple(int(word) for word in line.split()) if line[:1].isdigit() else ()
                if body and body not in found:
                    found.add(body)
                    yield body + ((skeleton.ending_pitches(body[-1]) or ()) if skeleton.ending else ())
        if process.returncode:
            raise RuntimeError(f"{PROGRAM} ended with {process.returncode}")


def model(skeleton: Skeleton, tables: Tables) -> str:
    """The model, its data included."""
    places = len(skeleton.body)
    every = [choice for choices in tables.choices for choice in choices]
    lines = ['include "table.mzn";']
    for name, values in (
        ("role", [each.role for each in every]),
        ("kind", [int(each.kind) for each in every]),
        ("aim", [each.aim for each in every]),
        ("pitch", [each.pitch for each in every]),
    ):
        lines.append(f"array[0..{places - 1}] of var {min(values)}..{max(values)}: {name};")
    for place in range(places):
        now = f"[role[{place}], kind[{place}], aim[{place}], pitch[{place}]]"
        lines.append(_table(now, tables.choices[place], 4))
        if place:
            move = f"[pitch[{place - 1}], kind[{place}], aim[{place}], pitch[{place}]]"
            lines.append(_table(move, tables.moves[place], 4))
            lines.append(_table(f"[role[{place - 1}], role[{place}]]", tables.follows(place), 2))
    approaches, begins = (
        f"{{{', '.join(str(int(each)) for each in some)}}}" for some in (APPROACHES, BEGINS)
    )
    up, down = int(Kind.UP), int(Kind.DOWN)
    lines.append(
        f"constraint forall(i in 1..{places - 1})((kind[i-1] in {approaches} -> aim[i-1] = aim[i])"
        f" /\\ not (kind[i-1] = {up} /\\ kind[i] = {down}) /\\ not (kind[i-1] = {down} /\\ kind[i] = {up}));"
    )
    for chord, least, most in skeleton.counted():
        there = [place for place, slot in enumerate(skeleton.body) if skeleton.chord(slot) == chord]
        count = " + ".join(f"bool2int(kind[{place}] in {begins})" for place in there) or "0"
        lines.append(f"constraint {count} >= {least} /\\ {count} <= {min(most, places)};")
    if skeleton.ending is not None:
        lead = [p for p in skeleton.tones(skeleton.body[-1]) if skeleton.ending_pitches(p) is not None]
        lines.append(f"constraint pitch[{places - 1}] in {{{', '.join(map(str, lead))}}};")
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
