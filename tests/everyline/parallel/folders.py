"""What is in a folder."""

from __future__ import annotations

import hashlib
from pathlib import Path


def files(folder: Path) -> dict[str, str]:
    """Every file of a folder by name, as its SHA-256."""
    return {each.name: hashlib.sha256(each.read_bytes()).hexdigest() for each in folder.iterdir()}
