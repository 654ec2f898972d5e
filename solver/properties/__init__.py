"""Properties of lines: what lines are counted, told apart and described by, a row for each in ``table``."""
