"""Sets of lines as Python holds them: counted, numbered, sliced, built note by note, checked."""
