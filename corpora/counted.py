"""How many of something, and which of some, in words: the one place where a sentence gets its plural."""

from __future__ import annotations

from collections.abc import Iterable


def plural(number: float, word: str, many: str | None = None) -> str:
    """``1 note``, ``2 notes``, ``0.5 beats``; ``many`` is the plural where it is not the word with an s."""
    shown = (
        str(number) if isinstance(number, int) else f"{number:.3g}" if abs(number) < 100 else f"{number:g}"
    )
    return f"{shown} {form(number, word, many)}"


def form(number: float, word: str, many: str | None = None) -> str:
    """The word alone: ``note`` for 1, ``notes`` for any other number."""
    return word if number == 1 else many or f"{word}s"


def only(number: int, word: str, many: str | None = None) -> str:
    """``there is only 1 line``, ``there are only 2 lines``."""
    return f"there {'is' if number == 1 else 'are'} only {plural(number, word, many)}"


def choice(words: Iterable[str]) -> str:
    """``A4``, ``A4 or C5``, ``A4, C5 or E5``; ``nothing`` where there is no choice."""
    found = list(words)
    if len(found) < 2:
        return found[0] if found else "nothing"
    return f"{', '.join(found[:-1])} or {found[-1]}"
