"""How far long work has come, as those who do it tell it."""

from collections.abc import Callable

Progress = Callable[[int, int], None]
"""Called with how much is done, and how much there is in all: lines, exercises, days."""
