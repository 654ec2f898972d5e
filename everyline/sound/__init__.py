"""Sound: the swing map, the performance of lines with their accompaniment, MIDI files and audio."""
