"""Lines and rounds of our own invention for tests of practice; and the program that writes them until it is
killed: ``python -m tests.practice_made_up FILE FIRST``."""

from __future__ import annotations

import sys
from datetime import date, timedelta
from itertools import count
from pathlib import Path

from everyline.practice.copies import line_id, mark
from everyline.practice.records import GivenLine, Grade, Kind, Practised
from everyline.practice.store import Store

RULES = 'changes = "Dm7 | G7 | Cmaj7"\n'
DAY = date(2026, 11, 26)


def made_up_line(number: int, rules: str = RULES) -> GivenLine:
    """A line of that number: as notes the number itself, which is enough for what keeps lines."""
    notes = f"@1 C4:{number}"
    fingerprint = mark(rules) * 4
    return GivenLine(
        id=line_id(fingerprint, notes),
        place=0,
        title=f"Line {number}",
        tune=mark(notes),
        notes=notes,
        rules_name="made-up",
        rules_text=rules,
        fingerprint=fingerprint,
        number=10**30 + number,
        strangeness=number % 400,
        given=DAY + timedelta(days=number % 100),
        key="C",
        beats=12,
        instrument="guitar" if number % 2 else "",
        level=number % 5 + 1 if number % 3 else None,
        altered=number % 7 == 0,
    )


def made_up_round(number: int, line: GivenLine) -> Practised:
    """A round on a line, different for each number."""
    return Practised(
        id=mark(f"round {number}"),
        line=line.id,
        on=line.given + timedelta(days=number % 9),
        key=("C", "F", "Bb")[number % 3],
        kind=tuple(Kind)[number % 5],
        tempo=60 + number % 100 if number % 4 else None,
        grade=tuple(Grade)[number % 3],
    )


def write_until_killed(path: Path, first: int) -> None:
    """Give lines one after another and record a round on each; each line of output is something that counts
    from then on."""
    with Store(path) as store:
        for number in count(first):
            line = made_up_line(number)
            store.give("Ada", [line])
            print("line", line.id, flush=True)
            practised = made_up_round(number, line)
            store.record("Ada", practised)
            print("round", practised.id, flush=True)


if __name__ == "__main__":
    write_until_killed(Path(sys.argv[1]), int(sys.argv[2]))
