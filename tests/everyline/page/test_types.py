"""The types that the page's code states in its comments, checked by the TypeScript compiler."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.conftest import IN_CI
from tests.everyline.page.node import STATIC

TSC = os.environ.get("EVERYLINE_TSC") or shutil.which("tsc")


@pytest.mark.skipif(
    TSC is None and not IN_CI, reason="no tsc here: install node-typescript, or set EVERYLINE_TSC"
)
def test_the_types_hold() -> None:
    assert TSC is not None, "CI installs the system package node-typescript"
    project = STATIC.parent / "tsconfig.json"
    done = subprocess.run([TSC, "-p", str(project)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_every_module_of_the_page_is_checked() -> None:
    assert '"static/*.js"' in (STATIC.parent / "tsconfig.json").read_text()
    assert not [path.name for path in STATIC.glob("*.js") if "@ts-nocheck" in Path(path).read_text()]
