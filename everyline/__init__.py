"""Every valid short jazz line over a progression, under a teacher's rules.

>>> from everyline import lines
>>> space = lines("Dm7 | G7 | Cmaj7", start="D4", endings=["plain"])
>>> space.count > 0
True
"""

from everyline.space import Space, lines, load, parse

__all__ = ["Space", "lines", "load", "parse"]
__version__ = "0.1.0"
