"""Where the program keeps what it needs between runs."""

from __future__ import annotations

import os
from pathlib import Path

DATA_FOLDER = "XDG_DATA_HOME"
"""Environment variable that names the folder for what programs keep between runs."""


def data_folder() -> Path:
    """Our own folder in it: ``~/.local/share/everyline`` unless the variable is set. It need not exist."""
    folder = os.environ.get(DATA_FOLDER) or Path.home() / ".local" / "share"
    return Path(folder) / "everyline"
