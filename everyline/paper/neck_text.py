"""The fretboard under a line as text, for a terminal: the number of each note on its string and fret."""

from __future__ import annotations

from everyline.paper.fingering import Hand, finger, fretboard_of
from everyline.rules.annotate import AnnotatedLine

LEAST_FRETS, LEAST_WIDTH = 4, 3


def neck_text(line: AnnotatedLine, left_handed: bool = False, hand: Hand | None = None) -> str:
    """The line's notes by their numbers on the strings, string 1 on top, with the frets below; mirrored for
    a left-handed player. Raises InputError where there are no frets."""
    board = fretboard_of(line.rules)
    fingering = finger(line, board, hand)
    there: dict[tuple[int, int], list[str]] = {}
    for number, place in enumerate(fingering.notes, 1):
        there.setdefault((place.string, place.fret), []).append(str(number))
    used = [fret for _, fret in there if fret]
    first = max(1, min(used, default=1))
    last = min(max(used, default=1), board.frets)
    last = min(max(last, first + LEAST_FRETS - 1), board.frets)
    frets = [*([0] if any(fret == 0 for _, fret in there) else []), *range(first, last + 1)]
    cells = {(s, f): "-".join(there.get((s, f), ())) for s in board.strings for f in frets}
    wide = {f: max(LEAST_WIDTH, *(len(cells[s, f]) for s in board.strings)) + 2 for f in frets}
    instrument = line.rules.instrument
    assert instrument is not None, "it has frets"
    names = [name.rstrip("-0123456789") for name in reversed(instrument.strings)]
    room = max(map(len, names))
    turned = frets[::-1] if left_handed else frets
    rows = [
        (names[string - 1], [cells[string, fret].center(wide[fret], "-") for fret in turned], "|")
        for string in board.strings
    ]
    rows.append(("", [str(fret).center(wide[fret]) for fret in turned], " "))
    said = [_row(name.ljust(room), made, bar, left_handed) for name, made, bar in rows]
    positions = ", ".join(f"{each}" for each in dict.fromkeys(fingering.positions))
    hands = f"position {positions}" if len(fingering.positions) < 2 else f"positions {positions}"
    return "\n".join([f"fretboard of the {board.name}" + (f", {hands}" if positions else ""), *said])


def _row(name: str, cells: list[str], bar: str, left_handed: bool) -> str:
    music = bar + bar.join(cells) + bar
    return (f"{music} {name}" if left_handed else f"{name} {music}").rstrip()
