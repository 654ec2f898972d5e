"""One more general solver to compare with: clingo, which lists the answer sets of a logic program.

It is given the same tables of what each note may be as the CP-SAT engine, so the two solve one and the same
problem. It reads no limits and knows the default ``turns`` and ``after`` only: enough for what is compared.
"""

from __future__ import annotations

from collections.abc import Iterator

import clingo

from benchmarks.spaces import refuse
from everyline.solver.contract import Allowance, Clock
from everyline.solver.engines.general import GeneralEngine
from everyline.solver.engines.skeleton import Skeleton
from everyline.solver.engines.tables import APPROACHES, BEGINS, Kind, Tables

PROGRAM = """
1 { at(P,R,K,A,N) : choice(P,R,K,A,N) } 1 :- place(P).
role(P,R) :- at(P,R,_,_,_).
kind(P,K) :- at(P,_,K,_,_).
aim(P,A) :- at(P,_,_,A,_).
pitch(P,N) :- at(P,_,_,_,N).
:- pitch(P-1,B), at(P,_,K,A,N), not move(P,B,K,A,N).
:- role(P-1,R), role(P,S), not follows(P,R,S).
:- kind(P-1,K), approach(K), aim(P-1,A), place(P), not aim(P,A).
:- kind(P-1,up), kind(P,down).
:- kind(P-1,down), kind(P,up).
:- counted(C,L,H), not L #count { P : kind(P,K), begin(K), chord(P,C) } H.
:- final(P), stock, pitch(P,N), not lead(N).
#show pitch/2.
"""


class AspEngine(GeneralEngine):
    """States each skeleton as a logic program and lists its answer sets, projected onto the pitches."""

    name = "clingo"

    def pitches(self, skeleton: Skeleton, clock: Clock) -> Iterator[tuple[int, ...]]:
        """The pitches of every line of a skeleton; see ``GeneralEngine.pitches``."""
        refuse(skeleton.rules)
        tables = Tables(skeleton)
        if not all(tables.choices):
            return
        control = clingo.Control(["--project=show", "--models=0", "--warn=none"])
        control.add("base", [], PROGRAM + "\n".join(facts(skeleton, tables)))
        control.ground([("base", [])])
        with control.solve(yield_=True) as found:
            for model in found:
                clock.left()
                notes = sorted(
                    (symbol.arguments[0].number, symbol.arguments[1].number)
                    for symbol in model.symbols(shown=True)
                )
                body = tuple(pitch for _, pitch in notes)
                yield body + ((skeleton.ending_pitches(body[-1]) or ()) if skeleton.ending else ())


def facts(skeleton: Skeleton, tables: Tables) -> Iterator[str]:
    """The tables as facts of the program."""

    def kind(number: int) -> str:
        return Kind(number).name.lower()

    yield from (f"approach({kind(each)})." for each in APPROACHES)
    yield from (f"begin({kind(each)})." for each in BEGINS)
    for place, slot in enumerate(skeleton.body):
        yield f"place({place}). chord({place},{skeleton.chord(slot)})."
        for c in sorted(tables.choices[place]):
            yield f"choice({place},{c.role},{kind(c.kind)},{c.aim},{c.pitch})."
        if place:
            for m in sorted(tables.moves[place]):
                yield f"move({place},{m.before},{kind(m.kind)},{m.aim},{m.pitch})."
            for before, after in sorted(tables.follows(place)):
                yield f"follows({place},{before},{after})."
    for chord, least, most in skeleton.counted():
        yield f"counted({chord},{least},{min(most, len(skeleton.body))})."
    yield f"final({len(skeleton.body) - 1})."
    if skeleton.ending is not None:
        yield "stock."
        for last in skeleton.tones(skeleton.body[-1]):
            if skeleton.ending_pitches(last) is not None:
                yield f"lead({last})."


def build(allowance: Allowance) -> AspEngine:
    """The engine, held to an allowance."""
    return AspEngine(allowance)
