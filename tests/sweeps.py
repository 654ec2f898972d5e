"""How far the big sweeps go: the whole range by default, a sample where `EVERYLINE_SWEEP=small`."""

import os
from typing import Literal

SweepSize = Literal["small", "full"]


def sweep_size() -> SweepSize:
    """The size asked for by `EVERYLINE_SWEEP`, "full" where it is not set.

    Raises ValueError on any other value, so that a slip of the pen does not quietly shrink a sweep.
    """
    value = os.environ.get("EVERYLINE_SWEEP", "full")
    if value == "small":
        return "small"
    if value == "full":
        return "full"
    raise ValueError(
        f'EVERYLINE_SWEEP is "{value}": it must be "small" or "full"; leave it unset for "full".'
    )


def sweep(small: int, full: int) -> int:
    """`full` cases on a developer's machine, `small` ones where the small sweep is asked for."""
    return small if sweep_size() == "small" else full
