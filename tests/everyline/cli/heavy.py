"""Packages that take long to import, and that a count or a short list must do without."""

HEAVY = (
    "ortools",
    "music21",
    "verovio",
    "typst",
    "numpy",
    "constraint",
    "mido",
    "starlette",
    "pyarrow",
    "icalendar",
)
