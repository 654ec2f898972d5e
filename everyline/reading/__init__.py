"""Lines from outside: typed text, MusicXML and MIDI files."""

from everyline.reading.fitted import ReadLine, read_line

__all__ = ["ReadLine", "read_line"]
