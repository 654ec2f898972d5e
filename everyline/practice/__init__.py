"""Practice: what a student was given, how it went, and what comes next."""
