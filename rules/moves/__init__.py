"""The moves of a line: a file each, and the table that everything else loops over.

A move knows when it may begin, which pitches it plays from a chord tone, and what the rules remember
after it. Nothing else in the program states how a note may follow another.
"""
