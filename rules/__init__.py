"""What a valid line is: pitch, chords, scales, time, and each rule a line must obey."""
