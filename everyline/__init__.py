"""Every valid short jazz line over a progression, under a teacher's rules.

>>> from everyline import lines
>>> space = lines("Dm7 | G7 | Cmaj7", start="D4", endings=["plain"])
>>> space.count > 0
True
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from everyline.spaces.choruses import Chorus, load_plan, parse_plan
    from everyline.spaces.space import Space, lines, load, parse

__all__ = ["Chorus", "Space", "lines", "load", "load_plan", "parse", "parse_plan"]
_OF_CHORUSES = ("Chorus", "load_plan", "parse_plan")
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    """The names above, loaded when one of them is asked for, so that a command starts at once."""
    if name in _OF_CHORUSES:
        from everyline.spaces import choruses

        return getattr(choruses, name)
    if name in __all__:
        from everyline.spaces import space

        return getattr(space, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
