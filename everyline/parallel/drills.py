"""Drill sets made by many processes: every exercise depends on its own place and line alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from everyline.drill.batches import Batch, Mapper, Work
from everyline.drill.sources import Source
from everyline.drill.spec import Spec
from everyline.parallel.cluster import Cluster, in_order, pack, unpacked


def on_cluster(cluster: Cluster) -> Mapper:
    """What works on batches on a cluster.

    A task carries the description, the rules of the sources that its batch is about, and the numbers.
    """

    def run(work: Work, spec: Spec, sources: Sequence[Source], batches: Iterable[Batch]) -> Iterator[Any]:
        packed = [pack(replace(source, rules=replace(source.rules))) for source in sources]
        tasks = ((worked, work, spec, _used(packed, batch), batch) for batch in batches)
        yield from in_order(cluster, tasks)

    return run


def _used(packed: Sequence[bytes], batch: Batch) -> dict[int, bytes]:
    return {number: packed[number] for number in sorted({source for source, _ in batch[1]})}


def worked(work: Work, spec: Spec, packed: dict[int, bytes], batch: Batch) -> Any:
    """The answer for a batch. A process compiles each source once, for as long as it keeps it."""
    return work(spec, {source: unpacked(each) for source, each in packed.items()}, batch)
