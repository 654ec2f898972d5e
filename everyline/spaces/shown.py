"""A line as Python and notebooks show it: as text for the music stand, or engraved."""

from __future__ import annotations

from everyline.rules.annotate import AnnotatedLine
from everyline.text.drawing import draw


class Line(AnnotatedLine):
    """A line of a space. ``str`` gives the text for the music stand; a notebook shows it engraved."""

    def __str__(self) -> str:
        """Bars, beats counted aloud, chords above, notes, roles and degrees below."""
        return draw(self)

    def _repr_svg_(self) -> str:
        """The line as a picture, for notebooks."""
        from everyline.paper.picture import svg

        return svg([self])


def as_line(line: AnnotatedLine) -> Line:
    """The same line, able to show itself."""
    return Line(line.rules, line.notes, line.figures, line.ending, line.number, line.taste)
