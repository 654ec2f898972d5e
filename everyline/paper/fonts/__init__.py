"""The fonts of the printed page, and the script that made them."""

from pathlib import Path

FOLDER = Path(__file__).resolve().parent
FAMILY = "Everyline Text"
STYLES = ("Regular", "Bold", "Italic")


def font_path(style: str) -> Path:
    """The file of a style out of STYLES."""
    return FOLDER / f"EverylineText-{style}.ttf"
