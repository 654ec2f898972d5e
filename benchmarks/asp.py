"""One more general solver to compare with: clingo, which lists the answer sets of a logic program.

It is given the same table of readings as the CP-SAT engine, so the two solve one and the same problem. It
reads no limits.
"""

from __future__ import annotations

from collections.abc import Iterator

import clingo

from benchmarks.spaces import refuse
from everyline.solver.contract import Allowance, Clock
from everyline.solver.engines.general import GeneralEngine
from everyline.solver.engines.skeleton import Row, Skeleton

PROGRAM = """
1 { at(P,B,N,A) : row(P,B,N,A) } 1 :- place(P).
:- at(P-1,_,_,A), at(P,B,_,_), A != B.
pitch(P,N) :- at(P,_,N,_).
#show pitch/2.
"""


class AspEngine(GeneralEngine):
    """States each skeleton as a logic program and lists its answer sets, projected onto the pitches."""

    name = "clingo"

    def pitches(self, skeleton: Skeleton, clock: Clock) -> Iterator[tuple[int, ...]]:
        """The pitches of every line of a skeleton; see ``GeneralEngine.pitches``."""
        refuse(skeleton.rules)
        layers = skeleton.rows()
        if not layers:
            return
        control = clingo.Control(["--project=show", "--models=0", "--warn=none"])
        control.add("base", [], PROGRAM + "\n".join(facts(layers)))
        control.ground([("base", [])])
        with control.solve(yield_=True) as found:
            for model in found:
                clock.left()
                notes = sorted(
                    (symbol.arguments[0].number, symbol.arguments[1].number)
                    for symbol in model.symbols(shown=True)
                )
                body = tuple(pitch for _, pitch in notes)
                yield body + (skeleton.tail(body[-1]) or ())


def facts(layers: list[list[Row]]) -> Iterator[str]:
    """The table of readings as facts of the program."""
    for place, rows in enumerate(layers):
        yield f"place({place})."
        for before, pitch, after in rows:
            yield f"row({place},{before},{pitch},{after})."


def build(allowance: Allowance) -> AspEngine:
    """The engine, held to an allowance."""
    return AspEngine(allowance)
