"""Many counts in one whole number: a lane of bits for each, added all at once."""

from __future__ import annotations

from typing import Any

from everyline.solver.fold import Fold


class Packs:
    """Packs of ``lanes`` counts, none of which ever exceeds ``most``.

    A pack is an int; lane ``n`` is its bits ``n * width`` to ``(n + 1) * width - 1``. Adding packs adds the
    lanes one by one, as long as no sum exceeds ``most``.
    """

    def __init__(self, lanes: int, most: int) -> None:
        self.lanes = lanes
        self.width = max(1, most.bit_length())
        self._lane = (1 << self.width) - 1
        self._spread: dict[int, int] = {}
        self.ones = self._every(1)

    def _every(self, value: int) -> int:
        """The same value in all lanes."""
        found, lanes = 0, 0
        for digit in bin(self.lanes)[2:]:  # doubling, so that a thousand lanes take ten steps
            found |= found << (lanes * self.width)
            lanes *= 2
            if digit == "1":
                found = found << self.width | value
                lanes += 1
        return found

    def spread(self, bits: int) -> int:
        """A mask that keeps the lanes whose bits are set."""
        known = self._spread.get(bits)
        if known is None:
            known, left = 0, bits & ((1 << self.lanes) - 1)
            while left:
                low = left & -left
                known |= self._lane << ((low.bit_length() - 1) * self.width)
                left ^= low
            self._spread[bits] = known
        return known

    def kept(self, fold: Fold[Any, int]) -> int:
        """The lines in each lane where every note keeps only the lanes of its mask, the fold's value."""
        ones, arcs, ends = self.ones, fold.arcs, fold.ends

        def gather(place: int, found: list[int]) -> int:
            return (ones if ends[place] else 0) + sum([found[below] & mask for _, mask, below in arcs[place]])

        return fold.backward(gather, forget=True)[fold.root]

    def unpack(self, pack: int) -> list[int]:
        """The counts, lane by lane."""
        return [pack >> (lane * self.width) & self._lane for lane in range(self.lanes)]
