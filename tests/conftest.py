"""Settings for the whole suite: hypothesis profiles and the browser."""

import os
import shutil
import signal

import pytest
from hypothesis import HealthCheck, settings

from tests.sweeps import sweep

IN_CI = os.environ.get("CI", "") not in ("", "0", "false")

# What is ignored here is ignored by every program under test: one that is to end when its window closes would
# go on for ever in a suite that was started to outlive its own.
if hasattr(signal, "SIGHUP"):
    signal.signal(signal.SIGHUP, signal.SIG_DFL)

# No deadline: two shared cores make single timings meaningless. In CI the same examples every time.
settings.register_profile("local", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile(
    "ci",
    parent=settings.get_profile("local"),
    derandomize=True,
    print_blob=True,
    max_examples=sweep(small=40, full=100),
)
settings.load_profile("ci" if IN_CI else "local")


def find_chromium() -> str | None:
    """Path of the Chromium to drive: `EVERYLINE_CHROMIUM`, else the one on the search path, else None."""
    return (
        os.environ.get("EVERYLINE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    )


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.get_closest_marker("browser") is None or find_chromium() is not None:
        return
    reason = "no Chromium found: install the system package `chromium`, or set EVERYLINE_CHROMIUM to its path"
    if IN_CI:
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """Path of the Chromium that tests marked `browser` drive."""
    path = find_chromium()
    assert path is not None, "mark the test `browser`, so that it is skipped where there is no Chromium"
    return path


@pytest.fixture(scope="session")
def chromium_args() -> list[str]:
    """Flags for a browser that runs as any user, draws in software and calls nobody."""
    return [
        "--no-sandbox",
        "--disable-gpu",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--no-first-run",
    ]
