"""A lesson or a drill set as one HTML file for a student: it opens from disk, with no network."""
